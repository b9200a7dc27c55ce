package artwork

import (
	"fmt"

	"sitspan/calibration"
)

// frontCells fills the gaps between the front edge's marks: the word for front
// with an arrow in the middle two, the rider's sides in the outer two.
func (s *sheet) frontCells() {
	m := s.frame.Marks
	for i, side := range []string{s.words.Left, "", "", s.words.Right} {
		x, half := between(m[i], m[i+1])
		if side == "" {
			s.frontArrow(x, half)
			continue
		}
		s.text(x, -83, 0.5, s.within(2*half, Text{Size: 5, Bold: true, String: side}))
		s.text(x, -78.8, 0.5, s.within(2*half, Text{Size: noteSize, String: s.words.SideNote}))
	}
}

// frontArrow adds an arrow to the front edge and the word for front under it.
func (s *sheet) frontArrow(x, half float64) {
	s.Areas = append(s.Areas, Area{Loops: [][]calibration.Point{
		{s.at(x, -94), s.at(x+3.5, -90), s.at(x-3.5, -90)},
	}})
	s.text(x, -83, 0.5, s.within(2*half, Text{Size: 7.5, Bold: true, String: s.words.Front}))
	s.text(x, -78.8, 0.5, s.within(2*half, Text{Size: noteSize, String: s.words.FrontNote}))
}

// rearCells fills the gaps between the rear edge's marks, which stay on the
// frame when it is cut: what it is, how to print and measure it, the readings
// by hand, and where they are entered.
func (s *sheet) rearCells(medium calibration.Medium) {
	m, w := s.frame.Marks, s.words
	s.cell(m[10], m[9], []string{
		w.Title,
		fmt.Sprintf("%s %s, %s", w.Version, s.frame.Version, w.medium(medium)),
		w.TrueSize,
		fmt.Sprintf("%.0f × %.0f mm", s.frame.Outer.Width, s.frame.Outer.Height),
	})
	s.cell(m[9], m[8], w.Measure)
	s.readings(m[8], m[7])
	s.cell(m[7], m[6], []string{w.Enter, w.Where[0], w.Where[1], "", w.Anew})
}

// firstBaseline is the y of a rear cell's first line, in mm, clear of the
// ticks' numbers.
const firstBaseline = 80.0

// cell adds lines of text between two of the rear edge's marks.
func (s *sheet) cell(a, b calibration.Mark, lines []string) {
	middle, half := between(a, b)
	for i, line := range lines {
		if line == "" {
			continue
		}
		s.text(middle-half, firstBaseline+lineSpacing*float64(i), 0,
			s.within(2*half, Text{Size: noteSize, String: line}))
	}
}

// readings adds the lines to write the bars' readings and the date on.
func (s *sheet) readings(a, b calibration.Mark) {
	middle, half := between(a, b)
	const step = 5.2
	labels := []Text{
		{Size: noteSize, String: s.words.ReadingX},
		{Size: noteSize, String: s.words.ReadingY},
		{Size: noteSize, String: s.words.Dated},
	}
	widest := 0.0
	for _, label := range labels {
		widest = max(widest, label.width())
	}
	unit := Text{Size: noteSize, String: "mm"}
	for i, label := range labels {
		y := firstBaseline + 1 + step*float64(i)
		s.text(middle-half, y, 0, label)
		end := middle + half
		if i < 2 {
			s.text(end, y, 1, unit)
			end -= unit.width() + 0.8
		}
		s.line(middle-half+widest+0.8, y+0.4, end, y+0.4, 0.15, black)
	}
}
