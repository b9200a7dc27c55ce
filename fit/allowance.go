package fit

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"sitspan/calibration/gum"
)

// AllowanceRow is one support of the table from posture to allowance.
type AllowanceRow struct {
	AngleDeg float64 // the trunk's angle above the horizontal, deg
	MM       float64 // allowance at that angle, mm
	UMM      float64 // its standard uncertainty, mm; 0 unless the shop says otherwise
	Basis    string  // where the number comes from
}

// AllowanceTable gives the allowance for a trunk angle: linear between its
// rows, and constant, with a note, beyond them.
//
// What stands behind it: that a more upright rider needs a wider saddle is
// common practice, and so are the ends of 0 and 40 mm; no source publishes
// them. The one number found in papers (Chen, Sci Rep 2021, doi
// 10.1038/s41598-021-99232-w: the width of the seat's pressure grows by about
// 11.6 mm over 45 degrees, 0.26 mm per degree, and that of a clay imprint by
// less than 3 mm) supports the direction, not the amount.
type AllowanceTable struct {
	rows      []AllowanceRow
	isDefault bool
}

// The limits of what a table, a posture or a hand may give. They catch slips
// (a percentage, a width in place of an allowance); assumed, no source.
const (
	minTrunkDeg    = -20 // stretched so far that the hips are higher than the shoulders
	maxTrunkDeg    = 120 // leaning back
	maxAllowanceMM = 100
)

// DefaultAllowanceTable is 0 mm at 15 degrees to 40 mm at 75 degrees, with u =
// 0. The ends are common practice, no source; the angles are our assumption.
func DefaultAllowanceTable() AllowanceTable {
	const basis = "mm: common practice, no source; angle: our assumption"
	return AllowanceTable{
		rows:      []AllowanceRow{{15, 0, 0, basis}, {75, 40, 0, basis}},
		isDefault: true,
	}
}

// NewAllowanceTable makes a table of rows in any order. The error holds
// everything that is wrong with them: a number out of range, an angle given
// twice, a row where more upright would be less wide.
func NewAllowanceTable(rows []AllowanceRow) (AllowanceTable, error) {
	rows = slices.Clone(rows)
	slices.SortStableFunc(rows, func(a, b AllowanceRow) int { return cmp.Compare(a.AngleDeg, b.AngleDeg) })
	var errs []error
	if len(rows) == 0 {
		errs = append(errs, NoAllowanceRows.With())
	}
	for i, r := range rows {
		errs = append(errs, r.check())
		if i > 0 {
			errs = append(errs, checkStep(rows[i-1], r))
		}
	}
	return AllowanceTable{rows: rows}, errors.Join(errs...)
}

func (r AllowanceRow) check() error {
	var errs []error
	within := func(name string, v, low, high float64, unit string) {
		if !(v >= low && v <= high) { // NaN too
			errs = append(errs, BadAllowanceRow.With("angle", r.AngleDeg, "what", name, "value", v,
				"low", low, "high", high, "unit", unit))
		}
	}
	within("angle", r.AngleDeg, minTrunkDeg, maxTrunkDeg, "deg")
	within("allowance", r.MM, 0, maxAllowanceMM, "mm")
	within("u", r.UMM, 0, maxAllowanceMM, "mm")
	return errors.Join(errs...)
}

func checkStep(below, above AllowanceRow) error {
	switch {
	case above.AngleDeg == below.AngleDeg:
		return AngleTwice.With("angle", above.AngleDeg)
	case above.MM < below.MM:
		return AllowanceFalls.With("from", below.MM, "low", below.AngleDeg,
			"to", above.MM, "high", above.AngleDeg)
	}
	return nil
}

// Rows gives a copy of the table, lowest angle first.
func (t AllowanceTable) Rows() []AllowanceRow { return slices.Clone(t.rows) }

// Allowance is what a posture adds to the spacing.
type Allowance struct {
	MM         float64
	Components []gum.Component // the influences on it, as lines of a budget
	Notes      []Note
}

