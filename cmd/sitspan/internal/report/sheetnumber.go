package report

import (
	"math"
	"slices"

	"sitspan/calibration"
	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
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
	caption = s.lang.Text("sheet.caption_plan")
	if s.overlay != nil {
		w, h = s.overlay.within(w, h)
		s.overlay.draw(s.canvas, x, y, w, h)
		caption = s.lang.Text("sheet.caption_photo")
		if s.m.ScaleSource != "frame" {
			caption = s.lang.Text("sheet.caption_beside")
		}
	} else {
		p := s.newPlan(x, y, w, h)
		p.draw()
		if math.Abs(p.scale-0.5) < 1e-9 {
			caption += " " + s.lang.Text("sheet.half_size")
		}
	}
	return w, h, caption
}

// number is the distance, large, with its uncertainty in words.
func (s *sheet) number(x, y, w float64) float64 {
	y = s.text(x, y, w, style{10 * s.scale, true, black}, s.lang.Text("sheet.distance"))
	y += s.gap(2)
	value := s.lang.Number(*s.m.Spacing, 1)
	big, unit := style{36 * s.scale, true, accent}, style{15 * s.scale, false, accent}
	base := y + big.pt*mmPerPoint*0.73
	s.put(x, base, value, big)
	s.put(x+big.width(value)+unit.width(" "), base, "mm", unit)
	base += s.gap(7.5)
	u := gum.Stated(*s.m.U)
	s.put(x, base, plusMinus(s.lang, u), style{15 * s.scale, false, black})
	y = base + s.gap(3)
	low, high := wholeInterval(*s.m.Spacing, u)
	y = s.text(x, y, w, s.body(), s.lang.Say("sheet.interval", words.Values{
		"coverage": math.Round(100 * s.m.Coverage), "u": StatedU(s.lang, u), "low": low, "high": high,
	}))
	again := "sheet.this_imprint"
	if len(s.m.Sittings) > 1 {
		again = "sheet.sittings_in_it"
	}
	y = s.text(x, y+s.gap(1), w, s.small(), s.lang.Text(again))
	y = s.text(x, y+s.gap(1.6), w, s.quiet(), s.origin())
	for _, text := range s.weaknesses() {
		st := s.small()
		st.ink = warning
		y = s.text(x, y+s.gap(1), w, st, text)
	}
	return y
}

// weaknesses are what the rider should know of the number: a print that was never measured, and a focal
// length that is not known.
func (s *sheet) weaknesses() (said []string) {
	for _, w := range s.m.Warnings {
		key := "sheet.warning." + w.Code
		switch at := w.Said(); {
		case codes.PrintUnread.Is(at) && at.Form == codes.PrintUnread.Form, codes.FocalUnknown.Is(at):
			if text := s.lang.Text(key); !slices.Contains(said, text) {
				said = append(said, text)
			}
		}
	}
	return said
}

// origin says what the distance was read off.
func (s *sheet) origin() string {
	text := s.lang.Text("sheet.from_foam")
	switch {
	case s.scanned():
		text = s.lang.Text("sheet.from_scan")
	case s.m.Medium == "paper":
		text = s.lang.Text("sheet.from_paper")
	case s.rec.Settings.Pad == "gel":
		text = s.lang.Text("sheet.from_gel")
	}
	if n := max(len(s.m.Photos), len(s.m.Sittings)); n > 1 {
		text += " " + s.lang.Say("sheet.several", words.Values{"n": n})
	}
	if s.reviewer != "" {
		text += " " + s.lang.Say("sheet.by_hand", words.Values{"day": s.reviewedAt})
	}
	return text
}
