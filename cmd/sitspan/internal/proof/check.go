package proof

import (
	"math"

	"sitspan/calibration/precision"
)

// Check is one measurement of a known distance.
type Check struct {
	DistanceMM, DistanceU float64 // the distance of the balls' centres as it was read, and its u
	MeasuredMM, MeasuredU float64 // what the photos say, and its U
	DiameterMM            float64 // of the balls; 0 where it was not given
}

// Deviation is measured minus known, mm.
func (c Check) Deviation() float64 { return c.MeasuredMM - c.DistanceMM }

// U is the expanded uncertainty of the deviation, mm: of both, k = 2 for the distance as it was read.
func (c Check) U() float64 { return math.Hypot(c.MeasuredU, 2*c.DistanceU) }

// En is the E_n number; from -1 to 1 the two agree as well as they claim to: equation (2) of
// doi:10.1007/s00769-005-0021-8, from ISO/IEC Guide 43-1, which ISO/IEC 17043 replaced (its annex B from
// memory).
func (c Check) En() float64 {
	return precision.Normalised(c.MeasuredMM, c.MeasuredU, c.DistanceMM, 2*c.DistanceU)
}

// PrintScale is the size of the print, true over nominal, that would explain the deviation alone; with its U.
func (c Check) PrintScale() (scale, u float64) {
	return c.DistanceMM / c.MeasuredMM, c.U() / c.MeasuredMM
}

// Verdict is what a check comes to.
type Verdict string

// The verdicts. Each has its sentences under known.verdict in the words.
const (
	Passed     Verdict = "passed"
	PassedWide Verdict = "passed_wide"   // within U, but U would have hidden a print fitted to the page
	Fitted     Verdict = "print_fitted"  // as much too large as a print fitted to the page makes it
	Across     Verdict = "across"        // off by a ball's diameter: read from edge to edge, not between centres
	PrintOrNot Verdict = "print_or_rule" // the numbers do not tell a print's size from a slip of the rule
	Off        Verdict = "off"           // no size of a print explains it: the rule, or the measurement
	Unlike     Verdict = "unlike"        // the two dents are no pair
	PassedLens Verdict = "passed_lens"   // as Passed, through a lens that bends lines as no phone's own does
	Lens       Verdict = "lens"          // such a lens, and the number is not right, or there is none
	NoNumber   Verdict = "no_number"     // the measurement was refused, or is to be reviewed
)

// A print that was fitted to the page is smaller than it should be by the printer's margins, 3 to 8 %, where
// the page has the size that the drawing has (common practice, no source).
const (
	fittedLeast = 0.92
	fittedMost  = 0.975
	fittedUsual = 0.965 // 5 mm of margin on either side of A4's 297 mm, as most printers keep
)

// Verdict says what the numbers come to.
func (c Check) Verdict() Verdict {
	scale, u := c.PrintScale()
	switch {
	case math.Abs(c.En()) <= 1 && c.U() > (1/fittedUsual-1)*c.DistanceMM:
		return PassedWide
	case math.Abs(c.En()) <= 1:
		return Passed
	case c.DiameterMM > 0 && math.Abs(math.Abs(c.Deviation())-c.DiameterMM) <= c.U():
		return Across
	case scale >= fittedLeast && scale <= fittedMost:
		return Fitted
	case scale+u >= fittedLeast && scale-u <= fittedMost:
		return PrintOrNot
	}
	return Off
}

// Trusted tells a verdict that speaks for pad, light, phone and printer.
func (v Verdict) Trusted() bool { return v == Passed || v == PassedLens }

// ThroughStrangeLens is what a verdict on the numbers alone becomes where the marks show a lens that bends
// lines as no phone's own does. A number that is right stays right; before anything else is blamed for a
// wrong one, the lens is to go.
func (v Verdict) ThroughStrangeLens() Verdict {
	switch v {
	case Passed:
		return PassedLens
	case PassedWide, NoNumber, Unlike:
		return v
	}
	return Lens
}
