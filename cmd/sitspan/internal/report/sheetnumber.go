package report

import (
	"fmt"
	"math"
	"strconv"

	"sitspan/calibration"
)

// hero is the picture with the centres, and beside it the distance.
func (s *sheet) hero(y float64) float64 {
	width, height, caption := s.figureAt(s.left(), y)
	x := s.left() + width + s.gap(8)
	bottom := y + height + s.gap(1.2)
	numberBottom := s.number(x, y, s.right()-x)
	st := s.quiet()
	st.pt *= 0.9
	if numberBottom < bottom { // the caption may go on below the number
		width = s.inner()
	}
	return max(numberBottom, s.text(s.left(), bottom, width, st, caption))
}

// figureAt draws the photo where there is one, else the plan, and returns its
// size in mm and its caption.
func (s *sheet) figureAt(x, y float64) (width, height float64, caption string) {
	window := calibration.ControlFrame.Window
	w, h := window.Width*s.figure, window.Height*s.figure
	caption = s.l.CaptionPlan
	if s.overlay != nil {
		w, h = s.overlay.within(w, h)
		s.overlay.draw(s.canvas, x, y, w, h)
		caption = s.l.CaptionPhoto
		if s.m.ScaleSource != "frame" {
			caption = s.l.CaptionBeside
		}
	} else {
		p := s.newPlan(x, y, w, h)
		p.draw()
		if math.Abs(p.scale-0.5) < 1e-9 {
			caption += " " + s.l.HalfSize
		}
	}
	return w, h, caption
}

// number is the distance, large, with its uncertainty in words.
func (s *sheet) number(x, y, w float64) float64 {
	y = s.text(x, y, w, style{10 * s.scale, true, black}, s.l.Distance)
	y += s.gap(2)
	value := decimals(*s.m.Spacing, 1, s.lang)
	big, unit := style{36 * s.scale, true, accent}, style{15 * s.scale, false, accent}
	base := y + big.pt*mmPerPoint*0.73
	s.put(x, base, value, big)
	s.put(x+big.width(value)+unit.width(" "), base, "mm", unit)
	base += s.gap(7.5)
	u := roundUp(*s.m.U)
	s.put(x, base, "± "+decimals(u, 1, s.lang)+" mm", style{15 * s.scale, false, black})
	y = base + s.gap(3)
	low, high := wholeInterval(*s.m.Spacing, u)
	y = s.text(x, y, w, s.body(), fmt.Sprintf(s.l.Interval,
		strconv.Itoa(int(math.Round(100*s.m.Coverage))), decimals(u, 1, s.lang), decimals(low, 0, s.lang), decimals(high, 0, s.lang)))
	return s.text(x, y+s.gap(1.6), w, s.quiet(), s.origin())
}

// origin says what the distance was read off.
func (s *sheet) origin() string {
	text := s.l.FromFoam
	switch {
	case s.scanned():
		text = s.l.FromScan
	case s.m.Medium == "paper":
		text = s.l.FromPaper
	case s.rec.Settings.Pad == "gel":
		text = s.l.FromGel
	}
	if n := max(len(s.m.Photos), len(s.m.Sittings)); n > 1 {
		text += " " + fmt.Sprintf(s.l.Several, strconv.Itoa(n))
	}
	if s.reviewer != "" {
		text += " " + fmt.Sprintf(s.l.ByHand, longDate(s.reviewedAt, s.lang))
	}
	return text
}
