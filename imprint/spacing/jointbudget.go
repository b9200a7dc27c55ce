package spacing

import (
	"math"

	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
)

// Lines are the budget of all but the scale, by finite differences of the joint solution: each input is moved
// by its standard uncertainty, and what the spacing does is its contribution (JCGM 100, 5.1.3, note 2).
func (j Joint) Lines() (lines Budget) {
	moved := func(d shift) float64 {
		v, _, err := j.at(d)
		if err != nil {
			return 0
		}
		return v - j.Value
	}
	for side, of := range []*codes.Line{codes.LeftCentre, codes.RightCentre} {
		own, shared := 0.0, 0.0
		for i, v := range j.Views {
			l, r := v.Reading.shares()
			c := moved(shift{view: i, side: side, dx: [2]float64{l, r}[side]})
			own += (1 - j.shared()) * c * c
			shared += math.Sqrt(j.shared()) * math.Abs(c)
		}
		lines = append(lines, Of(of, math.Sqrt(own+shared*shared), 1, j.centreBasis()))
	}
	if j.Views[0].Camera == nil || !j.imprint.Deep {
		return lines
	}
	lines = append(lines, flatLines([2]float64{j.Flat(0), j.Flat(1)}, 1)...)
	basis := codes.LinesOfSight.With(j.Depths().Basis)
	focal := math.Abs(moved(shift{view: -1, focal: j.focalU()}))
	return append(lines,
		Of(codes.DentDepth, j.depthCommon(moved), 1, basis),
		Of(codes.DepthOfSides, j.depthDifference(moved), 1, basis),
		Of(codes.CameraPlace, focal, 1, codes.FocalShared.With()))
}

func (j Joint) centreBasis() codes.Said {
	if j.Together {
		return codes.ReadTogether.With(len(j.Views), j.Views[0].Reading.Basis)
	}
	return codes.OfReadings.With(len(j.Views), 100*j.shared())
}

// depthCommon is the effect of the prior depths' common error, mm.
func (j Joint) depthCommon(moved func(shift) float64) float64 {
	d, card := j.Depths(), j.imprint.Pad.CardThicknessU
	u := math.Sqrt(math.Max(0, (d.Cov[0][0]+2*d.Cov[0][1]+d.Cov[1][1])/4) + card*card)
	return math.Abs(moved(shift{view: -1, depth: [2]float64{u, u}}))
}

func (j Joint) depthDifference(moved func(shift) float64) float64 {
	_, u := j.Depths().Difference()
	return math.Abs(moved(shift{view: -1, depth: [2]float64{u / 2, -u / 2}}))
}

// focalU is the largest relative standard uncertainty of the cameras' focal lengths.
func (j Joint) focalU() (u float64) {
	for _, v := range j.Views {
		if c := v.Camera; c != nil {
			u = math.Max(u, c.Focal.U/c.Focal.Pixels)
		}
	}
	return u
}

// PrintLine is that of the print's scale.
func (j Joint) PrintLine() Line { return PrintLine(j.imprint.Print, j.Ends[0].Point, j.Ends[1].Point) }

// shown is where a view would see a solved bottom on its plane.
func (j Joint) shown(v View, side int) homography.PlanePoint {
	e := j.Ends[side]
	if v.Camera != nil {
		if at, err := SeenAt(v.Camera, e.Point, e.Depth); err == nil {
			return at
		}
	}
	return e.Point
}

// chi95 is the 95 % quantile of chi-square with four degrees of freedom: two coordinates of two centres.
const chi95 = 9.488

// leastSeen is the standard uncertainty in mm that every reading has at the least when photos are compared:
// the frame may have been touched.
const leastSeen = 0.3

// Agreement tells how far a view's two centres lie from where the solved bottoms would be seen: the root of
// its chi-square over the 95 % quantile, so that 1 is the edge of what chance explains.
func (j Joint) Agreement(v View) float64 {
	var chi float64
	for side := range j.Ends {
		at, cov := v.seen(side)
		want := j.shown(v, side)
		dx, dy := at.X-want.X, at.Y-want.Y
		chi += dx*dx/(cov[0][0]+leastSeen*leastSeen) + dy*dy/(cov[1][1]+leastSeen*leastSeen)
	}
	return math.Sqrt(chi / chi95)
}

// Odd is the place of the view that contradicts the others most, judged against a solution without it, and
// that solution; below 0 where none does.
func (j Joint) Odd() (worst int, rest Joint) {
	worst = -1
	most := judge.Disagreement.Value
	for i, v := range j.Views {
		others := append(append([]View(nil), j.Views[:i]...), j.Views[i+1:]...)
		k, err := Solve(others, j.imprint)
		if err != nil {
			continue
		}
		if a := k.Agreement(v); a > most && k.Consistent() {
			worst, most, rest = i, a, k
		}
	}
	return worst, rest
}

// Consistent tells whether the views agree among themselves, each as it was read by itself: read together
// they always do.
func (j Joint) Consistent() bool {
	for _, v := range j.Alone {
		if j.Agreement(v) > judge.Disagreement.Value {
			return false
		}
	}
	return true
}
