package desk

import (
	"archive/zip"
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"io"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/bare"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/imprint/photo"
)

// besideTruth is what is known of a photo with a card.
type besideTruth struct {
	Name    string
	Spacing float64       `json:"spacing_mm"`
	Left    [2]float64    `json:"left_px"`
	Right   [2]float64    `json:"right_px"`
	Corners [4][2]float64 `json:"reference_px"` // px of the upright picture
}

func truthOf(t *testing.T, name string) (one besideTruth) {
	t.Helper()
	f, err := os.Open(filepath.Join(photoDir, "truth.jsonl"))
	require.NoError(t, err)
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		one = besideTruth{}
		require.NoError(t, json.Unmarshal(lines.Bytes(), &one))
		if one.Name == name {
			return one
		}
	}
	require.Fail(t, "no such photo", name)
	return one
}

// withBars lays black and white blocks along a card's edges, so that no edge is
// found by itself; its face stays.
func withBars(t *testing.T, original string, q [4][2]float64) []byte {
	t.Helper()
	from := picture(t, []byte(original))
	to := image.NewRGBA(from.Bounds())
	draw.Draw(to, to.Bounds(), from, from.Bounds().Min, draw.Src)
	for i, a := range q {
		b := q[(i+1)%4]
		const blocks = 24
		for k := range blocks {
			f := float64(k) / blocks
			x, y := int(a[0]+f*(b[0]-a[0])), int(a[1]+f*(b[1]-a[1]))
			level := color.Gray{uint8(255 * (k % 2))}
			draw.Draw(to, image.Rect(x-9-8*(k%3), y-9-8*(k%3), x+9, y+9), image.NewUniform(level), image.Point{},
				draw.Src)
		}
	}
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, to, &jpeg.Options{Quality: 92}))
	return out.Bytes()
}

// unrest is the mean step in level between neighbours on a card's face, inner
// 80 %: what is written there makes steps, a painted face has next to none. w
// and h are the size of the picture that the corners are of.
func unrest(t *testing.T, img image.Image, q [4][2]float64, w, h int) float64 {
	t.Helper()
	b := img.Bounds()
	sx, sy := float64(b.Dx())/float64(w), float64(b.Dy())/float64(h)
	at := func(u, v float64) float64 {
		x := (1-u)*(1-v)*q[0][0] + u*(1-v)*q[1][0] + u*v*q[2][0] + (1-u)*v*q[3][0]
		y := (1-u)*(1-v)*q[0][1] + u*(1-v)*q[1][1] + u*v*q[2][1] + (1-u)*v*q[3][1]
		return float64(color.GrayModel.Convert(img.At(b.Min.X+int(x*sx), b.Min.Y+int(y*sy))).(color.Gray).Y)
	}
	sum, n := 0.0, 0
	const steps = 120
	for i := range steps {
		for j := range steps {
			u, v := 0.1+0.8*float64(i)/steps, 0.1+0.8*float64(j)/steps
			sum += math.Abs(at(u, v)-at(u+0.8/steps, v)) + math.Abs(at(u, v)-at(u, v+0.8/steps))
			n += 2
		}
	}
	return sum / float64(n)
}

func picture(t *testing.T, content []byte) image.Image {
	t.Helper()
	p, err := photo.Decode(content, "x", photo.Limits{})
	require.NoError(t, err)
	return p.Colour(max(p.Width, p.Height))
}

// What a face shows at most after it was painted over: the rounding of a JPEG.
// The bundled card shows ten times as much.
const painted = 0.5

