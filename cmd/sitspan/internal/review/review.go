// Package review makes a reviewer's measurement out of an automatic one: both
// centres where a person put them, with that person's uncertainty.
//
// Its opinion: a person's centre is a reading like the net's, so it has a line
// in the budget with its own standard uncertainty, and all that does not depend
// on who read it (parallax, print, lens, flatness) stays as it was. What was
// automatic is not touched: the caller keeps both, side by side.
package review

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
	"sitspan/imprint/spacing"
)

// DefaultU is the standard uncertainty in mm, in either direction, of a centre
// that a fitter sets with the magnifier: an assumption, no source. Two fitters
// who set the same centre differ by its root-two-fold, some 2 mm.
const DefaultU = 1.5

// The bounds of what a reviewer may say.
const (
	leastU, mostU             = 0.2, 10.0   // mm
	leastSpacing, mostSpacing = 70.0, 190.0 // mm; shared with the automatic measurement
	widestInterval            = 6.0         // mm, expanded
)

// Centres are what a reviewer saw: px of the upright picture.
type Centres struct {
	Left, Right [2]float64
	U           float64 // standard uncertainty in mm, either direction; 0 takes DefaultU
}

// Fault is what is wrong with a reviewer's centres: a stable code, and the
// numbers that belong to it, for whoever says it in another language.
type Fault struct {
	Code string
	Args []any // mm
}

// faults are the English sentences.
var faults = map[string]string{
	"no_plane":  "this measurement cannot be moved: nothing tells how its picture lies on a plane; set the scale by hand, or photograph again with the frame",
	"medium":    "it could not be told whether this is foam or marking paper, which have different depths: choose the pad first",
	"by_hand":   "this measurement rests on a scale set by hand: set the scale and the centres again",
	"u":         "the uncertainty of a centre set by hand is %g mm; %g to %g mm is needed",
	"exchanged": "the left centre lies to the right of the right one, the frame's front being up: exchange them",
	"outside":   "a centre lies where the picture does not show the plane of the imprint: set it on the imprint",
	"apart":     "the centres lie %.0f mm apart; %.0f to %.0f mm is needed: set them on the two sit bones",
}

// FaultCodes lists the codes.
func FaultCodes() []string { return slices.Sorted(maps.Keys(faults)) }

// Error says it in English.
func (f *Fault) Error() string { return fmt.Sprintf(faults[f.Code], f.Args...) }

// Move measures again with the centres where the reviewer put them. A centre
// that was left where it was keeps the automatic reading and its uncertainty.
func Move(m record.Measurement, c Centres) (record.Measurement, error) {
	if m.Geometry == nil {
		return m, &Fault{Code: "no_plane"}
	}
	if m.Medium == "" {
		return m, &Fault{Code: "medium"}
	}
	if m.Geometry.Hand != nil {
		return m, &Fault{Code: "by_hand"}
	}
	if c.U == 0 {
		c.U = DefaultU
	}
	if !(c.U >= leastU && c.U <= mostU) {
		return m, &Fault{"u", []any{c.U, leastU, mostU}}
	}
	v := mover{m, *m.Geometry, c.U}
	left, movedLeft, err := v.dent(m.Left, c.Left)
	if err != nil {
		return m, err
	}
	right, movedRight, err := v.dent(m.Right, c.Right)
	if err != nil {
		return m, err
	}
	if m.ScaleSource == "frame" && left.MM[0] >= right.MM[0] {
		return m, &Fault{Code: "exchanged"}
	}
	return v.conclude(left, right, movedLeft, movedRight)
}

// mover is one review under way.
type mover struct {
	m record.Measurement
	g record.Geometry
	u float64
}

// samePlace is the distance in px below which a centre was not moved: what a
// number loses on its way to a page and back.
const samePlace = 1e-6

