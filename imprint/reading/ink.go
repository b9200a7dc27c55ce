package reading

import (
	"image"
	"math"

	"sitspan/imprint/homography"
	"sitspan/imprint/ink"
	"sitspan/imprint/relief"
)

// The grid on which the density model reads the window of package relief: the same area in finer steps.
const (
	inkStep    = 1.0 // mm
	inkColumns = int(relief.Columns * relief.Step / inkStep)
	inkRows    = int(relief.Rows * relief.Step / inkStep)
	inkLeft    = relief.Left - (relief.Step-inkStep)/2
	inkFront   = relief.Front - (relief.Step-inkStep)/2
)

// inkAlike is the correlation of the net's errors with the density model's, since both see the same grain:
// 0.65 on 300 scans and 0.63 on 43 photos that it was taken from.
const inkAlike = 0.65

// Paper is a window on marking paper in a picture.
type Paper struct {
	Place   func(relief.Point) homography.Pixel
	OnPaper func(relief.Point) bool // nil: everywhere
	Frame   relief.FrameLight
	Photo   bool // a lamp may gleam in it; a scan has none
}

// Ink takes the centres of two marks from the density model, which starts where the net saw them: it measures
// better, and says better how well. The net stays the one that says how many marks there are. netU is its
// standard uncertainty of the distance, mm; apart is how many standard uncertainties of their difference the
// two distances lie apart. Where the model found no two, why says so, and the reading is the net's.
func (p Paper) Ink(grey *image.Gray, net relief.Reading, netU float64) (r relief.Reading, apart float64, why,
	err error) {
	light, err := p.light(grey)
	if err != nil {
		return net, 0, nil, err
	}
	found, why := p.fit(light, net)
	if why != nil {
		return net, 0, why, nil
	}
	r = net
	putMark(&r.Left, found.Left)
	putMark(&r.Right, found.Right)
	r.VarSpacing = found.SpacingU * found.SpacingU
	a, b := netU, found.SpacingU
	u := math.Sqrt(a*a + b*b - 2*inkAlike*a*b)
	return r, math.Abs(net.Distance()-r.Distance()) / u, nil, nil
}

// fit runs the density model on light of the fine grid, from where the net saw the marks.
func (p Paper) fit(light []float64, net relief.Reading) (ink.Reading, error) {
	start := [2][2]float64{{net.Left.At.X, net.Left.At.Y}, {net.Right.At.X, net.Right.At.Y}}
	fit := ink.Fit
	if p.Photo {
		fit = ink.FitPhoto
	}
	return fit(light, inkColumns, inkRows, inkLeft, inkFront, inkStep, start)
}

func putMark(s *relief.Side, m ink.Mark) {
	s.At, s.VarX, s.VarY = relief.Point{X: m.X, Y: m.Y}, m.Cov[0][0], m.Cov[1][1]
}

// light is the window's linear light on the fine grid, over the light on the frame; NaN off the paper.
func (p Paper) light(grey *image.Gray) ([]float64, error) {
	at := func(i int) relief.Point {
		x, y := float64(i%inkColumns), float64(i/inkColumns)
		return relief.Point{X: inkLeft + inkStep*x, Y: inkFront + inkStep*y}
	}
	place := func(i int) homography.Pixel { return p.Place(at(i)) }
	levels, err := SampleAt(grey, inkColumns, inkRows, place)
	if err != nil {
		return nil, err
	}
	light := Linear(levels)
	for i := range light {
		light[i] /= math.Exp(p.Frame.At(at(i)))
	}
	p.Keep(light, at)
	return light, nil
}

// Keep takes the light from places beyond a sheet's sides.
func (p Paper) Keep(light []float64, at func(i int) relief.Point) {
	for i := range light {
		if p.OnPaper != nil && !p.OnPaper(at(i)) {
			light[i] = math.NaN()
		}
	}
}
