package relief

import "sitspan/imprint/spacing"

// Level is how many mm below the frame's plane the plane lies on which foam is read: about where the bottoms
// are. Seen from several places they lie about the same there, while on the frame's plane they part by their
// whole parallax.
const Level = 10.0

// Photos is how many photos of one imprint the net reads together.
const Photos = 3

// OnFrame is where a point of the plane Level mm below the frame's is seen on it: equation (1) of
// docs/measurement-model.md. A scan sees it straight from above.
func (v View) OnFrame(p Point) Point {
	s := v.level()
	return Point{v.X + s*(p.X-v.X), v.Y + s*(p.Y-v.Y)}
}

// level is what a length on the lower plane shrinks to on the frame's.
func (v View) level() float64 {
	if v.Height <= 0 {
		return 1
	}
	return spacing.Shrink(v.Height, Level)
}

// OnFrame is a reading of the lower plane as it is seen on the frame's: places in mm, variances in mm^2.
func (r Reading) OnFrame(v View) Reading {
	s := v.level()
	r.VarSpacing *= s * s
	r.Mirror *= s
	for _, side := range []*Side{&r.Left, &r.Right} {
		side.At, side.SecondPlace = v.OnFrame(side.At), v.OnFrame(side.SecondPlace)
		side.VarX *= s * s
		side.VarY *= s * s
	}
	return r
}