// dent is a side's dent with its centre at px.
func (v mover) dent(auto *record.Dent, px [2]float64) (d record.Dent, moved bool, err error) {
	if auto != nil && math.Hypot(px[0]-auto.Px[0], px[1]-auto.Px[1]) < samePlace {
		return *auto, false, nil
	}
	at, ok := planeFromImage(v.g.ImageFromPlane, px)
	if !ok {
		return d, false, &Fault{Code: "outside"}
	}
	d = record.Dent{Depth: v.g.DepthMM, DepthU: v.g.DepthU, Basis: sentence.Of(words.English, codes.PadUsual.With()), BasisSaid: codes.PadUsual.With()}
	if auto != nil {
		d = *auto
		// Reckoned from the measured centre, the lens's bending cancels.
		if from, ok := planeFromImage(v.g.ImageFromPlane, auto.Px); ok {
			at[0] += auto.PlaneMM[0] - from[0]
			at[1] += auto.PlaneMM[1] - from[1]
		}
	}
	d.Px, d.PlaneMM, d.FlatMM = px, at, 0
	gain := v.gain(d.Depth)
	mm := at
	if v.g.Camera != nil {
		for i := range 2 {
			mm[i] = v.g.Camera[i] + (at[i]-v.g.Camera[i])*gain // equation (1)
		}
	}
	for i := range 2 {
		d.MM[i] = mm[i] * v.g.PrintScale[i]
	}
	own := math.Pow(gain*v.u, 2)
	d.Cov = [3]float64{own, 0, own}
	if v.g.Camera != nil {
		ex, ey := (at[0]-v.g.Camera[0])/v.g.Camera[2]*d.DepthU, (at[1]-v.g.Camera[1])/v.g.Camera[2]*d.DepthU
		d.Cov = [3]float64{own + ex*ex, ex * ey, own + ey*ey}
	}
	return d, true, nil
}

// gain is (H + d) / H, d being the bottom's depth below the frame's plane.
func (v mover) gain(depth float64) float64 {
	if v.g.Camera == nil || depth == 0 {
		return 1
	}
	return (v.g.Camera[2] + depth + v.g.CardMM) / v.g.Camera[2]
}

// conclude puts the spacing and its budget together.
func (v mover) conclude(left, right record.Dent, movedLeft, movedRight bool) (record.Measurement, error) {
	m := v.m
	mm := math.Hypot(right.MM[0]-left.MM[0], right.MM[1]-left.MM[1])
	if !(mm >= leastSpacing && mm <= mostSpacing) {
		return m, &Fault{"apart", []any{mm, leastSpacing, mostSpacing}}
	}
	uncorrected := math.Hypot(right.PlaneMM[0]-left.PlaneMM[0], right.PlaneMM[1]-left.PlaneMM[1])
	budget := v.kept(mm, movedLeft, movedRight)
	if movedLeft {
		budget = append(budget, v.line(codes.LeftByHand, left))
	}
	if movedRight {
		budget = append(budget, v.line(codes.RightByHand, right))
	}
	U, k := budget.Expanded(m.Coverage)
	m.Spacing, m.U, m.CoverageFactor, m.UncorrectedMM = &mm, &U, &k, &uncorrected
	m.Left, m.Right = &left, &right
	m.LeftMM, m.RightMM, m.LeftPx, m.RightPx = &left.MM, &right.MM, &left.Px, &right.Px
	m.Budget = lines(budget)
	m.Yaw = &record.Quantity{Value: math.Atan2(right.MM[1]-left.MM[1], right.MM[0]-left.MM[0]) * 180 / math.Pi,
		U: math.Sqrt(left.Cov[2]+right.Cov[2]) / mm * 180 / math.Pi, Unit: "deg"}
	m.Width, m.Advice, m.AdviceSaid = nil, "", codes.Said{}
	if v.m.Spacing == nil {
		m.DepthContrast = nil
	}
	Settle(&m)
	return m, nil
}

// Settle makes the reasons for a review footnotes, since somebody has looked; an
// interval too wide to be of use stays one. The measurement has a spacing.
func Settle(m *record.Measurement) {
	U := *m.U
	for _, r := range m.Reasons {
		if !codes.WideInterval.Is(r.Said()) {
			m.Warnings = append(m.Warnings[:len(m.Warnings):len(m.Warnings)],
				record.Warning{Code: r.Code, Form: r.Form, Params: r.Params, Message: r.Message, Remedy: r.Hint})
		}
	}
	m.Status, m.Reasons = record.Measured, []record.Reason{}
	if U > widestInterval {
		m.Status = record.Review
		m.Reasons = append(m.Reasons, sentence.Reason(codes.WideInterval.With(U, widestInterval)))
	}
}

// line is the budget line of a centre that was set by hand.
func (v mover) line(of *codes.Line, d record.Dent) spacing.Line {
	return spacing.Of(of, v.u, v.gain(d.Depth), codes.ByMagnifier.With())
}

