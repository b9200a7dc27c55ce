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

// Inked is what a sheet's ink says of two marks.
type Inked struct {
	Reading  relief.Reading // to be measured by
	Density  float64        // mm, the distance by the density model alone
	DensityU float64        // mm, its standard uncertainty
	Apart    float64        // how many standard uncertainties of their difference net and density lie apart
}

// Ink takes the centres of two marks from the density model, which starts where the net saw them: of a photo
// from it alone, since it measures better and says better how well, of a scan from both. The net stays the
// one that says how many marks there are. netU is its standard uncertainty of the distance, mm. Where the
// model found no two, why says so, and the reading is the net's.
func (p Paper) Ink(grey *image.Gray, net relief.Reading, netU float64) (in Inked, why, err error) {
	in.Reading = net
	light, err := p.light(grey)
	if err != nil {
		return in, nil, err
	}
	found, why := p.fit(light, net)
	if why != nil {
		return in, why, nil
	}
	putMark(&in.Reading.Left, found.Left)
	putMark(&in.Reading.Right, found.Right)
	in.Reading.VarSpacing = found.SpacingU * found.SpacingU
	in.Density, in.DensityU = in.Reading.Distance(), found.SpacingU
	in.Apart = math.Abs(net.Distance()-in.Density) / math.Sqrt(alikeDifference(netU, found.SpacingU))
	if !p.Photo {
		in.Reading = joined(in.Reading, net, netU, in.Apart)
	}
	return in, nil, nil
}

// alikeDifference is the variance of the difference of two readings that err alike.
func alikeDifference(u, v float64) float64 { return u*u + v*v - 2*inkAlike*u*v }

// joined is the mean of density and net, weighted for the least variance where errors correlate (the best
// linear unbiased estimate). Where they part by more than their uncertainties explain, that widens the
// uncertainty by as much (the ratio of Birge, 1932, from memory).
func joined(density, net relief.Reading, netU, apart float64) relief.Reading {
	u := math.Sqrt(density.VarSpacing)
	w := min(1, max(0, (u*u-inkAlike*u*netU)/alikeDifference(u, netU))) // the net's weight
	widened := max(1, apart)
	variance := func(a, b float64) float64 {
		p, q := (1-w)*math.Sqrt(a), w*math.Sqrt(b)
		return widened * widened * (p*p + q*q + 2*inkAlike*p*q)
	}
	side := func(d, n relief.Side) relief.Side {
		d.At = relief.Point{X: (1-w)*d.At.X + w*n.At.X, Y: (1-w)*d.At.Y + w*n.At.Y}
		d.VarX, d.VarY = variance(d.VarX, n.VarX), variance(d.VarY, n.VarY)
		return d
	}
	density.Left, density.Right = side(density.Left, net.Left), side(density.Right, net.Right)
	density.VarSpacing = variance(u*u, netU*netU)
	return density
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
