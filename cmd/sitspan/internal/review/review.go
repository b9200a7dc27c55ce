// Package review makes a reviewer's measurement out of a record's automatic one: both centres where a person
// put them, with that person's uncertainty.
//
// Its opinion: a person's centre is a reading like the net's. The number comes from package spacing, as every
// number does; here a record is only taken apart and put together again. What was automatic is not touched:
// the caller keeps both, side by side.
package review

import (
	"math"

	"sitspan/calibration"
	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/spacing"
)

// DefaultU is the standard uncertainty in mm of a centre that a fitter sets, where none is said.
const DefaultU = spacing.DefaultU

// Fault is what is wrong with a reviewer's centres.
type Fault = spacing.Fault

// FaultCodes lists the codes of faults.
func FaultCodes() []string { return spacing.FaultCodes() }

// Centres are what a reviewer saw: px of the upright picture.
type Centres struct {
	Left, Right [2]float64
	U           float64 // standard uncertainty in mm, either direction; 0 takes DefaultU
}

// Move measures again with the centres where the reviewer put them. A centre that was left where it was keeps
// the automatic reading and its uncertainty. The error is a *Fault.
func Move(m record.Measurement, c Centres) (record.Measurement, error) {
	switch {
	case m.Geometry == nil:
		return m, &Fault{Code: "no_plane"}
	case m.Medium == "":
		return m, &Fault{Code: "medium"}
	case m.Geometry.Hand != nil:
		return m, &Fault{Code: "by_hand"}
	}
	if c.U == 0 {
		c.U = DefaultU
	}
	moved, err := spacing.Move(picture(m), set(m.Left, c.Left), set(m.Right, c.Right), c.U, estimate(m))
	if err != nil {
		return m, err
	}
	return with(m, moved, c), nil
}

// picture is what a record keeps of the picture.
func picture(m record.Measurement) spacing.Picture {
	g := m.Geometry
	p := spacing.Picture{Plane: g.ImageFromPlane, Scale: spacing.Scale(m.ScaleSource)}
	p.Print = calibration.Print{
		ScaleX:        g.PrintScale[0],
		ScaleY:        g.PrintScale[1],
		UX:            g.PrintScaleU,
		UY:            g.PrintScaleU,
		CorrelationXY: 1,
	}
	if g.PrintU != nil {
		p.Print.UX, p.Print.UY, p.Print.CorrelationXY = g.PrintU[0], g.PrintU[1], g.PrintCorrelation
	}
	p.Pad = calibration.Pad{CardThickness: g.CardMM, CardThicknessU: g.CardU}
	u := g.DepthU * g.DepthU
	p.Depths = spacing.Depths{Left: g.DepthMM, Right: g.DepthMM, Cov: homography.Covariance2{{u, u}, {u, u}}}
	if g.DepthsMM != nil && g.DepthCov != nil {
		p.Depths.Left, p.Depths.Right = g.DepthsMM[0], g.DepthsMM[1]
		p.Depths.Cov = homography.Covariance2{{g.DepthCov[0], g.DepthCov[1]}, {g.DepthCov[1], g.DepthCov[2]}}
	}
	p.Camera = cameraOf(g)
	return p
}

// cameraOf is where the picture was taken from; nil over a scan.
func cameraOf(g *record.Geometry) *homography.Camera {
	if g.Camera == nil {
		return nil
	}
	c := &homography.Camera{
		Position: homography.PlanePoint{X: g.Camera[0], Y: g.Camera[1]},
		Height:   g.Camera[2],
	}
	switch {
	case g.CameraCov != nil:
		v := g.CameraCov
		c.Covariance = [3][3]float64{{v[0], v[1], v[2]}, {v[1], v[3], v[4]}, {v[2], v[4], v[5]}}
	case g.CameraU != nil:
		for i, u := range g.CameraU {
			c.Covariance[i][i] = u * u
		}
	}
	return c
}

