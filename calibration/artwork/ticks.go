package artwork

import (
	"math"
	"strconv"
	"strings"

	"sitspan/calibration"
)

// box is a rectangle in frame axes, in mm.
type box struct{ x0, y0, x1, y1 float64 }

// overlaps says whether two boxes share more than an edge.
func (b box) overlaps(c box) bool {
	const rounding = 1e-9 // mm, of sums of decimal fractions
	return b.x0 < c.x1-rounding && c.x0 < b.x1-rounding && b.y0 < c.y1-rounding && c.y0 < b.y1-rounding
}

// quietZones returns each mark with the white margin it needs, one module wide.
func quietZones(f calibration.Frame) []box {
	const reach = calibration.MarkSide/2 + calibration.Module
	var zones []box
	for _, m := range f.Marks {
		zones = append(zones, box{m.Centre.X - reach, m.Centre.Y - reach, m.Centre.X + reach, m.Centre.Y + reach})
	}
	return zones
}

// tickLength in mm of the tick at a whole number of millimetres, 0 for none.
func tickLength(mm int) float64 {
	switch {
	case mm%50 == 0:
		return 3.5
	case mm%10 == 0:
		return 2.5
	case mm%5 == 0:
		return 1.5
	}
	return 0
}

// ticks adds the millimetre ticks along the window and their numbers, which are
// frame axes: 0 would stand at the middle of each side. Where a mark's quiet
// zone comes within 0.2 mm of the window, at the middles among others, there is
// no room and no tick; at the window's corners a tick would lengthen the line
// to cut along.
func (s *sheet) ticks() {
	halfWidth, halfHeight := s.frame.Window.Width/2, s.frame.Window.Height/2
	zones := quietZones(s.frame)
	for mm := 1 - int(halfWidth); mm < int(halfWidth); mm++ {
		for _, side := range []float64{-1, 1} {
			s.tick(mm, zones, func(out float64) (x, y float64) { return float64(mm), side * (halfHeight + out) })
		}
	}
	for mm := 1 - int(halfHeight); mm < int(halfHeight); mm++ {
		for _, side := range []float64{-1, 1} {
			s.tick(mm, zones, func(out float64) (x, y float64) { return side * (halfWidth + out), float64(mm) })
		}
	}
}

// tick adds one tick and its number, if their room is free; place gives the
// position at a distance outward from the window's edge.
func (s *sheet) tick(mm int, zones []box, place func(out float64) (x, y float64)) {
	length := tickLength(mm)
	if length == 0 {
		return
	}
	x0, y0 := place(tickGap)
	x1, y1 := place(tickGap + length)
	room := box{min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)}.grown(tickWidth / 2)
	if room.overlapsAny(zones) {
		return
	}
	s.line(x0, y0, x1, y1, tickWidth, black)
	if mm%10 == 0 {
		nx, ny := place(numberGap)
		s.number(mm, nx, ny, nx-x0, zones)
	}
}

// number adds a tick's number at the place numberGap outward of the window;
// sideways is 0 above and below the window, else it has the sign of the side.
func (s *sheet) number(mm int, x, y, sideways float64, zones []box) {
	t := Text{Size: numberSize, String: strings.Replace(strconv.Itoa(mm), "-", "−", 1)}
	const height = numberSize * capHeight
	align := 0.5
	switch {
	case sideways < 0:
		align, y = 1, y+height/2
	case sideways > 0:
		align, y = 0, y+height/2
	case y > 0:
		y += height
	}
	left := x - align*t.width()
	if (box{left, y - height, left + t.width(), y}).overlapsAny(zones) {
		return
	}
	s.text(x, y, align, t)
}

// grown returns the box with a margin added all round.
func (b box) grown(margin float64) box {
	return box{b.x0 - margin, b.y0 - margin, b.x1 + margin, b.y1 + margin}
}

// overlapsAny says whether the box overlaps one of the others.
func (b box) overlapsAny(others []box) bool {
	for _, c := range others {
		if b.overlaps(c) {
			return true
		}
	}
	return false
}

// between returns the middle in mm of the gap between two neighbouring marks'
// centres and the gap's half-width clear of both quiet zones.
func between(a, b calibration.Mark) (middle, half float64) {
	middle = (a.Centre.X + b.Centre.X) / 2
	return middle, math.Abs(a.Centre.X-b.Centre.X)/2 - calibration.MarkSide/2 - calibration.Module
}
