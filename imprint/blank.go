package imprint

import (
	"fmt"
	"math"

	"sitspan/calibration"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
)

// takeOffBlank takes the empty pad's brightness off the windows of the frame's plane and of the one below, so that paint, dirt
// and old dents go. A blank that does not belong to the photo is not used and says so; the measurement goes to review, since its
// dents may be the old ones.
func (v *sight) takeOffBlank(w, lower *relief.Window, blank *photo.Photo) {
	if v.m.Medium != calibration.Foam {
		v.m.warn("blank_unusable", "the photo of the empty pad was not used: marking paper needs none", "leave out --blank for paper")
		return
	}
	b, under, reason := blankWindows(blank, w.View)
	if reason == nil {
		reason = mismatch(v, *w, b, blank)
	}
	if reason != nil {
		v.m.review(*reason)
		return
	}
	relief.TakeOff(w, b)
	relief.TakeOff(lower, under)
}

// blankWindows reads the empty pad's window of the frame's plane, and once more where the imprint's lines of sight through the
// cells of the plane below meet the frame's; or says why that is not possible.
func blankWindows(p *photo.Photo, imprint relief.View) (w, under relief.Window, why *Reason) {
	m := &Measurement{Status: Measured}
	grey := p.Grey()
	plane := findPlane(m, p, grey)
	if plane == nil || m.Status == Refused {
		return w, under, blankUnusable(m.Reasons[0].Message, m.Reasons[0].Hint)
	}
	place := func(q relief.Point) homography.Pixel { return plane.Fit.ImageFromPlane(homography.PlanePoint(q)) }
	w, err := rectify(grey, place, viewOf(plane.Camera))
	if err == nil {
		under, err = rectify(grey, func(q relief.Point) homography.Pixel { return place(imprint.OnFrame(q)) }, w.View)
	}
	if err != nil {
		return w, under, blankUnusable(err.Error(), "take it with the frame, as for the imprint")
	}
	for i := range w.Light {
		if math.IsNaN(w.Light[i]) || math.IsNaN(under.Light[i]) {
			return w, under, blankUnusable("part of the frame's window lies outside it", "take it with the whole frame in the picture, as for the imprint")
		}
	}
	return w, under, nil
}

// mismatch tells what speaks against the blank's showing the same pad, with the frame at the same place in the same light.
func mismatch(v *sight, w, b relief.Window, blank *photo.Photo) *Reason {
	if v.photo.SHA256 == blank.SHA256 {
		return blankUnusable("it is the imprint's own photo", "take one of the pad before the rider sits")
	}
	here, _, _ := w.OverFrame()
	there, _, _ := b.OverFrame()
	if off := math.Abs(math.Log(here / there)); off > twoSheets {
		return blankUnusable(fmt.Sprintf("its pad has %.0f %% of the brightness of the imprint's, beside the frame's white", 100*there/here),
			"take it of the same pad, in the same light")
	}
	if relief.Stranger(w, b) {
		return blankUnusable("its stains and old dents lie or look otherwise on the imprint's photo",
			"take it of the same pad just before the rider sits, with the frame at the same place and the lamp where it is for the imprint")
	}
	return nil
}

func blankUnusable(why, hint string) *Reason {
	return &Reason{"blank_unusable", "the photo of the empty pad was not used: " + why, hint}
}
