package imprint

import (
	"context"
	"image"
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
	"sitspan/imprint/scale"
	"sitspan/imprint/stages"
)

// lookAtReference reads a picture that has a card or a rule instead of the frame. It reports false, with the
// measurement as it was, where there is neither.
func (t *Meter) lookAtReference(ctx context.Context, v *sight, grey *image.Gray, s Settings) (bool, error) {
	end := stages.Begin(ctx, stages.Marks)
	r := scale.FindReference(v.photo, grey, s.Cards)
	end()
	if r == nil {
		return false, nil
	}
	m := v.m
	m.Anew()
	m.ScaleSource, m.Reference = r.Source(), r
	if r.Source() == scale.ByCard {
		m.Masked = append(m.Masked, r.Outline)
	} else {
		m.Warn(codes.RuleTilt.With(r.Tilt.U))
	}
	if err := ctx.Err(); err != nil {
		return true, err
	}
	sheet, err := reading.NewBeside(v.photo, grey, r)
	if err != nil {
		return true, err
	}
	if m.Medium == calibration.Foam {
		return true, t.readFoamBeside(ctx, v, grey, sheet)
	}
	return true, t.readPaperBeside(v, grey, sheet)
}

// readPaperBeside finds the two marks on the sheet, lays the window round them, and once more where the first
// reading says.
func (t *Meter) readPaperBeside(v *sight, grey *image.Gray, sheet *reading.Beside) error {
	m, r := v.m, v.m.Reference
	at, turn, reason := sheet.Locate()
	if reason != nil {
		m.refuse(*reason)
		return nil
	}
	if m.Medium == "" && !sheet.Inked() {
		m.refuse(codes.MediumUnclear.With())
		return nil
	}
	m.Medium = calibration.Paper
	r.Move(homography.PlanePoint(at), turn)
	v.toPixel = func(q relief.Point) homography.Pixel { return r.ImageFromPlane(homography.PlanePoint(q)) }
	w, err := sheet.Window(grey, v.toPixel)
	if err != nil {
		return err
	}
	first, err := t.peek(v, w)
	if err != nil {
		return err
	}
	if first != nil {
		r.Move(between(*first))
	}
	m.GroundSample = groundSample(v.toPixel)
	if w, err = sheet.Window(grey, v.toPixel); err != nil {
		return err
	}
	if err := t.readWindow(v, w); err != nil || !v.read {
		return err
	}
	if r := sheet.Covered(v.reading, v.toPixel); r != nil {
		m.Review(*r)
	}
	return nil
}

// peek reads a window without a judgement; nil where there are no two centres.
func (t *Meter) peek(v *sight, w relief.Window) (*relief.Reading, error) {
	trial := &sight{
		m:       &Measurement{Verdict: judge.Verdict{Status: Measured}, Medium: v.m.Medium},
		photo:   v.photo,
		toPixel: v.toPixel,
	}
	if err := t.readWindow(trial, w); err != nil || !trial.read {
		return nil, err
	}
	return &trial.reading, nil
}

// between is the middle of a reading's centres and the turn that lays them level.
func between(r relief.Reading) (homography.PlanePoint, float64) {
	a, b := r.Left.At, r.Right.At
	return homography.PlanePoint{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}, math.Atan2(b.Y-a.Y, b.X-a.X)
}

// groundSample is the ground sample distance at the origin, mm/px.
func groundSample(place func(relief.Point) homography.Pixel) float64 {
	o, x, y := place(relief.Point{}), place(relief.Point{X: 1}), place(relief.Point{Y: 1})
	return 1 / math.Sqrt(math.Abs((x.X-o.X)*(y.Y-o.Y)-(x.Y-o.Y)*(y.X-o.X)))
}

// scale is what gave the sight its millimetres.
func (v *sight) scale() scale.Scale {
	switch {
	case v.m.Plane != nil:
		return v.m.Plane
	case v.m.Reference != nil:
		return v.m.Reference
	}
	return scale.Resolution{Density: v.photo.Density}
}

// printOf is the frame's print, or, where no frame gave the scale, true millimetres.
func (m *Measurement) printOf(s Settings) calibration.Print {
	if m.Plane == nil {
		return calibration.Print{ScaleX: 1, ScaleY: 1, Verified: true}
	}
	return s.PrintOn(m.Medium)
}
