package imprint

import (
	"context"
	"errors"
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
)

// sharedError is the share of a reading's variance that all photos of one imprint have in common where each was read by itself,
// because the same shape misleads the net in the same way under every lamp. On the photos kept apart it was about a third.
// Photos that were read together share all of it: each reading knows what the others show.
const sharedError = 0.35

// disagrees is the agreement (see joint.agreement) beyond which a photo is taken to show another imprint.
const disagrees = 1.5

// MeasureTogether solves several photos of one imprint as one: each has its own light and pose, the two bottoms are shared.
// Seen from different places the lines of sight also give the depths. A photo that contradicts the others is dropped.
func (t *Meter) MeasureTogether(ctx context.Context, photos []*photo.Photo, s Settings) (*Measurement, error) {
	if len(photos) == 0 {
		return nil, errors.New("no photo was given")
	}
	var all []*sight
	for _, p := range photos {
		v, err := t.look(ctx, p, s)
		if err != nil {
			return nil, err
		}
		if len(photos) == 1 {
			v.concludeAlone(s)
			return v.m, nil
		}
		v.conclude(s)
		v.warnShadow()
		all = append(all, v)
	}
	if m, ok, err := measureRelief(all, s); ok || err != nil {
		m.compareWithNet(all, s)
		return m, err
	}
	return combine(all, s, t.readTogether)
}

// combine solves the usable sights together, dropping at most one that contradicts the rest. What is left, where it agrees, is
// read once more by reread, all as one, now that it is known to belong to one imprint.
func combine(all []*sight, s Settings, reread func([]*sight) ([]*sight, error)) (*Measurement, error) {
	used, medium := usable(all)
	m := &Measurement{Status: Measured, Medium: medium}
	for _, v := range all {
		m.Parts = append(m.Parts, Part{Measurement: v.m, Used: contains(used, v), Why: whyNot(v, used)})
	}
	if len(used) == 0 {
		m.copyRefusal(all[0].m)
		return m, nil
	}
	j := solve(used, s)
	if len(used) > 2 {
		if odd := j.odd(); odd != nil {
			rest := without(used, odd)
			if k := solve(rest, s); k.err == nil {
				m.drop(all, odd, k)
				used, j = rest, k
			}
		}
	}
	if j.err != nil {
		m.refuse(codes.PhotosNotOne.With(j.err.Error()))
		return m, nil
	}
	if j.consistent() {
		read, err := reread(used)
		if err != nil {
			return nil, err
		}
		if k := solve(read, s); k.err == nil {
			k.alone = used
			j = k
		}
	}
	j.report(m, all, s)
	return m, nil
}

func usable(all []*sight) (used []*sight, medium calibration.Medium) {
	for _, v := range all {
		if v.read && v.m.Left != nil {
			if medium == "" {
				medium = v.m.Medium
			}
			if v.m.Medium == medium {
				used = append(used, v)
			}
		}
	}
	return used, medium
}

func whyNot(v *sight, used []*sight) (why codes.Said) {
	switch {
	case contains(used, v):
		return why
	case len(v.m.Reasons) > 0:
		return codes.NotUsable.With(v.m.Reasons[0])
	}
	return codes.OtherMedium.With()
}

func contains(list []*sight, v *sight) bool {
	for _, w := range list {
		if w == v {
			return true
		}
	}
	return false
}

func without(list []*sight, v *sight) (rest []*sight) {
	for _, w := range list {
		if w != v {
			rest = append(rest, w)
		}
	}
	return rest
}

// copyRefusal says of a set what its first photo says.
func (m *Measurement) copyRefusal(of *Measurement) {
	m.Status, m.Reasons, m.Marks = Refused, of.Reasons, of.Marks
}

func (m *Measurement) drop(all []*sight, odd *sight, k joint) {
	for i, v := range all {
		if v == odd {
			m.Parts[i].Used = false
			m.Parts[i].Why = codes.OtherImprint.With(k.agreement(v))
		}
	}
}

// joint is the solution of several sights.
type joint struct {
	used     []*sight // as they were read, together where that was possible
	alone    []*sight // the same, each as it was read by itself
	settings Settings
	pad      calibration.Pad
	print    calibration.Print
	spacing  float64
	ends     [2]homography.Triangulated
	err      error
}

// shift is a perturbation of the joint solution's inputs, for the sensitivities.
type shift struct {
	sight  int     // whose reading
	side   int     // 0 left, 1 right
	dx, dy float64 // mm on the plane
	depth  [2]float64
	focal  float64 // relative, of all cameras
}

func solve(used []*sight, s Settings) joint {
	j := joint{used: used, alone: used, settings: s, print: used[0].m.printOf(s), pad: s.pad(used[0].m.Medium)}
	j.spacing, j.ends, j.err = j.at(shift{sight: -1})
	return j
}

// at solves both bottoms with the inputs shifted.
func (j joint) at(d shift) (spacing float64, ends [2]homography.Triangulated, err error) {
	for side := range ends {
		ends[side], err = j.end(side, d)
		if err != nil {
			return 0, ends, err
		}
	}
	l, r := j.true_(ends[0]), j.true_(ends[1])
	return l.Distance(r), ends, nil
}

