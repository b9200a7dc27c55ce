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
	if err := d.store.ReplacePhoto(ctx, shotID, ".jpg", answer.Covered, true); err != nil {
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

// strip puts the file without its place and owner in the photo's place. Where the visit has just that file
// already, a byte behind the picture's end tells the two apart.
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
	d.stripping.Lock() // two copies of one picture, measured side by side, would choose alike
	defer d.stripping.Unlock()
	shots, err := d.store.Shots(ctx, shot.VisitID)
	if err != nil {
		return err
	}
	for twice := true; twice; {
		hash := sha256.Sum256(content)
		sum := hex.EncodeToString(hash[:])
		if sum == shot.SHA256 {
			return nil
		}
		twice = slices.ContainsFunc(shots, func(s store.Shot) bool { return s.SHA256 == sum || s.Original == sum })
		if twice {
			content = append(content, 0)
		}
	}
	return d.store.ReplacePhoto(ctx, shot.ID, extension, content, false)
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
