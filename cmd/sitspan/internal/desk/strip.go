package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"slices"

	"sitspan/cmd/sitspan/internal/bare"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/worker"
)

// cover puts the covered file in the photo's place, and takes away what was
// drawn from it before.
func (d *Desk) cover(ctx context.Context, shotID int64, answer worker.Answer) error {
	if len(answer.Covered) == 0 {
		return nil
	}
	if err := d.replace(ctx, shotID, ".jpg", answer.Covered, true); err != nil {
		return err
	}
	plain := map[string][]byte{}
	for _, kind := range []string{store.View, store.Thumb} {
		if jpeg, drawn := answer.Pictures[kind]; drawn {
			plain[kind] = jpeg
		}
	}
	return d.store.Uncover(ctx, shotID, plain)
}

// strip puts the file without its place and owner in the photo's place.
func (d *Desk) strip(ctx context.Context, shot store.Shot, answer worker.Answer) error {
	content, extension := answer.Bare, answer.Extension
	if len(content) == 0 && len(answer.Covered) == 0 {
		var err error
		if content, extension, err = d.unread(ctx, shot); err != nil {
			return err
		}
	}
	if len(content) == 0 {
		return nil
	}
	return d.replace(ctx, shot.ID, extension, content, false)
}

// replace puts another file in a photo's place. Where the visit has just that file already, bytes behind the
// picture's end tell the two apart: copies that differ in their place alone become alike, also side by side.
func (d *Desk) replace(
	ctx context.Context,
	shotID int64,
	extension string,
	content []byte,
	covered bool,
) error {
	d.replacing.Lock()
	defer d.replacing.Unlock()
	shot, err := d.store.Shot(ctx, shotID)
	if err != nil {
		return err
	}
	shots, err := d.store.Shots(ctx, shot.VisitID)
	if err != nil {
		return err
	}
	for twice := true; twice; {
		hash := sha256.Sum256(content)
		sum := hex.EncodeToString(hash[:])
		if sum == shot.SHA256 && !covered {
			return nil
		}
		twice = slices.ContainsFunc(shots, func(s store.Shot) bool { return s.SHA256 == sum || s.Original == sum })
		if twice {
			content = append(slices.Clone(content), 0)
		}
	}
	return d.store.ReplacePhoto(ctx, shotID, extension, content, covered)
}

// unread is what is kept of a photo that could not be measured: the picture without its place and owner,
// where a child can read it after all; the parts that hold pixels, where the file has parts; else its name,
// size and hash. None where that was done before.
func (d *Desk) unread(ctx context.Context, shot store.Shot) (content []byte, extension string, err error) {
	if shot.Extension == store.NoPicture || shot.SHA256 != shot.Original {
		return nil, "", nil
	}
	if content, extension, err = d.plain(ctx, shot); len(content) > 0 || errors.Is(err, context.Canceled) {
		return content, extension, err
	}
	data, err := os.ReadFile(d.store.PhotoPath(shot))
	if err != nil {
		return nil, "", err
	}
	if content, extension, ok := bare.Unread(data); ok {
		return content, extension, nil
	}
	note := fmt.Sprintf("name %s\nbytes %d\nsha256 %s\n", shot.Name, shot.Bytes, shot.SHA256)
	return []byte(note), store.NoPicture, nil
}
