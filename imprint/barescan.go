package imprint

import (
	"context"
	"image"
	"math"

	"sitspan/calibration"
	"sitspan/imprint/homography"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
	"sitspan/imprint/scale"
)

// lookAtBareScan reads a scan of marking paper without a frame, by its stated resolution: no camera, no
// parallax. The two marks are found on the whole sheet first, and a window is laid round them so that they
// lie left and right.
func (t *Meter) lookAtBareScan(ctx context.Context, v *sight, grey *image.Gray) error {
	m := v.m
	d := v.photo.Density
	m.Anew()
	m.Medium = calibration.Paper
	m.ScaleSource, m.PxPerMM, m.GroundSample = scale.ByResolution, [2]float64{d.X, d.Y}, 1/math.Sqrt(d.X*d.Y)
	sheet, err := reading.NewSheet(v.photo, grey)
	if err != nil {
		return err
	}
	if m.Status == Refused || ctx.Err() != nil {
		return ctx.Err()
	}
	at, turn, reason := sheet.Locate()
	if reason != nil {
		m.refuse(*reason)
		return nil
	}
	c, s := math.Cos(turn), math.Sin(turn)
	onGlass := func(q relief.Point) relief.Point {
		return relief.Point{X: at.X + c*q.X - s*q.Y, Y: at.Y + s*q.X + c*q.Y}
	}
	v.toPixel = func(q relief.Point) homography.Pixel {
		p := onGlass(q)
		return homography.Pixel{X: p.X*d.X - 0.5, Y: p.Y*d.Y - 0.5}
	}
	levels, err := reading.SampleAt(
		grey,
		relief.Columns,
		relief.Rows,
		func(i int) homography.Pixel { return v.toPixel(relief.At(i)) },
	)
	if err != nil {
		return err
	}
	v.onPaper = func(q relief.Point) bool { return sheet.OnPaper(onGlass(q)) }
	light := reading.Linear(levels)
	v.paper(relief.FrameLight{}).Keep(light, relief.At)
	if err := t.readWindow(v, relief.Window{Light: reading.Spread(light)}); err != nil {
		return err
	}
	return v.readInk(grey, relief.FrameLight{})
}
