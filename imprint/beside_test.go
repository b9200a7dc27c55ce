package imprint

import (
	"bufio"
	"context"
	"encoding/json"
	"image"
	"image/color"
	"image/draw"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/scale"
)

// besideTruth is a line of truth.jsonl of a photo with a card or a rule: invented scenes drawn in
// perspective.
type besideTruth struct {
	Name, Kind string
	Spacing    float64       `json:"spacing_mm"`
	LeftPx     [2]float64    `json:"left_px"`
	RightPx    [2]float64    `json:"right_px"`
	Corners    [4][2]float64 `json:"reference_px"`
	Height     float64       `json:"height_mm"`
	ZeroPx     [2]float64    `json:"zero_px"`
	EndPx      [2]float64    `json:"end_px"`
	ScaleMM    float64       `json:"scale_mm"`
}

func besideTruths(t *testing.T) (all []besideTruth) {
	t.Helper()
	f, err := os.Open(filepath.Join(photos, "truth.jsonl"))
	require.NoError(t, err)
	defer f.Close()
	for s := bufio.NewScanner(f); s.Scan(); {
		var one besideTruth
		require.NoError(t, json.Unmarshal(s.Bytes(), &one))
		if one.Kind == "card" || one.Kind == "rule" {
			all = append(all, one)
		}
	}
	require.Len(t, all, 4)
	return all
}

func pixel(p [2]float64) homography.Pixel { return homography.Pixel{X: p[0], Y: p[1]} }

// The tolerance is the claimed expanded uncertainty of the result under test.
func TestCardAndRuleGiveTheScale(t *testing.T) {
	m := meter(t)
	for _, one := range besideTruths(t) {
		got, err := m.Measure(context.Background(), read(t, one.Name), Settings{})
		require.NoError(t, err)
		require.NotNil(t, got.Spacing, "%s: %v", one.Name, got.Reasons)
		assert.Equal(t, scale.Source(one.Kind), got.ScaleSource, one.Name)
		assert.Equal(t, calibration.Paper, got.Medium, one.Name)
		u, _ := got.Expanded()
		assert.InDelta(t, one.Spacing, got.Spacing.Value, u, one.Name)
		if u > judge.WidestBeside.Value {
			assert.Equal(t, Review, got.Status, one.Name)
		}
		require.NoError(t, got.Spacing.Budget.Components().Check())
		sources := map[string]float64{}
		for _, c := range got.Spacing.Budget {
			sources[c.Source] = c.Contribution()
			assert.False(t, c.From.None(), c.Source)
		}
		for _, name := range map[string][]string{"card": {"card_size", "card_edges"},
			"rule": {"rule_graduation"}}[one.Kind] {
			assert.Positive(t, sources[name], name)
		}
		assert.Positive(t, sources["reference_thickness"])
		require.NotNil(t, got.Reference)
		if read(t, one.Name).Focal35 > 0 {
			assert.InDelta(
				t,
				one.Height,
				got.Reference.Camera.Height,
				2*got.Reference.Camera.UHeight(),
				one.Name,
			)
		}
		l, r := pixel(one.LeftPx), pixel(one.RightPx)
		a, err := got.Reference.PlaneFromImage(l)
		require.NoError(t, err)
		b, err := got.Reference.PlaneFromImage(r)
		require.NoError(t, err)
		var scaleU float64
		for _, c := range got.Reference.Lines(l, r, 0, 1) {
			scaleU = math.Hypot(scaleU, c.Contribution())
		}
		assert.InDelta(t, one.Spacing, a.Distance(b), 2.5*scaleU, "%s: the scale alone", one.Name)
		assert.InDelta(t, 0, got.Reference.ImageFromPlane(a).Distance(l), 1e-3)
	}
}

// A card's face lies under the mask, to the last corner; a rule has nothing to hide.
func TestTheFaceOfACardIsMasked(t *testing.T) {
	m := meter(t)
	for _, one := range besideTruths(t) {
		got, err := m.Measure(context.Background(), read(t, one.Name), Settings{})
		require.NoError(t, err)
		if one.Kind == "rule" {
			assert.Empty(t, got.Masked)
			continue
		}
		require.Len(t, got.Masked, 1)
		for _, c := range one.Corners {
			for i, a := range got.Masked[0] {
				b := got.Masked[0][(i+1)%4]
				assert.Positive(t, (b.X-a.X)*(c[1]-a.Y)-(b.Y-a.Y)*(c[0]-a.X), "%s: corner %v", one.Name, c)
			}
		}
	}
}

// TestAPaintedCardStillGivesTheScale: where the face was painted over, and with it the edges, what was
// found before gives the same distance; without it there is none, or a wrong one.
func TestAPaintedCardStillGivesTheScale(t *testing.T) {
	m := meter(t)
	for _, one := range besideTruths(t) {
		if one.Kind != "card" {
			continue
		}
		before, err := m.Measure(context.Background(), read(t, one.Name), Settings{})
		require.NoError(t, err)
		require.NotNil(t, before.Spacing, one.Name)
		kept, ok := before.Reference.Card()
		require.True(t, ok)
		painted := imaging.Clone(read(t, one.Name).Colour(4000))
		vector := image.NewAlpha(painted.Bounds())
		for y := range painted.Bounds().Dy() {
			for x := range painted.Bounds().Dx() {
				if inside(before.Masked[0], homography.Pixel{X: float64(x), Y: float64(y)}) {
					vector.SetAlpha(x, y, color.Alpha{255})
				}
			}
		}
		draw.DrawMask(painted, painted.Bounds(), image.NewUniform(color.Gray{120}), image.Point{}, vector,
			image.Point{}, draw.Over)
		p := encode(t, painted)
		p.Focal35 = read(t, one.Name).Focal35
		again, err := m.Measure(context.Background(), p,
			Settings{Cards: map[[32]byte]scale.KeptCard{p.SHA256: kept}})
		require.NoError(t, err)
		require.NotNil(t, again.Spacing, "%s: %v", one.Name, again.Reasons)
		u, _ := before.Expanded()
		assert.InDelta(t, before.Spacing.Value, again.Spacing.Value, u/10,
			"%s: the picture was saved again, nothing else", one.Name)
		assert.Equal(t, before.Masked, again.Masked, "what is covered stays covered")
		other := kept
		other.Width++
		again, err = m.Measure(context.Background(), p,
			Settings{Cards: map[[32]byte]scale.KeptCard{p.SHA256: other}})
		require.NoError(t, err)
		if again.Spacing != nil {
			assert.NotEqual(t, before.Masked, again.Masked, "of another picture, it is not taken")
		}
	}
}