// At gives the allowance for a trunk angle in degrees that has the standard
// uncertainty uDeg. The angle's uncertainty propagates by the local slope,
// taken as the larger of the increments over +-uDeg (JCGM 100:2008, 5.1.3,
// note 2, allows increments), so that a kink or the table's end within reach
// of the angle is not missed.
func (t AllowanceTable) At(angleDeg, uDeg float64) (Allowance, error) {
	if !(angleDeg >= minTrunkDeg && angleDeg <= maxTrunkDeg) {
		return Allowance{}, BadTrunk.With("angle", angleDeg, "low", minTrunkDeg,
			"high", maxTrunkDeg)
	}
	if !(uDeg >= 0 && uDeg <= 45) {
		return Allowance{}, BadTrunkU.With("u", uDeg)
	}
	if len(t.rows) == 0 {
		return Allowance{}, NoAllowanceRows.With()
	}
	mm, u := t.interpolate(angleDeg)
	a := Allowance{MM: mm, Notes: t.notes(angleDeg, mm)}
	a.Components = append(a.Components, gum.Component{
		Source: "allowance table", Std: u, Unit: "mm", Sensitivity: 1, DoF: math.Inf(1), Basis: t.basisAt(angleDeg),
	})
	if uDeg > 0 {
		a.Components = append(a.Components, gum.Component{
			Source: "trunk angle", Std: uDeg, Unit: "deg", Sensitivity: t.slope(angleDeg, uDeg), DoF: math.Inf(1),
			Basis: "stated with the angle, through the allowance table's slope",
		})
	}
	return a, nil
}

// interpolate gives the allowance and its own u at an angle, both linear
// between the rows and constant beyond them.
func (t AllowanceTable) interpolate(angleDeg float64) (mm, u float64) {
	first, last := t.rows[0], t.rows[len(t.rows)-1]
	if angleDeg <= first.AngleDeg {
		return first.MM, first.UMM
	}
	for i := 1; i < len(t.rows); i++ {
		lo, hi := t.rows[i-1], t.rows[i]
		if angleDeg <= hi.AngleDeg {
			f := (angleDeg - lo.AngleDeg) / (hi.AngleDeg - lo.AngleDeg)
			return lo.MM + f*(hi.MM-lo.MM), lo.UMM + f*(hi.UMM-lo.UMM)
		}
	}
	return last.MM, last.UMM
}

// slope is the allowance's sensitivity to the angle, mm per deg.
func (t AllowanceTable) slope(angleDeg, uDeg float64) float64 {
	here, _ := t.interpolate(angleDeg)
	above, _ := t.interpolate(angleDeg + uDeg)
	below, _ := t.interpolate(angleDeg - uDeg)
	return math.Max(above-here, here-below) / uDeg
}

func (t AllowanceTable) notes(angleDeg, mm float64) []Note {
	var notes []Note
	first, last := t.rows[0].AngleDeg, t.rows[len(t.rows)-1].AngleDeg
	switch {
	case angleDeg < first:
		notes = append(notes, note("allowance.clamped", "angle", angleDeg, "end", first, "allowance", mm))
	case angleDeg > last:
		notes = append(notes, note("allowance.clamped", "angle", angleDeg, "end", last, "allowance", mm))
	}
	if t.isDefault {
		return append(notes, note("allowance.default_table", "angle", angleDeg, "allowance", mm))
	}
	return append(notes, note("allowance.shop_table", "angle", angleDeg, "allowance", mm, "basis",
		t.basisAt(angleDeg)))
}

// basisAt names the basis of the rows round an angle.
func (t AllowanceTable) basisAt(angleDeg float64) string {
	i := 0
	for i < len(t.rows)-1 && t.rows[i+1].AngleDeg < angleDeg {
		i++
	}
	lo, hi := t.rows[i].Basis, t.rows[min(i+1, len(t.rows)-1)].Basis
	switch {
	case lo == "" && hi == "":
		return "not stated"
	case lo == hi || hi == "":
		return lo
	case lo == "":
		return hi
	}
	return lo + "; " + hi
}

// allowanceByHand is an allowance that the fitter states, in mm, with its
// standard uncertainty.
func allowanceByHand(mm, uMM float64) (Allowance, error) {
	var errs []error
	if !(mm >= 0 && mm <= maxAllowanceMM) {
		errs = append(errs, BadAllowance.With("mm", mm, "most", maxAllowanceMM))
	}
	if !(uMM >= 0 && uMM <= maxAllowanceMM) {
		errs = append(errs, BadAllowanceU.With("u", uMM, "most", maxAllowanceMM))
	}
	return Allowance{
		MM: mm,
		Components: []gum.Component{{
			Source: "allowance by hand", Std: uMM, Unit: "mm", Sensitivity: 1, DoF: math.Inf(1),
			Basis: "stated by the fitter",
		}},
		Notes: []Note{note("allowance.by_hand", "allowance", mm)},
	}, errors.Join(errs...)
}
