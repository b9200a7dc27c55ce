package spacing

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
)

// sharedError is the share of a reading's variance that all photos of one imprint have in common where each
// was read by itself, because the same shape misleads the net in the same way under every lamp. On the photos
// kept apart it was about a third. Photos that were read together share all of it: each reading knows what
// the others show.
const sharedError = 0.35

// View is one photo of an imprint: where it was taken from, and what was read in it.
type View struct {
	Camera  *homography.Camera // nil for a scan
	Reading Reading
}

// Imprint is what all photos of one imprint share.
type Imprint struct {
	Deep  bool // bottoms lie below the plane; paper has no depth
	Gauge Gauge
	Pad   calibration.Pad
	Print calibration.Print
}

// Joint is the solution of several photos: both bottoms are shared, each photo has its own pose and light.
type Joint struct {
	Views    []View // as they were read, together where that was possible
	Alone    []View // the same, each as it was read by itself
	Together bool   // the readings know of one another
	Value    float64
	Ends     [2]homography.Triangulated
	imprint  Imprint
}

// shift is a change of the joint solution's inputs, for the sensitivities.
type shift struct {
	view  int     // whose reading; below 0 for none
	side  int     // 0 left, 1 right
	dx    float64 // mm on the plane
	depth [2]float64
	focal float64 // relative, of all cameras
}

var nothing = shift{view: -1}

// Solve solves several photos of one imprint as one.
func Solve(views []View, of Imprint) (Joint, error) {
	j := Joint{Views: views, Alone: views, imprint: of}
	var err error
	j.Value, j.Ends, err = j.at(nothing)
	return j, err
}

// at solves both bottoms with the inputs shifted.
func (j Joint) at(d shift) (mm float64, ends [2]homography.Triangulated, err error) {
	for side := range ends {
		ends[side], err = j.end(side, d)
		if err != nil {
			return 0, ends, err
		}
	}
	return j.Point(ends[0]).Distance(j.Point(ends[1])), ends, nil
}

// Point is an end in true mm.
func (j Joint) Point(e homography.Triangulated) homography.PlanePoint {
	return truePoint(j.imprint.Print, e.Point)
}

// seen is where a side is seen in a view, and its tempered covariance.
func (v View) seen(side int) (homography.PlanePoint, homography.Covariance2) {
	s := v.Reading.Left
	if side == 1 {
		s = v.Reading.Right
	}
	return s.At, v.Reading.covariance(s)
}

// end solves one bottom from all views: lines of sight where there is a camera and a depth, means on the
// plane otherwise.
func (j Joint) end(side int, d shift) (homography.Triangulated, error) {
	var sights []homography.Sight
	for i, v := range j.Views {
		at, cov := v.seen(side)
		if d.view == i && d.side == side {
			at.X += d.dx
		}
		c := v.Camera
		if c == nil {
			continue
		}
		if d.focal != 0 {
			moved := *c
			moved.Position.X += c.ByFocal[0] * d.focal
			moved.Position.Y += c.ByFocal[1] * d.focal
			moved.Height += c.ByFocal[2] * d.focal
			c = &moved
		}
		sights = append(sights, homography.Sight{Camera: c, Seen: at, Covariance: cov})
	}
	prior := j.prior(side)
	prior.Millimetres += d.depth[side]
	if len(sights) < len(j.Views) {
		return j.mean(side, d), nil
	}
	return homography.Triangulate(sights, prior)
}

// mean is the weighted mean on the plane, for sheets without depth.
func (j Joint) mean(side int, d shift) (t homography.Triangulated) {
	var w, x, y float64
	for i, v := range j.Views {
		at, cov := v.seen(side)
		if d.view == i && d.side == side {
			at.X += d.dx
		}
		k := 2 / (cov[0][0] + cov[1][1])
		w, x, y = w+k, x+k*at.X, y+k*at.Y
	}
	t.Point = homography.PlanePoint{X: x / w, Y: y / w}
	t.Covariance[0][0], t.Covariance[1][1] = 1/w, 1/w
	return t
}

// prior is what is known of a side's depth below the frame's plane beforehand; on paper it is none, known
// well.
func (j Joint) prior(side int) homography.Depth {
	if !j.imprint.Deep {
		return homography.Depth{Millimetres: 0, U: 0.05}
	}
	d, pad := j.Depths(), j.imprint.Pad
	return homography.Depth{
		Millimetres: [2]float64{d.Left, d.Right}[side] + pad.CardThickness,
		U:           math.Sqrt(d.Cov[side][side] + pad.CardThicknessU*pad.CardThicknessU),
	}
}

// Depths are the gauge's, or the profile's sharpened by the mean of what the photos' shading says.
func (j Joint) Depths() Depths {
	var l, r Seen
	n := float64(len(j.Views))
	for _, v := range j.Views {
		l.Depth += v.Reading.Left.Depth / n
		r.Depth += v.Reading.Right.Depth / n
		l.VarDepth += v.Reading.Left.VarDepth / n
		r.VarDepth += v.Reading.Right.VarDepth / n
	}
	return DepthsFor(j.imprint.Gauge, j.imprint.Pad, l, r)
}

// AgainstGauge is a gauge's depths, and what the photos say of them without it; false where there is no gauge
// or no depth.
func (j Joint) AgainstGauge() (gauge, seen Depths, ok bool) {
	given := j.imprint.Gauge
	if len(given.MM) == 0 || !j.imprint.Deep {
		return gauge, seen, false
	}
	j.imprint.Gauge = Gauge{}
	var err error
	if j.Value, j.Ends, err = j.at(nothing); err != nil {
		return gauge, seen, false
	}
	l, r := j.Bottom(0), j.Bottom(1)
	seen = Depths{Left: l.Depth, Right: r.Depth,
		Cov: homography.Covariance2{{l.DepthU * l.DepthU, 0}, {0, r.DepthU * r.DepthU}}}
	return given.Depths(), seen, true
}

// Contrast is how much deeper the right bottom was solved than the left one, mm, and its standard
// uncertainty.
func (j Joint) Contrast() (mm, u float64) {
	return j.Ends[1].Depth - j.Ends[0].Depth, math.Hypot(j.Ends[0].UDepth(), j.Ends[1].UDepth())
}

// Bottom is one solved bottom. OnPlane is not said: each photo sees it elsewhere.
func (j Joint) Bottom(side int) (b Bottom) {
	e := j.Ends[side]
	b.Point = j.Point(e)
	// the triangulation takes the readings' errors for independent
	common := 1 + float64(len(j.Views)-1)*j.shared()
	for i := range 2 {
		for k := range 2 {
			b.Covariance[i][k] = common * e.Covariance[i][k]
		}
	}
	if j.imprint.Deep {
		pad := j.imprint.Pad
		b.Depth, b.DepthU = e.Depth-pad.CardThickness, math.Hypot(e.UDepth(), pad.CardThicknessU)
		b.DepthBasis = codes.ViewsOf.With(len(j.Views), j.Depths().Basis)
	}
	return b
}

// Flat is the radius in mm of one side's bottom within 0.3 mm of the deepest, as the photos have it on
// average: one imprint has one flat, and no lamp makes it smaller.
func (j Joint) Flat(side int) (radius float64) {
	for _, v := range j.Views {
		radius += [2]float64{v.Reading.Left.Flat, v.Reading.Right.Flat}[side] / float64(len(j.Views))
	}
	return radius
}

// shared is the share of the readings' variance that they have in common.
func (j Joint) shared() float64 {
	if j.Together {
		return 1
	}
	return sharedError
}
