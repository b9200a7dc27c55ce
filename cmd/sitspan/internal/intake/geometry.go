package intake

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sitspan/calibration"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/imprint"
	"sitspan/imprint/homography"
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
	print := s.settings.Print
	if print.ScaleX == 0 {
		print = calibration.UnverifiedPrint()
	}
	g := &record.Geometry{ImageFromPlane: h, PrintScale: [2]float64{print.ScaleX, print.ScaleY}, PrintScaleU: print.UX}
	if o.made.Plane == nil {
		g.PrintScale, g.PrintScaleU = [2]float64{1, 1}, 0
	}
	if c := cameraOf(o.made); c != nil {
		g.Camera = &[3]float64{c.Position.X, c.Position.Y, c.Height}
		g.CameraU = &[3]float64{math.Sqrt(c.Covariance[0][0]), math.Sqrt(c.Covariance[1][1]), math.Sqrt(c.Covariance[2][2])}
	}
	if o.made.Medium == calibration.Foam && g.Camera != nil {
		s.addDepth(g)
		if o.made.Plane == nil {
			g.CardMM = 0 // no frame's card lies between
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
	g.CardMM, g.DepthMM, g.DepthU = pad.CardThickness, pad.DepthMM, pad.DepthUCommon
	if d := s.settings.DepthMM; len(d) > 0 {
		g.DepthMM, g.DepthU = (d[0]+d[len(d)-1])/2, max(s.settings.DepthU, 1)
	}
}

// homographyOf fits a homography, by least squares of the linear equations, to
// where the picture shows a grid of points over the window.
func homographyOf(plane func([2]float64) [2]float64, window calibration.Size) (h [9]float64, ok bool) {
	const n = 7
	a, b := mat.NewDense(2*n*n, 8, nil), mat.NewVecDense(2*n*n, nil)
	half := [2]float64{window.Width / 2, window.Height / 2}
	mid := plane([2]float64{})
	for i := range n * n {
		// Coordinates of about 1 keep the equations well conditioned.
		x, y := 2*float64(i%n)/(n-1)-1, 2*float64(i/n)/(n-1)-1
		q := plane([2]float64{x * half[0], y * half[1]})
		u, v := (q[0]-mid[0])/1000, (q[1]-mid[1])/1000
		a.SetRow(2*i, []float64{x, y, 1, 0, 0, 0, -u * x, -u * y})
		a.SetRow(2*i+1, []float64{0, 0, 0, x, y, 1, -v * x, -v * y})
		b.SetVec(2*i, u)
		b.SetVec(2*i+1, v)
	}
	var p mat.VecDense
	if err := p.SolveVec(a, b); err != nil {
		return h, false
	}
	g := [9]float64{8: 1}
	copy(g[:8], p.RawVector().Data)
	// Back to px and mm: px = mid + 1000 u, and x = mm / half.
	for j := range 3 {
		h[j] = 1000*g[j] + mid[0]*g[6+j]
		h[3+j] = 1000*g[3+j] + mid[1]*g[6+j]
		h[6+j] = g[6+j]
	}
	for i := range 3 {
		h[3*i] /= half[0]
		h[3*i+1] /= half[1]
	}
	for _, v := range h {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return h, false
		}
	}
	return h, true
}
