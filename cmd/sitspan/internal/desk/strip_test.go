package desk

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/worker"
)

// placed is a JPEG with a comment and a place beside its picture.
func placedPhoto(plain string) string {
	segment := func(marker byte, body string) string {
		return string([]byte{0xff, marker, byte((len(body) + 2) >> 8), byte(len(body) + 2)}) + body
	}
	return plain[:2] + segment(0xfe, "COMMENT of OWNERNAME") +
		segment(0xe1, "http://ns.adobe.com/xap/1.0/\x00<exif:GPSLatitude>GPSPLACE</exif:GPSLatitude>") + plain[2:]
}

// holdsNoPlace looks for a place and an owner in all that lies in the data folder.
func (b *bench) holdsNoPlace() {
	b.t.Helper()
	everything, err := json.Marshal(b.content(b.t))
	require.NoError(b.t, err)
	for _, secret := range []string{"OWNERNAME", "GPSPLACE", "COMMENT"} {
		assert.NotContains(b.t, string(everything), secret)
	}
}

// keptOfShot is a shot's file.
func (b *bench) keptOfShot(id int64) (shot store.Shot, content string) {
	b.t.Helper()
	shot, err := b.store.Shot(b.t.Context(), id)
	require.NoError(b.t, err)
	data, err := os.ReadFile(b.store.PhotoPath(shot))
	require.NoError(b.t, err)
	return shot, string(data)
}

// A file that gave no picture keeps no place and no owner either: its pixels' data stay where the format has
// parts, else its name, size and hash.
func TestAnUnreadablePhotoHoldsNoPlace(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	whole := placedPhoto(readPhoto(t, "foam-window.jpg"))
	scan := strings.Index(whole, "\xff\xda")
	require.Positive(t, scan)
	damaged := whole[:scan+14] + strings.Repeat("\xff\xc4", 40) + "GPSPLACE"
	heic := "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00GPSPLACE of OWNERNAME"
	b.upload(1, [2]string{"a.jpg", damaged}, [2]string{"b.heic", heic})
	s := b.settled(1)
	require.Len(t, s.Tiles, 2)
	for _, tile := range s.Tiles {
		require.Equal(t, "failed", tile.State)
	}
	b.holdsNoPlace()
	shot, content := b.keptOfShot(1)
	assert.Equal(t, ".jpg", shot.Extension)
	assert.Contains(t, content, whole[scan:scan+14])
	shot, content = b.keptOfShot(2)
	assert.Equal(t, store.NoPicture, shot.Extension)
	assert.Equal(t, fmt.Sprintf("name b.heic\nbytes %d\nsha256 %s\n", len(heic), shot.Original), content)
	_, text := b.get(fmt.Sprintf("/visits/1/imprint?record=%d", s.Tiles[1].Record))
	assert.Contains(t, text, "only its name, its size and a checksum are kept")
	b.form("/visits/1/anew", nil)
	b.settled(1)
	again, _ := b.keptOfShot(2)
	assert.Equal(t, shot, again, "measuring anew finds nothing more")
}

// A photo whose child ended keeps no place either, and is measured when the next child does not end.
func TestAPhotoWhoseChildEndedHoldsNoPlace(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	b := open(t, options{dir: dir, mood: "dies"})
	b.visit("Robin")
	b.upload(1, [2]string{"a.jpg", placedPhoto(readPhoto(t, "foam-window.jpg"))})
	b.settled(1)
	b.holdsNoPlace()
	b.shut()
	b = open(t, options{dir: dir})
	b.form("/visits/1/anew", nil)
	s := b.settled(1)
	assert.Equal(t, "measured", s.Tiles[0].State)
}

// The photos of a check with a known distance are kept without their place and owner, and count once.
func TestAChecksPhotosHoldNoPlace(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	path := filepath.Join(t.TempDir(), "ball.jpg")
	require.NoError(t, os.WriteFile(path, []byte(placedPhoto(string(greyJPEG(t, 1200, 900)))), 0o600))
	status, out := b.sendCheck(map[string]string{"distance": "120"}, path)
	require.Equal(t, 200, status, "%v", out)
	list, err := b.store.Checks(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Len(t, list[0].Photos, 1)
	b.holdsNoPlace()
	status, out = b.sendCheck(map[string]string{"distance": "121"}, path)
	assert.Equal(t, 409, status)
	assert.Contains(t, out["error"], "in check 1 already")
	kept := store.PhotoIn(b.store.Dir(), list[0].Photos[0])
	status, _ = b.sendCheck(map[string]string{"distance": "121"}, kept)
	assert.Equal(t, 409, status, "nor the file that is kept")
}

// Copies of one picture that differ in their place alone become the same file, be it stripped or with a
// card's face covered. Measured side by side, each is kept all the same.
func TestCopiesOfAPhotoAreKeptSideBySide(t *testing.T) {
	t.Parallel()
	for name, answer := range map[string]worker.Answer{
		"stripped": {Bare: []byte(pictureAlone), Extension: ".jpg"},
		"covered":  {Covered: []byte(pictureAlone)},
	} {
		t.Run(name, func(t *testing.T) { copiesAreKept(t, answer) })
	}
}

const pictureAlone = "\xff\xd8\xff the picture alone"

func copiesAreKept(t *testing.T, answer worker.Answer) {
	b := open(t, options{})
	b.visit("Robin")
	const copies = 6
	var shots []store.Shot
	for i := range copies {
		given := strings.NewReader(fmt.Sprintf("%s at GPSPLACE %d", pictureAlone, i))
		shot, err := b.store.AddPhoto(t.Context(), 1, fmt.Sprintf("%d.jpg", i), "", ".jpg", given, 1<<20)
		require.NoError(t, err)
		shots = append(shots, shot)
	}
	failed := make([]error, copies)
	var group sync.WaitGroup
	for i, shot := range shots {
		group.Go(func() {
			failed[i] = errors.Join(b.cover(t.Context(), shot.ID, answer), b.strip(t.Context(), shot, answer))
		})
	}
	group.Wait()
	require.NoError(t, errors.Join(failed...))
	seen := map[string]bool{}
	for _, shot := range shots {
		now, content := b.keptOfShot(shot.ID)
		assert.True(t, strings.HasPrefix(content, pictureAlone))
		assert.Equal(t, len(answer.Covered) > 0, now.Covered)
		assert.False(t, seen[now.SHA256], "each is a file of its own")
		seen[now.SHA256] = true
	}
	b.holdsNoPlace()
}
