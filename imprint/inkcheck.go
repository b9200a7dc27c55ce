package imprint

import (
	"image"
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/ink"
	"sitspan/imprint/judge"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
)

const (
	// inkStep is the step in mm of the grid on which the density model reads the window.
	inkStep = 1.0
	// inkAlike is the correlation of the net's errors with the density model's, since both see the same
	// grain: 0.65 on 300 scans and 0.63 on 43 photos that it was taken from.
	inkAlike = 0.65
)

// inkGrid is the grid in the window of package relief: the same area in finer steps.
const (
	inkColumns = int(relief.Columns * relief.Step / inkStep)
	inkRows    = int(relief.Rows * relief.Step / inkStep)
	inkLeft    = relief.Left - (relief.Step-inkStep)/2
	inkFront   = relief.Front - (relief.Step-inkStep)/2
)

// readInk takes the centres of two marks on paper from the density model, which starts where the net saw
// them: it measures better, and says better how well. The net stays the one that says how many marks there
// are; where the two disagree, or the model does not settle, the photo goes to review. Beside a card or a
// rule, where more than paper may lie in the window, the net's reading stays as it is.
func (v *sight) readInk(grey *image.Gray, frame relief.FrameLight) error {
	if !v.read || v.m.Medium != calibration.Paper || v.m.Reference != nil {
		return nil
	}
	light, err := v.inkLight(grey, frame)
	if err != nil {
		return err
	}
	net := v.reading
	start := [2][2]float64{{net.Left.At.X, net.Left.At.Y}, {net.Right.At.X, net.Right.At.Y}}
	fit := ink.Fit
	if v.camera() != nil {
		fit = ink.FitPhoto
	}
	r, err := fit(light, inkColumns, inkRows, inkLeft, inkFront, inkStep, start)
	if err != nil {
		v.m.Review(codes.InkUnsettled.With(err.Error()))
		return nil
	}
	putMark(&v.reading.Left, r.Left)
	putMark(&v.reading.Right, r.Right)
	v.reading.VarSpacing, v.byInk = r.SpacingU*r.SpacingU, true
	a, b := temper(calibration.Paper)*math.Sqrt(net.VarSpacing), r.SpacingU
	u := math.Sqrt(a*a + b*b - 2*inkAlike*a*b)
	if d := math.Abs(net.Distance() - v.reading.Distance()); d > judge.InkApart.Value*u {
		v.m.Review(inkDisagrees(net.Distance(), v.reading.Distance(), d/u))
		for _, p := range []relief.Point{net.Left.At, net.Right.At} {
			v.m.Rejected = append(v.m.Rejected, Rejected{v.toPixel(p), codes.NetHere.With()})
		}
	}
	return nil
}

func putMark(s *relief.Side, m ink.Mark) {
	s.At, s.VarX, s.VarY = relief.Point{X: m.X, Y: m.Y}, m.Cov[0][0], m.Cov[1][1]
}

// inkLight is the window's linear light on the fine grid, over the light on the frame; NaN off the paper.
func (v *sight) inkLight(grey *image.Gray, frame relief.FrameLight) ([]float64, error) {
	at := func(i int) relief.Point {
		return relief.Point{
			X: inkLeft + inkStep*float64(i%inkColumns),
			Y: inkFront + inkStep*float64(i/inkColumns),
		}
	}
	levels, err := reading.SampleAt(
		grey,
		inkColumns,
		inkRows,
		func(i int) homography.Pixel { return v.toPixel(at(i)) },
	)
	if err != nil {
		return nil, err
	}
	light := reading.Linear(levels)
	for i := range light {
		light[i] /= math.Exp(frame.At(at(i)))
	}
	v.keepPaper(light, at)
	return light, nil
}

// keepPaper takes the light from places beyond a sheet's sides.
func (v *sight) keepPaper(light []float64, at func(i int) relief.Point) {
	for i := range light {
		if v.onPaper != nil && !v.onPaper(at(i)) {
			light[i] = math.NaN()
		}
	}
}

func inkDisagrees(net, density, apart float64) codes.Said {
	return codes.InkDisagrees.With(net, density, roundUp(apart), judge.InkApart.Value)
}
