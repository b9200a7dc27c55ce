package imprint

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
)

// shadowedDents is how it is said which dents the shadow reaches.
type shadowedDents struct{ left, right, both *codes.Entry }

var (
	shadowed       = shadowedDents{codes.ShadowOnLeft, codes.ShadowOnRight, codes.ShadowOnBoth}
	shadowedInSome = shadowedDents{codes.ShadowLeftOfSome, codes.ShadowRightOfSome, codes.ShadowBothOfSome}
)

// shadowed says that the frame's own shadow reaches a dent of a foam photo, or is nil. The frame's card lies
// on the pad's high spots; under a lamp low at one side its edge throws a dark shadow into the window,
// farthest where a dent lies at the rim. Over a dent's bottom it hides the change of the shading that the
// centre is read by, and the reading is less sure than it says.
func (v *sight) shadowed(say shadowedDents) *codes.Said {
	if !v.read || v.m.Medium != calibration.Foam || v.m.Plane == nil || v.m.Status == Refused {
		return nil
	}
	return say.of(v.window.ShadowGap(v.reading.Left.At, v.reading.Right.At))
}

// of says it of a shadow that stays so many mm away from either dent; nil where that is enough.
func (say shadowedDents) of(left, right float64) *codes.Said {
	on := say.both
	switch gap := math.Min(left, right); {
	case gap > judge.ShadowGap.Value:
		return nil
	case right > judge.ShadowGap.Value:
		on = say.left
	case left > judge.ShadowGap.Value:
		on = say.right
	}
	return said(on.With(math.Ceil(math.Min(left, right)), judge.ShadowGap.Value))
}

// judgeShadow sends a single photo to review for the frame's own shadow on a dent.
func (v *sight) judgeShadow() {
	if r := v.shadowed(shadowed); r != nil {
		v.m.Review(*r)
	}
}

// warnShadow only warns of it: the other photos of the imprint, with the lamp elsewhere, hold the reading to
// account.
func (v *sight) warnShadow() {
	if r := v.shadowed(shadowedInSome); r != nil {
		v.m.Warn(*r)
	}
}