// TestTheFaceOfACardIsNowhere follows a photo with a card through the desk:
// upload, stored file, page's pictures, sheet, export.
func TestTheFaceOfACardIsNowhere(t *testing.T) {
	t.Parallel()
	const name = "card-1.jpg"
	truth, original := truthOf(t, name), readPhoto(t, name)
	q := truth.Corners
	img := picture(t, []byte(original))
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	require.Greater(t, unrest(t, img, q, w, h), 2*painted, "the photo does show something")
	b := open(t, options{})
	b.visit("Robin")
	r, out := b.upload(1, [2]string{name, original})
	require.Equal(t, 200, r.StatusCode, "%v", out)
	s := b.settled(1)
	k, err := b.store.Record(t.Context(), s.Current)
	require.NoError(t, err)
	require.Equal(t, "card", k.Record.Measurement.ScaleSource)
	b.nowhere(t, q, w, h)

	t.Log("sent again, it does not come back")
	b.upload(1, [2]string{"again.jpg", original})
	require.Len(t, b.settled(1).Tiles, 1)
	b.nowhere(t, q, w, h)

	t.Log("measured anew, the file stays as it is, and so do sheets")
	b.form("/visits/1/sheet", url.Values{"language": {"de"}, "paper": {"a4"}})
	before := b.onlyFile(t)
	b.setUp(1, url.Values{"pad": {"paper"}})
	b.settled(1)
	assert.Equal(t, before, b.onlyFile(t))
	b.form("/visits/1/sheet", url.Values{"language": {"en"}, "paper": {"a4"}})
	sheets, err := b.store.Sheets(t.Context(), 1)
	require.NoError(t, err)
	require.Len(t, sheets, 2)
	b.nowhere(t, q, w, h)
	for _, sheet := range sheets {
		kept, err := b.store.SheetPDF(t.Context(), sheet.ID) // the first is void, and still kept
		require.NoError(t, err)
		pdf := string(kept)
		at := strings.Index(pdf, "\xff\xd8\xff")
		require.Positive(t, at, "the sheet has the photo")
		img, err := jpeg.Decode(strings.NewReader(pdf[at:]))
		require.NoError(t, err)
		assert.InDelta(t, float64(w)/float64(h), float64(img.Bounds().Dx())/float64(img.Bounds().Dy()), 0.01,
			"all of the photo, nothing else")
		assert.Less(t, unrest(t, img, q, w, h), 2*painted, "the sheet")
	}
}

// onlyFile is the name of the only photo in the data folder.
func (b *bench) onlyFile(t *testing.T) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(b.store.Dir(), "photos", "*"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	incoming, err := filepath.Glob(filepath.Join(b.store.Dir(), "incoming", "*"))
	require.NoError(t, err)
	require.Empty(t, incoming)
	return files[0]
}

// nowhere looks at every picture that the desk keeps, shows or hands out of its
// only photo.
func (b *bench) nowhere(t *testing.T, q [4][2]float64, w, h int) {
	t.Helper()
	content, err := os.ReadFile(b.onlyFile(t))
	require.NoError(t, err)
	assert.Less(t, unrest(t, picture(t, content), q, w, h), painted, "the stored photo")
	assert.NotEqual(t, 0, bytes.Count(content, []byte("Exif")), "focal length and orientation stay")
	records, err := b.store.Records(t.Context(), 1)
	require.NoError(t, err)
	for _, k := range records {
		for _, kind := range []string{store.View, store.Thumb} {
			_, body := b.get(fmt.Sprintf("/records/%d/%s.jpg", k.ID, kind))
			img, err := jpeg.Decode(strings.NewReader(body))
			require.NoError(t, err)
			assert.Less(t, unrest(t, img, q, w, h), 2*painted, "%s: smaller, so rounded more", kind)
		}
		for _, kind := range []string{store.Overlay, store.OverlayIn("de"), store.OverlayIn("fr")} {
			data, err := b.store.Picture(t.Context(), k.ID, kind)
			if errors.Is(err, store.ErrNotFound) && k.ID != records[len(records)-1].ID {
				continue // taken away, since it showed the face
			}
			require.NoError(t, err)
			img, err := jpeg.Decode(bytes.NewReader(data))
			require.NoError(t, err)
			// The strip below the photo makes the picture higher, not wider.
			part := img.(interface {
				SubImage(image.Rectangle) image.Image
			}).SubImage(image.Rect(0, 0, img.Bounds().Dx(), img.Bounds().Dx()*h/w))
			assert.Less(t, unrest(t, part, q, w, h), 2*painted, kind)
		}
	}
	r, body := b.get("/riders/1/export.zip")
	require.Equal(t, 200, r.StatusCode)
	archive, err := zip.NewReader(strings.NewReader(body), int64(len(body)))
	require.NoError(t, err)
	found := 0
	for _, f := range archive.File {
		if !strings.HasSuffix(f.Name, ".jpg") {
			continue
		}
		in, err := f.Open()
		require.NoError(t, err)
		content, err := io.ReadAll(in)
		require.NoError(t, err)
		assert.Less(t, unrest(t, picture(t, content), q, w, h), painted, "the export")
		found++
	}
	assert.Equal(t, 1, found)
}

