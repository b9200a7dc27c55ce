package spacing

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
)

// overFoam is a picture of foam from 600 mm, 5 px/mm straight above, and a reading of it.
func overFoam(left, right homography.PlanePoint) (Picture, Reading) {
	c := &homography.Camera{Position: homography.PlanePoint{X: 10, Y: -20}, Height: 600}
	c.Covariance[2][2] = 24 * 24
	pad := calibration.FoamPad()
	p := Picture{
		Plane:  homography.Projective{5, 0, 2000, 0, 5, 1500, 0, 0, 1},
		Camera: c,
		Pad:    pad,
		Scale:  ByFrame,
		Print:  calibration.UnverifiedPrint(),
		Depths: ProfileDepths(pad),
	}
	seen := func(at homography.PlanePoint) Seen { return Seen{At: at, VarX: 1, VarY: 1, Depth: 13, VarDepth: 4} }
	return p, Reading{
		Left:       seen(left),
		Right:      seen(right),
		VarSpacing: 2,
		Temper:     0.8,
		Basis:      codes.ReadingsOwn.With(0.8),
	}
}

// One engine: a centre that a reviewer moves to where another reading is gives that reading's number and
// place.
func TestMoveGivesWhatAReadingThereGives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := func(x float64, name string) homography.PlanePoint {
			return homography.PlanePoint{
				X: x + rapid.Float64Range(-15, 15).Draw(t, name+" x"),
				Y: rapid.Float64Range(-20, 20).Draw(t, name+" y"),
			}
		}
		l, r, there := at(-60, "left"), at(60, "right"), at(-60, "there")
		if there.Distance(l) < 0.01 {
			t.Skip("not moved")
		}
		p, was := overFoam(l, r)
		d := DepthsFor(Gauge{}, p.Pad, was.Left, was.Right)
		from, err := BelowPlane(was, p.Camera, d, p.Pad, p.Print)
		require.NoError(t, err)
		_, reading := overFoam(there, r)
		to, err := BelowPlane(reading, p.Camera, d, p.Pad, p.Print)
		require.NoError(t, err)
		pixel := p.Plane.ImageFromPlane
		before := &Estimate{from.Value, from.Lines}
		moved, err := Move(
			p,
			Set{&from.Left, pixel(l), pixel(there)},
			Set{&from.Right, pixel(r), pixel(r)},
			1,
			before,
		)
		require.NoError(t, err)
		assert.InDelta(t, to.Value, moved.Value, 1e-6, "samePlace is 2e-7 mm here")
		assert.InDelta(t, 0, to.Left.Point.Distance(moved.Left.Point), 1e-6)
		assert.Equal(t, from.Right, moved.Right, "what was not moved stays")
		// the covariance differs by the reading's own: the same Jacobian carries either to the bottom
		gain := Gain(600, d.Left)
		assert.InDelta(
			t,
			to.Left.Covariance[0][0]-gain*gain*0.64,
			moved.Left.Covariance[0][0]-gain*gain,
			1e-9,
		)
	})
}

// A moved centre has the reviewer's line and not the reading's; what does not depend on who read it stays, in
// proportion to the spacing.
func TestMoveExchangesTheReadingsLine(t *testing.T) {
	l, r := homography.PlanePoint{X: -60}, homography.PlanePoint{X: 60}
	p, was := overFoam(l, r)
	was.Left.Flat = 12
	from, err := BelowPlane(was, p.Camera, p.Depths, p.Pad, p.Print)
	require.NoError(t, err)
	pixel := p.Plane.ImageFromPlane
	there := homography.PlanePoint{X: -62}
	moved, err := Move(
		p,
		Set{&from.Left, pixel(l), pixel(there)},
		Set{&from.Right, pixel(r), pixel(r)},
		1.5,
		&Estimate{from.Value, from.Lines},
	)
	require.NoError(t, err)
	kept := map[string]float64{}
	for _, line := range moved.Budget {
		kept[line.Source] = line.Contribution()
	}
	assert.NotContains(t, kept, codes.LeftCentre.Code)
	assert.NotContains(t, kept, codes.LeftFlatBottom.Code)
	assert.InDelta(t, 1.5*(600+13.5)/600, kept[codes.LeftByHand.Code], 1e-9, "by hand")
	assert.InDelta(
		t,
		from.Lines.Part(codes.DentDepth)*moved.Value/from.Value,
		kept[codes.DentDepth.Code],
		1e-9,
	)
	assert.InDelta(
		t,
		from.Lines.Part(codes.RightCentre)*moved.Value/from.Value,
		kept[codes.RightCentre.Code],
		1e-9,
	)
}

// A picture that gave no number by itself gets all lines anew, by the same functions as a reading.
func TestMoveMakesLinesAnew(t *testing.T) {
	l, r := homography.PlanePoint{X: -60}, homography.PlanePoint{X: 60}
	p, was := overFoam(l, r)
	want, err := BelowPlane(was, p.Camera, p.Depths, p.Pad, p.Print)
	require.NoError(t, err)
	pixel := p.Plane.ImageFromPlane
	moved, err := Move(p, Set{Now: pixel(l)}, Set{Now: pixel(r)}, 1, nil)
	require.NoError(t, err)
	assert.InDelta(t, want.Value, moved.Value, 1e-9)
	for _, of := range []*codes.Line{codes.DentDepth, codes.DepthOfSides, codes.CardThickness,
		codes.CameraPlace} {
		assert.InDelta(t, want.Lines.Part(of), moved.Budget.Part(of), 1e-9, of.Code)
	}
	assert.Positive(t, moved.Budget.Part(codes.PrintScale))
	p.Scale = ByCard
	beside, err := Move(p, Set{Now: pixel(l)}, Set{Now: pixel(r)}, 1, nil)
	require.NoError(t, err)
	// by hand: 10 degrees shorten by 0.0152 at the most and change the scale over 120 mm by 0.1736 x 120/600,
	// rectangular
	assert.InDelta(t, 0.0218858*beside.Value, beside.Budget.Part(codes.CardFit), 1e-3)
	assert.Zero(t, beside.Budget.Part(codes.PrintScale))
}

func TestFaultsAreNamed(t *testing.T) {
	for _, code := range FaultCodes() {
		assert.NotEmpty(t, (&Fault{Code: code, Args: []any{1.0, 2.0, 3.0}}).Error())
	}
	p, _ := overFoam(homography.PlanePoint{}, homography.PlanePoint{})
	p.Plane = homography.Projective{5, 0, 2000, 0, 5, 1500, 0.01, 0, 1} // a horizon at x = -100 mm
	_, err := Move(
		p,
		Set{Now: homography.Pixel{X: -5000, Y: 0}},
		Set{Now: homography.Pixel{X: 2000, Y: 1500}},
		1,
		nil,
	)
	var fault *Fault
	require.ErrorAs(t, err, &fault)
}
