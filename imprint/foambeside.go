package imprint

import (
	"context"
	"image"

	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
	"sitspan/imprint/scale"
)

// foamOffsets are the places about the picture's middle, mm along the measurement's axes, at which a window
// is tried.
var foamOffsets = []relief.Point{
	{}, {Y: -45}, {Y: 45}, {X: -50}, {X: 50}, {X: -50, Y: -45}, {X: 50, Y: -45}, {X: -50, Y: 45}, {X: 50, Y: 45},
	{Y: -90}, {Y: 90},
}

// readFoamBeside finds the two dents beside a reference by trying the window at several places, and sends
// what it finds to review: nothing checks the camera's place as the frame does.
func (t *Meter) readFoamBeside(ctx context.Context, v *sight, grey *image.Gray, sheet *reading.Beside) error {
	r := v.m.Reference
	v.toPixel = func(q relief.Point) homography.Pixel { return r.ImageFromPlane(homography.PlanePoint(q)) }
	mid, err := r.PlaneFromImage(
		homography.Pixel{X: float64(v.photo.Width-1) / 2, Y: float64(v.photo.Height-1) / 2},
	)
	if err != nil {
		v.m.refuse(codes.NoDent.With())
		return nil
	}
	r.Move(mid, 0)
	start, best, score := *r, *r, 0.0
	for _, o := range foamOffsets {
		if err := ctx.Err(); err != nil {
			return err
		}
		*r = start
		r.Move(homography.PlanePoint(o), 0)
		w, err := sheet.FoamWindow(grey, r, v.toPixel)
		if err != nil {
			return err
		}
		one, err := t.peek(v, w)
		if err != nil {
			return err
		}
		if one != nil && one.Count[2] > score {
			r.Move(between(*one))
			best, score = *r, one.Count[2]
		}
	}
	*r = best
	v.m.GroundSample = groundSample(v.toPixel)
	if _, known := scale.FocalOf(v.photo); !known {
		v.m.Warn(codes.FocalUnknown.With(v.photo.FocalBasis()))
	}
	v.m.Review(codes.FoamWithoutFrame.With())
	w, err := sheet.FoamWindow(grey, r, v.toPixel)
	if err != nil {
		return err
	}
	return t.readWindow(v, w)
}