// TestCardSetByHandIsCovered takes a photo whose card is not found by itself
// (blocks lie along its edges), sets its corners, and looks again.
func TestCardSetByHandIsCovered(t *testing.T) {
	t.Parallel()
	const name = "card-1.jpg"
	truth, original := truthOf(t, name), readPhoto(t, name)
	q := truth.Corners
	hidden := withBars(t, original, q)
	img := picture(t, hidden)
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	b := open(t, options{})
	b.visit("Robin")
	b.upload(1, [2]string{name, string(hidden)})
	s := b.settled(1)
	require.NotEqual(t, record.Measured, s.Tiles[0].State, "no card is found: %v", s.Tiles[0].Reasons)
	k, err := b.store.Record(t.Context(), s.Tiles[0].Record)
	require.NoError(t, err)
	require.NotEqual(t, "card", k.Record.Measurement.ScaleSource)
	hand := handScale{moved: moved{Left: truth.Left, Right: truth.Right, Reviewer: "Kim", U: 1},
		Points: [][2]float64{q[2], q[0], q[1], q[3]}, Medium: "paper", Source: "card"}
	wrong := hand
	wrong.Points = [][2]float64{{100, 100}, {900, 100}, {900, 200}, {100, 200}}
	r, out := b.script("/shots/1/by-hand", wrong)
	assert.Equal(t, 422, r.StatusCode)
	assert.Contains(t, out["error"], "a card has 1.6 to 1")
	r, out = b.script("/shots/1/by-hand", hand)
	require.Equal(t, 200, r.StatusCode, "%v", out)
	k, err = b.store.Record(t.Context(), b.settled(1).Current)
	require.NoError(t, err)
	m, reviewer := k.Record.Current()
	assert.Equal(t, "Kim", reviewer)
	assert.InDelta(t, truth.Spacing, *m.Spacing, *m.U, "within what it claims")
	b.nowhere(t, q, w, h)
}

// TestACardBesideTheFrameIsCovered: the frame gives the scale, and the card's face is nowhere all the same.
func TestACardBesideTheFrameIsCovered(t *testing.T) {
	t.Parallel()
	const name = "card-1.jpg"
	truth := truthOf(t, name)
	beside := imaging.Clone(picture(t, []byte(readPhoto(t, name))))
	frame := imaging.Resize(picture(t, []byte(readPhoto(t, "foam-window.jpg"))), 1040, 0, imaging.Lanczos)
	// The card lies to the left of it, and below the drawing's labels, which are widest in French.
	both := imaging.Paste(beside, frame, image.Pt(540, 10))
	w, h := both.Bounds().Dx(), both.Bounds().Dy()
	require.Greater(t, unrest(t, both, truth.Corners, w, h), 2*painted, "the photo does show something")
	from, err := photo.Decode([]byte(readPhoto(t, name)), "x", photo.Limits{})
	require.NoError(t, err)
	content, err := bare.Painted(from, both) // with the card photo's focal length
	require.NoError(t, err)
	b := open(t, options{})
	b.visit("Robin")
	b.upload(1, [2]string{name, string(content)})
	k, err := b.store.Record(t.Context(), b.settled(1).Current)
	require.NoError(t, err)
	require.Equal(t, "frame", k.Record.Measurement.ScaleSource)
	b.nowhere(t, truth.Corners, w, h)
}
