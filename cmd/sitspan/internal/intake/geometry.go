package intake

import (
	"math"

	"sitspan/calibration"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/imprint"
	"sitspan/imprint/homography"
	"sitspan/imprint/spacing"
)

// geometry is what a reviewer needs to move a centre; nil where nothing tells
// how the picture's pixels lie on a plane.
func (s *Station) geometry(o Outcome) *record.Geometry {
	plane := planeOf(o)
	if plane == nil || len(o.made.Parts) > 0 && o.made.OfSittings {
		return nil
	}
	h, ok := homographyOf(plane, calibration.ControlFrame.Window)
	if !ok {
		return nil
	}
	print := s.settings.PrintOn(o.made.Medium)
	if o.made.Plane == nil {
		print = calibration.Print{ScaleX: 1, ScaleY: 1}
	}
	g := &record.Geometry{
		ImageFromPlane:   h,
		PrintScale:       [2]float64{print.ScaleX, print.ScaleY},
		PrintScaleU:      print.UX,
		PrintU:           &[2]float64{print.UX, print.UY},
		PrintCorrelation: print.CorrelationXY,
	}
	if c := cameraOf(o.made); c != nil {
		v := c.Covariance
		g.Camera = &[3]float64{c.Position.X, c.Position.Y, c.Height}
		g.CameraU = &[3]float64{math.Sqrt(v[0][0]), math.Sqrt(v[1][1]), math.Sqrt(v[2][2])}
		g.CameraCov = &[6]float64{v[0][0], v[0][1], v[0][2], v[1][1], v[1][2], v[2][2]}
	}
	if o.made.Medium == calibration.Foam && g.Camera != nil {
		s.addDepth(g)
		if o.made.Plane == nil {
			g.CardMM, g.CardU = 0, 0 // no frame's card lies between
		}
	}
	return g
}

// cameraOf is the camera over the plane that gave the scale; nil over a scan.
func cameraOf(m *imprint.Measurement) *homography.Camera {
	switch {
	case m.Plane != nil:
		return m.Plane.Camera
	case m.Reference != nil:
		return m.Reference.Camera
	}
	return nil
}

// addDepth is the depth below the pad's surface: the gauge's, else the pad's.
func (s *Station) addDepth(g *record.Geometry) {
	pad := s.settings.Pad
	if pad.Name == "" || pad.Medium != calibration.Foam {
		pad = calibration.FoamPad()
	}
	d := spacing.ProfileDepths(pad)
	g.DepthU = pad.DepthUCommon
	if gauge := (spacing.Gauge{MM: s.settings.DepthMM, U: s.settings.DepthU}); len(gauge.MM) > 0 {
		d = gauge.Depths()
		g.DepthU = math.Sqrt(d.Cov[0][0])
	}
	g.CardMM, g.CardU, g.DepthMM = pad.CardThickness, pad.CardThicknessU, d.Mean()
	g.DepthsMM, g.DepthCov = &[2]float64{d.Left, d.Right}, &[3]float64{d.Cov[0][0], d.Cov[0][1], d.Cov[1][1]}
}

// homographyOf is the homography of where the picture shows a grid of points over the window.
func homographyOf(plane func([2]float64) [2]float64, window calibration.Size) (homography.Projective, bool) {
	const n = 7
	var on []homography.PlanePoint
	var seen []homography.Pixel
	for i := range n * n {
		x, y := (float64(i%n)/(n-1)-0.5)*window.Width, (float64(i/n)/(n-1)-0.5)*window.Height
		q := plane([2]float64{x, y})
		on, seen = append(
			on,
			homography.PlanePoint{X: x, Y: y},
		), append(
			seen,
			homography.Pixel{X: q[0], Y: q[1]},
		)
	}
	h, err := homography.Direct(on, seen)
	return h, err == nil
}
