package ink

import "math"

// expectation says that the parameter i, or its difference from the parameter less where that is not negative, lies about
// mean with the standard deviation sd.
type expectation struct {
	i, less  int
	mean, sd float64
}

func (e expectation) residual(p []float64) float64 {
	v := p[e.i] - e.mean
	if e.less >= 0 {
		v -= p[e.less]
	}
	return v / e.sd
}

func (e expectation) derive(col [][]float64, row int) {
	col[e.i][row] = 1 / e.sd
	if e.less >= 0 {
		col[e.less][row] = -1 / e.sd
	}
}

// about is a value with its standard deviation.
type about struct{ mean, sd float64 }

// family is one kind of dent: what its parameters are expected to be before the mark is seen. All of these are assumptions
// about seats and paper; no published figures were found. They hold where the mark itself says little, and the wide family
// is there for marks that are none of the others.
type family struct {
	name              string
	hertz             bool
	long, wide        about   // ln mm
	unlike            float64 // how unlike the sides may be, ln of the widths
	tilt, lean        float64 // standard deviations about 0
	flat, power, tail about   // ln
}

var settled = about{-4, 0.3} // a tail of no consequence

var families = []family{
	{"bell", false, about{2.94, 0.15}, about{2.6, 0.12}, 0.08, 0.015, 0.01, about{0.70, 0.02}, about{0.84, 0.15}, settled},
	{"ball", true, about{3.16, 0.15}, about{2.82, 0.12}, 0.08, 0.015, 0.01, about{0.70, 0.02}, about{0.84, 0.15}, settled},
	{"edge", false, about{3.28, 0.14}, about{2.42, 0.14}, 0.16, 0.15, 0.01, about{1.16, 0.1}, about{0.70, 0.03}, settled},
	wideFamily,
}

var wideFamily = family{"wide", false, about{2.95, 0.25}, about{2.5, 0.2}, 0.12, 0.12, 0.05, about{0.87, 0.25}, about{0.79, 0.2}, about{-1.2, 1}}

// toeIn is how far the marks' long axes are expected to converge toward the front, rad.
var toeIn = about{0.36, 0.15}

// expectations lists the family's, with the front up (+1) or down (-1); 0 where that is not known yet.
func (f family) expectations(front float64) (r []expectation) {
	add := func(i int, a about) { r = append(r, expectation{i, -1, a.mean, a.sd}) }
	toe, back := about{front * toeIn.mean, toeIn.sd}, about{front * 3, 5}
	if front == 0 {
		toe.sd = 0.5
	}
	for _, k := range []int{0, perSide} {
		for _, e := range []struct {
			i int
			a about
		}{{atLong, f.long}, {atWide, f.wide}, {atToe, toe}, {atTilt, about{0, f.tilt}}, {atLean, about{0, f.lean}}, {atOut, about{8, 5}}, {atBack, back}} {
			add(k+e.i, e.a)
		}
	}
	r = append(r, expectation{atLong, perSide + atLong, 0, f.unlike}, expectation{atWide, perSide + atWide, 0, f.unlike}, expectation{atToe, perSide + atToe, 0, 0.06})
	add(atRatio, about{0, 0.2})
	add(atFlat, f.flat)
	add(atPower, f.power)
	add(atTail, f.tail)
	add(atBasin, about{math.Log(0.47), 0.45})
	add(atBasinX, about{math.Log(50), 0.15})
	add(atBasinY, about{math.Log(47), 0.15})
	add(atSill, about{math.Log(0.28), 0.4})
	add(atInk, about{math.Log(0.65), 0.35})
	add(atGain, about{math.Log(1.4), 0.35})
	add(atBend, about{math.Log(1.1), 0.25})
	for k, sd := range []float64{0.1, 0.15, 0.15, 0.05, 0.05, 0.05} { // ln of light, over 100 mm in x and 70 mm in y
		add(atPaper+k, about{0, sd})
	}
	return r
}

// lnVolume is ln of the product of the standard deviations: what the evidence of a family is charged for its freedom.
func lnVolume(r []expectation) (s float64) {
	for _, e := range r {
		s += math.Log(e.sd)
	}
	return s
}