func (j joint) true_(t homography.Triangulated) homography.PlanePoint {
	return homography.PlanePoint(j.print.True(nominal(t.Point)))
}

// end solves one bottom from all sights: lines of sight where there is a camera and a depth, means on the plane otherwise.
func (j joint) end(side int, d shift) (homography.Triangulated, error) {
	var sights []homography.Sight
	for i, v := range j.used {
		at, cov := v.seen(side)
		if d.sight == i && d.side == side {
			at.X += d.dx
			at.Y += d.dy
		}
		c := v.camera()
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
	if len(sights) < len(j.used) {
		return j.mean(side, d), nil
	}
	return homography.Triangulate(sights, prior)
}

// mean is the weighted mean on the plane, for sheets without depth.
func (j joint) mean(side int, d shift) (t homography.Triangulated) {
	var w, x, y float64
	for i, v := range j.used {
		at, cov := v.seen(side)
		if d.sight == i && d.side == side {
			at.X += d.dx
			at.Y += d.dy
		}
		k := 2 / (cov[0][0] + cov[1][1])
		w, x, y = w+k, x+k*at.X, y+k*at.Y
	}
	t.Point = homography.PlanePoint{X: x / w, Y: y / w}
	t.Covariance[0][0], t.Covariance[1][1] = 1/w, 1/w
	return t
}

// seen is where the sight's reading lies on the plane, with its tempered covariance.
func (v *sight) seen(side int) (homography.PlanePoint, homography.Covariance2) {
	s := v.reading.Left
	if side == 1 {
		s = v.reading.Right
	}
	t := v.temper()
	return onPlane(s.At), homography.Covariance2{{t * t * s.VarX, 0}, {0, t * t * s.VarY}}
}

func (v *sight) camera() *homography.Camera {
	switch {
	case v.m.Plane != nil:
		return v.m.Plane.Camera
	case v.m.Reference != nil:
		return v.m.Reference.Camera
	}
	return nil
}

// prior is what is known of a side's depth below the frame's plane beforehand; on paper it is none, known well.
func (j joint) prior(side int) homography.Depth {
	if j.used[0].m.Medium == calibration.Paper {
		return homography.Depth{Millimetres: 0, U: 0.05}
	}
	d := j.depths()
	v := [2]float64{d.left, d.right}
	return homography.Depth{Millimetres: v[side] + j.pad.CardThickness, U: math.Sqrt(d.cov[side][side] + j.pad.CardThicknessU*j.pad.CardThicknessU)}
}

// depths are the gauge's, or the profile's sharpened by the mean of what the photos' shading says.
func (j joint) depths() depths {
	var mean relief.Reading
	n := float64(len(j.used))
	for _, v := range j.used {
		mean.Left.Depth += v.reading.Left.Depth / n
		mean.Right.Depth += v.reading.Right.Depth / n
		mean.Left.VarDepth += v.reading.Left.VarDepth / n
		mean.Right.VarDepth += v.reading.Right.VarDepth / n
	}
	return depthsFor(j.settings, j.pad, mean)
}

// difference is how much a sight's distance on its plane is off what the solved bottoms would show there, mm.
func (j joint) difference(v *sight) float64 {
	l, r := j.ends[0].Point, j.ends[1].Point
	if c := v.camera(); c != nil {
		if a, err := homography.SeenAt(c, l, j.ends[0].Depth); err == nil {
			l = a
		}
		if a, err := homography.SeenAt(c, r, j.ends[1].Depth); err == nil {
			r = a
		}
	}
	return v.reading.Distance() - l.Distance(r)
}

// chi95 is the 95 % quantile of chi-square with four degrees of freedom: two coordinates of two centres.
const chi95 = 9.488

// agreement tells how far a sight's two centres lie from where the solved bottoms would be seen: the root of its chi-square
// over the 95 % quantile, so that 1 is the edge of what chance explains.
func (j joint) agreement(v *sight) float64 {
	var chi float64
	for side, e := range j.ends {
		at, cov := v.seen(side)
		want := e.Point
		if c := v.camera(); c != nil {
			if a, err := homography.SeenAt(c, e.Point, e.Depth); err == nil {
				want = a
			}
		}
		chi += (at.X-want.X)*(at.X-want.X)/(cov[0][0]+leastSeen*leastSeen) + (at.Y-want.Y)*(at.Y-want.Y)/(cov[1][1]+leastSeen*leastSeen)
	}
	return math.Sqrt(chi / chi95)
}

// leastSeen is the standard uncertainty in mm that every reading has at the least when photos are compared: the frame may
// have been touched.
const leastSeen = 0.3

// odd is the sight that contradicts the others most, if any does: judged against a solution without it.
func (j joint) odd() (worst *sight) {
	most := disagrees
	for _, v := range j.used {
		k := solve(without(j.used, v), j.settings)
		if k.err != nil {
			continue
		}
		if a := k.agreement(v); a > most && k.consistent() {
			worst, most = v, a
		}
	}
	return worst
}

// consistent tells whether the sights agree among themselves, each as it was read by itself: read together they always do.
func (j joint) consistent() bool {
	for _, v := range j.alone {
		if j.agreement(v) > disagrees {
			return false
		}
	}
	return true
}