// kept are the lines that do not depend on who read the moved centres. They
// are given as contributions, in proportion to the spacing.
func (v mover) kept(mm float64, movedLeft, movedRight bool) spacing.Budget {
	if v.m.Spacing == nil || len(v.m.Budget) == 0 {
		return v.fresh(mm)
	}
	var b spacing.Budget
	for _, l := range v.m.Budget {
		if movedLeft && codes.OfReading(l.Code, codes.Left) || movedRight && codes.OfReading(l.Code, codes.Right) {
			continue
		}
		c := gum.Component{Source: l.Code, Std: l.U, Unit: "mm", Sensitivity: mm / *v.m.Spacing, DoF: math.Inf(1), Basis: l.Basis}
		if l.Code == "" {
			c.Source = l.Source
		}
		if l.DoF != nil && *l.DoF > 0 {
			c.DoF = *l.DoF
		}
		b = append(b, spacing.Line{Component: c, From: l.BasisSaid})
	}
	return b
}

// What is assumed of a card or a rule that was found, but gave no spacing by
// itself (no source; as for a scale set by hand): the half-widths of the
// camera's tilt in degrees and of what the lens does to the scale across the
// picture, relative, and how far in mm the centres lie from the reference.
const (
	besideTilt = 10.0
	besideLens = 0.01
	besideFar  = 120.0
)

// beside are the lines of a card or a rule, for a camera at a height in mm.
func beside(fit *codes.Line, mm, height float64) spacing.Budget {
	t := besideTilt * math.Pi / 180
	tilt := math.Hypot(gum.Rectangular(1-math.Cos(t)), gum.Rectangular(math.Sin(t)*besideFar/height))
	return spacing.Budget{
		spacing.Of(fit, tilt*mm, 1, codes.BesideAssumed.With(besideTilt)),
		spacing.Of(codes.Lens, gum.Rectangular(besideLens)*mm, 1, codes.Assumed.With()),
	}
}

// fresh are the lines of a picture that gave no spacing by itself.
func (v mover) fresh(mm float64) spacing.Budget {
	if v.m.ScaleSource == "card" || v.m.ScaleSource == "rule" {
		height := 400.0 // near, so that a tilt tells most
		if v.g.Camera != nil {
			height = v.g.Camera[2]
		}
		fit := codes.CardFit
		if v.m.ScaleSource == "rule" {
			fit = codes.RuleFit
		}
		return append(beside(fit, mm, height), v.freshDepth(mm)...)
	}
	b := spacing.Budget{
		spacing.Of(codes.PrintScale, v.g.PrintScaleU*mm, 1, codes.PrintAsBefore.With()),
		spacing.Of(codes.FramePlane, 0.3, 1, codes.PlaneAssumed.With()),
	}
	return append(b, v.freshDepth(mm)...)
}

// freshDepth are the lines of the parallax; none on paper, where nothing is deep.
func (v mover) freshDepth(mm float64) spacing.Budget {
	if v.g.Camera == nil || v.g.CameraU == nil || v.g.DepthMM == 0 {
		return nil
	}
	h, d := v.g.Camera[2], v.g.DepthMM+v.g.CardMM
	return spacing.Budget{
		spacing.Of(codes.DentDepth, v.g.DepthU, mm/(h+d), codes.PadUsual.With()),
		spacing.Of(codes.CameraPlace, v.g.CameraU[2], mm*d/(h*(h+d)), codes.CameraHeight.With(h, v.g.CameraU[2])),
	}
}

// lines is a budget as a record holds it.
func lines(b spacing.Budget) []record.BudgetLine {
	out := make([]record.BudgetLine, 0, len(b))
	for _, l := range b.Sorted() {
		out = append(out, sentence.Line(l))
	}
	return out
}

// planeFromImage inverts a homography at a pixel.
func planeFromImage(h [9]float64, px [2]float64) (mm [2]float64, ok bool) {
	// px (h6 X + h7 Y + h8) = h0 X + h1 Y + h2, and likewise for y.
	a, b, e := h[0]-px[0]*h[6], h[1]-px[0]*h[7], px[0]*h[8]-h[2]
	c, d, f := h[3]-px[1]*h[6], h[4]-px[1]*h[7], px[1]*h[8]-h[5]
	det := a*d - b*c
	mm = [2]float64{(e*d - b*f) / det, (a*f - e*c) / det}
	ahead := h[6]*mm[0]+h[7]*mm[1]+h[8] > 0 // the plane's side before the camera, h8 being 1 at its middle
	return mm, ahead && !math.IsNaN(mm[0]+mm[1]) && !math.IsInf(mm[0]+mm[1], 0)
}