// A card beside the frame gives no scale, and its face is masked all the same; a frame's own lines are no
// card.
func TestACardBesideTheFrameIsMasked(t *testing.T) {
	m := meter(t)
	all := besideTruths(t)
	one := all[slices.IndexFunc(all, func(b besideTruth) bool { return b.Name == "card-1.jpg" })]
	beside := imaging.Clone(read(t, one.Name).Colour(4000))
	frame := imaging.Resize(read(t, "foam-window.jpg").Colour(4000), 1040, 0, imaging.Lanczos)
	both := encode(t, imaging.Paste(beside, frame, image.Pt(540, 200))) // the card lies to the left of it
	both.Focal35 = read(t, one.Name).Focal35
	got, err := m.Measure(context.Background(), both, Settings{})
	require.NoError(t, err)
	require.Equal(t, scale.ByFrame, got.ScaleSource)
	got.MaskCard(both)
	require.Len(t, got.Masked, 1)
	for _, c := range one.Corners {
		assert.True(t, inside(got.Masked[0], pixel(c)), "corner %v", c)
	}
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg", "paper-1.jpg", "scan-1.jpg"} {
		p := read(t, name)
		plain, err := m.Measure(context.Background(), p, Settings{})
		require.NoError(t, err)
		plain.MaskCard(p)
		assert.Empty(t, plain.Masked, name)
	}
}

// Several photos without a frame do not fall over one another, and their result names the scale.
func TestCardAndRuleTogether(t *testing.T) {
	m := meter(t)
	var all []*photo.Photo
	for _, one := range besideTruths(t) {
		if one.Kind == "rule" {
			all = append(all, read(t, one.Name))
		}
	}
	got, err := m.MeasureTogether(context.Background(), all, Settings{})
	require.NoError(t, err)
	require.Len(t, got.Parts, 2)
	if got.Spacing != nil {
		assert.Equal(t, scale.ByRule, got.ScaleSource)
		require.NoError(t, got.Spacing.Budget.Components().Check())
	}
}

// Foam beside a card is never measured outright.
func TestFoamWithoutTheFrameIsNeverMeasured(t *testing.T) {
	m := meter(t)
	for _, one := range besideTruths(t) {
		got, err := m.Measure(context.Background(), read(t, one.Name), Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		assert.NotEqual(t, Measured, got.Status, one.Name)
		if got.Spacing != nil {
			require.NoError(t, got.Spacing.Budget.Components().Check())
		}
	}
}

// With the true centres and the rule's own ends clicked, the truth lies in the interval.
func TestAScaleByHand(t *testing.T) {
	for _, one := range besideTruths(t) {
		a, b, mm := pixel(one.ZeroPx), pixel(one.EndPx), one.ScaleMM
		if one.Kind == "card" {
			a, b, mm = pixel(one.Corners[0]), pixel(one.Corners[1]), 85.60 // ISO/IEC 7810, ID-1
		}
		got, err := MeasureByHandScale(
			read(t, one.Name),
			Settings{},
			a,
			b,
			mm,
			[2]homography.Pixel{pixel(one.LeftPx), pixel(one.RightPx)},
			0.5,
		)
		require.NoError(t, err)
		require.NotNil(t, got.Spacing, one.Name)
		u, _ := got.Expanded()
		assert.InDelta(t, one.Spacing, got.Spacing.Value, u, one.Name)
		assert.Equal(t, Review, got.Status)
		assert.Equal(t, "by_hand", got.Reasons[0].Code)
		require.NoError(t, got.Spacing.Budget.Components().Check())
		assert.InDelta(t, got.Spacing.Value, got.Left.Point.Distance(got.Right.Point), 1e-9)
	}
}

func TestAScaleByHandThatCannotBe(t *testing.T) {
	p := read(t, "rule-1.jpg")
	at := func(x, y float64) homography.Pixel { return homography.Pixel{X: x, Y: y} }
	centres := [2]homography.Pixel{at(300, 300), at(900, 320)}
	for name, c := range map[string]struct {
		a, b homography.Pixel
		mm   float64
		u    float64
		at   [2]homography.Pixel
	}{
		"too short in mm":        {at(0, 0), at(500, 0), 5, 1, centres},
		"too short in the photo": {at(0, 0), at(20, 0), 100, 1, centres},
		"no number":              {at(math.NaN(), 0), at(500, 0), 100, 1, centres},
		"centres that coincide":  {at(0, 0), at(500, 0), 100, 1, [2]homography.Pixel{at(1, 1), at(1, 1)}},
		"a negative u":           {at(0, 0), at(500, 0), 100, -1, centres},
	} {
		_, err := MeasureByHandScale(p, Settings{}, c.a, c.b, c.mm, c.at, c.u)
		assert.Error(t, err, name)
	}
}
