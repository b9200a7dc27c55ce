package ink

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// expectation says that the parameter i, or its difference from the parameter less where that is not
// negative, lies about mean with the standard deviation sd.
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

// family is one kind of dent: what its parameters are expected to be before the mark is seen. All of these
// are our assumptions about seats, cloth and paper, in round numbers and wide; no published figures were
// found, and none is taken from any set of marks. They hold where the mark itself says little.
type family struct {
	name              string
	hertz             bool
	long, wide        about   // ln mm
	unlike            float64 // how unlike the sides may be, ln of the widths
	tilt              float64 // standard deviation about 0
	flat, power, tail about   // ln
	sag               about   // ln
	bumps             float64 // standard deviation of what the family does not describe, in the peak's heights
	body              bool    // worked out from mechanics (body.go); what is above counts for nothing
}

const (
	// ln of a ball's contact radius over the deviation of a bell that is as wide at half its height
	bellToBall = 0.16
	round      = math.Ln2
)

var (
	settled = about{-4, 0.3}            // a tail of no consequence
	longish = about{math.Log(20), 0.3}  // the bone bears on some 3 to 5 cm
	narrow  = about{math.Log(13), 0.25} // and on 2 to 3 cm across
	pointed = about{math.Log(2.2), 0.2} // from a bell (2) to a rather flat top (3)
	oblong  = about{math.Log(2.5), 0.3} // of the wide family: from pointed to flat along its length
	tailed  = about{math.Log(0.3), 1}   // likewise: from steep flanks to long ones
)

// families are a bell, a ball pressed into a half space, a ridge, and one with little settled. A ridge is
// where the edge of the bone bears over some 5 cm and more, and 2 cm across: it has two ends, between them it
// hardly falls off, and one end may be pressed a little harder. Its numbers are round, but were written by
// one who knew the ridges drawn for our sets.
var families = []family{
	{"bell", false, longish, narrow, 0.12, 0.02, about{round, 0.05}, pointed, settled, settled,
		bumpHeight, false},
	{"ball", true, about{longish.mean + bellToBall, longish.sd}, about{narrow.mean + bellToBall, narrow.sd},
		0.12, 0.02, about{round, 0.05}, pointed, settled, settled, bumpHeight, false},
	{"ridge", false, about{math.Log(25), 0.35}, about{math.Log(10), 0.3}, 0.12, 0.1, about{math.Log(3.5), 0.3},
		pointed, settled, about{math.Log(0.15), 0.6}, bumpHeight, false},
	wideFamily,
}

var wideFamily = family{"wide", false, longish, narrow, 0.15, 0.15, oblong, pointed, tailed, settled,
	bumpHeight, false}

// toeIn is how far the marks' long axes are expected to converge toward the front, rad: the bones do, by 10
// to 30 degrees and more (common knowledge of the pelvis; our assumption in its numbers).
var toeIn = about{0.35, 0.25}

// expectations lists the family's, with the front up (+1) or down (-1); 0 where that is not known yet.
func (f family) expectations(front float64) []expectation {
	if f.body {
		return expectInk(expectBody())
	}
	return expectInk(f.expectDents(front))
}

// expectDents is what is expected of both dents, their basins and the pressure that leaves no ink.
func (f family) expectDents(front float64) (r []expectation) {
	add := func(i int, a about) { r = append(r, expectation{i, -1, a.mean, a.sd}) }
	toe, back := about{front * toeIn.mean, toeIn.sd}, about{0, 8}
	if front == 0 {
		toe.sd = 0.5
	}
	for _, k := range []int{0, perSide} {
		for _, e := range []struct {
			i int
			a about
		}{{atLong, f.long}, {atWide, f.wide}, {atToe, toe}, {atTilt, about{0, f.tilt}}, {atOut, about{6, 8}},
			{atBack, back}} {
			add(k+e.i, e.a)
		}
	}
	r = append(r, expectation{atLong, perSide + atLong, 0, f.unlike},
		expectation{atWide, perSide + atWide, 0, f.unlike}, expectation{atToe, perSide + atToe, 0, 0.15})
	add(atRatio, about{0, 0.3})
	add(atFlat, f.flat)
	add(atPower, f.power)
	add(atTail, f.tail)
	add(atSag, f.sag)
	// soft tissue: half the bone's dent, between a quarter and the whole of it
	add(atBasin, about{math.Log(0.5), 0.7})
	add(atBasinX, about{math.Log(45), 0.3}) // some 10 cm wide
	add(atBasinY, about{math.Log(45), 0.3})
	add(atSill, about{math.Log(0.25), 0.7}) // the paper: nothing is known of it but that it works
	return r
}

// expectInk adds what is expected of ink and paper.
func expectInk(r []expectation) []expectation {
	add := func(i int, a about) { r = append(r, expectation{i, -1, a.mean, a.sd}) }
	add(atInk, about{math.Log(0.6), 0.5})
	add(atGain, about{math.Log(1.5), 0.6})
	add(atBend, about{0, 0.3})
	// ln of light, over 100 mm in x and 70 mm in y
	for k, sd := range []float64{0.1, 0.15, 0.15, 0.05, 0.05, 0.05} {
		add(atPaper+k, about{0, sd})
	}
	return r
}

// lnVolume is ln of the volume that the expectations leave to what they speak of, up to a constant: what the
// evidence of a family is charged for its freedom. Sides that are expected to be alike have less of it.
func lnVolume(r []expectation) float64 {
	at := map[int]int{}
	for _, e := range r {
		if _, seen := at[e.i]; !seen {
			at[e.i] = len(at)
		}
	}
	precision := mat.NewSymDense(len(at), nil)
	add := func(i, j int, v float64) { precision.SetSym(i, j, precision.At(i, j)+v) }
	for _, e := range r {
		i, v := at[e.i], 1/(e.sd*e.sd)
		add(i, i, v)
		if e.less >= 0 {
			j := at[e.less]
			add(j, j, v)
			add(i, j, -v)
		}
	}
	var chol mat.Cholesky
	chol.Factorize(precision) // each has an expectation of its own, so it has a root
	return -chol.LogDet() / 2
}
