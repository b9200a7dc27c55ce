package imprint

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
)

// takeOffBlank takes the empty pad's brightness off the windows of the frame's plane and of the one below, so
// that paint, dirt and old dents go. A blank that does not belong to the photo is not used and says so; the
// measurement goes to review, since its dents may be the old ones.
func (v *sight) takeOffBlank(w, lower *relief.Window, blank *photo.Photo) {
	if v.m.Medium != calibration.Foam {
		v.m.Warn(codes.BlankForPaper.With())
		return
	}
	b, under, reason := blankWindows(blank, w.View)
	if reason == nil {
		reason = mismatch(v, *w, b, blank)
	}
	if reason != nil {
		v.m.Review(*reason)
		return
	}
	relief.TakeOff(w, b)
	relief.TakeOff(lower, under)
}

// blankWindows reads the empty pad's window of the frame's plane, and once more where the imprint's lines of
// sight through the cells of the plane below meet the frame's; or says why that is not possible.
func blankWindows(p *photo.Photo, imprint relief.View) (w, under relief.Window, why *codes.Said) {
	m := &Measurement{Verdict: judge.Verdict{Status: Measured}}
	grey := p.Grey()
	plane := m.findPlane(p, grey)
	if plane == nil || m.Status == Refused {
		return w, under, said(codes.BlankRefused.With(m.Reasons[0]))
	}
	place := func(q relief.Point) homography.Pixel {
		return plane.Fit.ImageFromPlane(homography.PlanePoint(q))
	}
	w, err := reading.Rectify(grey, place, reading.ViewOf(plane.Camera), nil)
	if err == nil {
		under, err = reading.Rectify(
			grey,
			func(q relief.Point) homography.Pixel { return place(imprint.OnFrame(q)) },
			w.View,
			nil,
		)
	}
	if err != nil {
		return w, under, said(codes.BlankUnread.With(err.Error()))
	}
	for i := range w.Light {
		if math.IsNaN(w.Light[i]) || math.IsNaN(under.Light[i]) {
			return w, under, said(codes.BlankCut.With())
		}
	}
	return w, under, nil
}

// mismatch tells what speaks against the blank's showing the same pad, with the frame at the same place in
// the same light.
func mismatch(v *sight, w, b relief.Window, blank *photo.Photo) *codes.Said {
	if v.photo.SHA256 == blank.SHA256 {
		return said(codes.BlankItself.With())
	}
	here, _, _ := w.OverFrame()
	there, _, _ := b.OverFrame()
	if off := math.Abs(math.Log(here / there)); off > judge.TwoSheets.Value {
		return said(codes.BlankBrightness.With(100 * there / here))
	}
	if relief.Stranger(w, b) {
		return said(codes.BlankStranger.With())
	}
	return nil
}

func said(s codes.Said) *codes.Said { return &s }
