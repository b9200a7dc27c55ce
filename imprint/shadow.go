package imprint

import (
	"fmt"
	"math"

	"sitspan/calibration"
)

// leastShadowGap is how many mm the frame's own shadow must stay away from where a centre was read: the deepest point is the
// top of all within 4 mm of it, beside a shadow one has been read 3 mm off, and as much again is left for caution.
const leastShadowGap = 10.0

// shadowed says that the frame's own shadow reaches a dent of a foam photo, or is nil. The frame's card lies on the pad's high
// spots; under a lamp low at one side its edge throws a dark shadow into the window, farthest where a dent lies at the rim. Over
// a dent's bottom it hides the change of the shading that the centre is read by, and the reading is less sure than it says.
func (v *sight) shadowed() *Reason {
	if !v.read || v.m.Medium != calibration.Foam || v.m.Plane == nil || v.m.Status == Refused {
		return nil
	}
	l, r := v.window.ShadowGap(v.reading.Left.At, v.reading.Right.At)
	dents := "both dents"
	switch gap := math.Min(l, r); {
	case gap > leastShadowGap:
		return nil
	case r > leastShadowGap:
		dents = "the left dent"
	case l > leastShadowGap:
		dents = "the right dent"
	}
	reason := frameShadow(dents, math.Min(l, r))
	return &reason
}

// judgeShadow sends a single photo to review for the frame's own shadow on a dent.
func (v *sight) judgeShadow() {
	if r := v.shadowed(); r != nil {
		v.m.review(*r)
	}
}

// warnShadow only warns of it: the other photos of the imprint, with the lamp elsewhere, hold the reading to account.
func (v *sight) warnShadow() {
	if r := v.shadowed(); r != nil {
		v.m.warn(r.Code, "in one of the photos or more "+r.Message, "take another photo with the lamp higher or at another side in its place")
	}
}

func frameShadow(dents string, gap float64) Reason {
	return Reason{"frame_shadow",
		fmt.Sprintf("the frame's own shadow reaches %s: it comes within %.0f mm of where the centre was read; more than %.0f mm is needed", dents, math.Ceil(gap), leastShadowGap),
		"put the lamp higher or at another side, or lay the frame so that both dents lie in the middle of its window, and take the photo again; or look at the overlay and confirm the centres"}
}