// set is a side as the record has it, and where the reviewer puts it.
func set(d *record.Dent, now [2]float64) spacing.Set {
	s := spacing.Set{Now: homography.Pixel{X: now[0], Y: now[1]}}
	if d != nil {
		s.Was = homography.Pixel{X: d.Px[0], Y: d.Px[1]}
		s.Found = &spacing.Bottom{
			Point: homography.PlanePoint{
				X: d.MM[0],
				Y: d.MM[1],
			}, OnPlane: homography.PlanePoint{X: d.PlaneMM[0], Y: d.PlaneMM[1]},
			Covariance: homography.Covariance2{{d.Cov[0], d.Cov[1]}, {d.Cov[1], d.Cov[2]}},
			Depth:      d.Depth, DepthU: d.DepthU, DepthBasis: d.BasisSaid.As(codes.Basis),
		}
	}
	return s
}

// estimate is the spacing with its budget as the record states it: each line by its contribution. nil: none.
func estimate(m record.Measurement) *spacing.Estimate {
	if m.Spacing == nil {
		return nil
	}
	e := &spacing.Estimate{Value: *m.Spacing}
	for _, l := range m.Budget {
		c := gum.Component{
			Source:      l.Code,
			Std:         l.U,
			Unit:        "mm",
			Sensitivity: 1,
			DoF:         math.Inf(1),
			Basis:       l.Basis,
		}
		if l.Code == "" {
			c.Source = l.Source // an old record's, in words only
		}
		if l.DoF != nil && *l.DoF > 0 {
			c.DoF = *l.DoF
		}
		e.Budget = append(e.Budget, spacing.Line{Component: c, From: l.BasisSaid})
	}
	return e
}

// with puts the moved centres into the measurement.
func with(m record.Measurement, v spacing.Moved, c Centres) record.Measurement {
	U, k := v.Budget.Expanded(m.Coverage)
	if m.TakenOffMM != nil {
		v.Value -= *m.TakenOffMM
	}
	if m.Spacing == nil {
		m.DepthContrast = nil
	}
	m.Spacing, m.U, m.CoverageFactor, m.UncorrectedMM = &v.Value, &U, &k, &v.Seen
	m.Left, m.Right = dent(m.Left, v.Left, v.LeftMoved, c.Left), dent(m.Right, v.Right, v.RightMoved, c.Right)
	m.LeftMM, m.RightMM, m.LeftPx, m.RightPx = &m.Left.MM, &m.Right.MM, &m.Left.Px, &m.Right.Px
	m.Budget = make([]record.BudgetLine, 0, len(v.Budget))
	for _, l := range v.Budget.Sorted() {
		m.Budget = append(m.Budget, sentence.Line(l))
	}
	m.Yaw = &record.Quantity{Value: v.YawDeg, U: v.YawU, Unit: "deg"}
	m.Width, m.Advice, m.AdviceSaid = nil, "", codes.Said{}
	Settle(&m)
	return m
}

// dent is a side's: as it was, or where the reviewer put its centre. What else was found of it stays.
func dent(was *record.Dent, b spacing.Bottom, moved bool, px [2]float64) *record.Dent {
	if !moved {
		return was
	}
	var d record.Dent
	if was != nil {
		d = *was
	} else {
		d.Basis, d.BasisSaid = sentence.Of(words.English, b.DepthBasis), b.DepthBasis
	}
	d.MM, d.PlaneMM, d.Px = [2]float64{b.Point.X, b.Point.Y}, [2]float64{b.OnPlane.X, b.OnPlane.Y}, px
	d.Cov = [3]float64{b.Covariance[0][0], b.Covariance[0][1], b.Covariance[1][1]}
	d.Depth, d.DepthU, d.FlatMM = b.Depth, b.DepthU, 0
	return &d
}

// Settle makes the reasons for a review footnotes, since somebody has looked; an interval too wide to be of
// use stays one. The measurement has a spacing.
func Settle(m *record.Measurement) {
	U := *m.U
	for _, r := range m.Reasons {
		if !codes.WideInterval.Is(r.Said()) {
			m.Warnings = append(
				m.Warnings[:len(m.Warnings):len(m.Warnings)],
				record.Warning{
					Code:    r.Code,
					Form:    r.Form,
					Params:  r.Params,
					Message: r.Message,
					Remedy:  r.Hint,
				},
			)
		}
	}
	m.Status, m.Reasons = record.Measured, []record.Reason{}
	if U > judge.WidestInterval.Value {
		m.Status = record.Review
		wide := codes.WideInterval.With(gum.Stated(U), judge.WidestInterval.Value)
		m.Reasons = append(m.Reasons, sentence.Reason(wide))
	}
}
