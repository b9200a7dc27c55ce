package imprint

import (
	"context"
	"image"

	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/relief"
)

// foamOffsets are the places about the picture's middle, mm along the measurement's axes, at which a window is tried.
var foamOffsets = []relief.Point{
	{}, {Y: -45}, {Y: 45}, {X: -50}, {X: 50}, {X: -50, Y: -45}, {X: 50, Y: -45}, {X: -50, Y: 45}, {X: 50, Y: 45},
	{Y: -90}, {Y: 90},
}

// readFoamBeside finds the two dents beside a reference by trying the window at several places, and sends what it finds to
// review: nothing checks the camera's place as the frame does.
func (t *Meter) readFoamBeside(ctx context.Context, v *sight, grey *image.Gray, sheet *refSheet) error {
	r := v.m.Reference
	v.toPixel = func(q relief.Point) homography.Pixel { return r.ImageFromPlane(homography.PlanePoint(q)) }
	mid, err := r.PlaneFromImage(homography.Pixel{X: float64(v.photo.Width-1) / 2, Y: float64(v.photo.Height-1) / 2})
	if err != nil {
		v.m.refuse(codes.NoDent.With())
		return nil
	}
	r.moved(relief.Point(mid), 0)
	start, best, score := *r, *r, 0.0
	for _, o := range foamOffsets {
		if err := ctx.Err(); err != nil {
			return err
		}
		*r = start
		r.moved(o, 0)
		one, err := t.peekFoam(v, grey, sheet)
		if err != nil {
			return err
		}
		if one != nil && one.Count[2] > score {
			r.moved(between(*one))
			best, score = *r, one.Count[2]
		}
	}
	*r = best
	v.m.GroundSample = groundSample(v.toPixel)
	if _, known := focalOf(v.photo); !known {
		v.m.Warn(codes.FocalUnknown.With(v.photo.FocalBasis()))
	}
	v.m.Review(codes.FoamWithoutFrame.With())
	w, err := sheet.foamWindow(grey, r, v.toPixel)
	if err != nil {
		return err
	}
	return t.readWindow(v, w)
}

func (t *Meter) peekFoam(v *sight, grey *image.Gray, sheet *refSheet) (*relief.Reading, error) {
	w, err := sheet.foamWindow(grey, v.m.Reference, v.toPixel)
	if err != nil {
		return nil, err
	}
	trial := &sight{m: &Measurement{Verdict: judge.Verdict{Status: Measured}, Medium: v.m.Medium}, photo: v.photo, toPixel: v.toPixel}
	if err := t.readWindow(trial, w); err != nil || !trial.read {
		return nil, err
	}
	return &trial.reading, nil
}

// foamWindow is the window on foam, of the plane below the reference's: only the reference is filled, since foam has no paper's
// ground.
func (s *refSheet) foamWindow(grey *image.Gray, r *Reference, place func(relief.Point) homography.Pixel) (relief.Window, error) {
	view := viewOf(r.Camera)
	at := func(i int) relief.Point { return view.OnFrame(relief.At(i)) }
	levels, err := sampleAt(grey, relief.Columns, relief.Rows, func(i int) homography.Pixel { return place(at(i)) })
	if err != nil {
		return relief.Window{}, err
	}
	light := linear(levels)
	fill := median(light)
	hole := polygonOf(r)
	for i := range light {
		if hole.near(at(i), maskMargin) {
			light[i] = fill
		}
	}
	return relief.Window{Light: light, View: view}, nil
}
