package artwork

import (
	"fmt"
	"math"

	"sitspan/calibration"
)

// Widths and gaps of the drawing in mm.
const (
	tickWidth   = 0.2
	barWidth    = 0.25
	cutWidth    = 0.2
	tickGap     = 0.3 // between the window's edge and its ticks
	numberGap   = 4.6 // between the window's edge and a tick's number
	numberSize  = 2.2
	noteSize    = 2.3
	lineSpacing = 3.2
	barEnd      = 1.5 // half the length of a bar's end line
	dash        = 3.0 // of the outline, with about 2 mm between
)

// sheet is a drawing in the making: shapes come in frame axes and are put on
// the page.
type sheet struct {
	Drawing
	frame calibration.Frame
	words Words

	tooLong error // the first text that has no room
}

// Draw lays the frame out on a page. The page's printable margin of 5 mm stays
// free on both papers.
func Draw(frame calibration.Frame, options Options) (*Drawing, error) {
	o, err := options.withDefaults()
	if err != nil {
		return nil, err
	}
	s := &sheet{frame: frame, words: o.Words}
	s.Title = fmt.Sprintf("%s, %s %s", s.words.Title, s.words.Version, frame.Version)
	s.Lang = o.Words.Lang
	s.Width, s.Height = o.Paper.size()
	s.Origin = originOn(frame, s.Width, s.Height)
	s.marks()
	s.outline()
	s.window(o.Medium)
	s.ticks()
	s.bars()
	s.frontCells()
	s.rearCells(o.Medium)
	if s.tooLong != nil {
		return nil, s.tooLong
	}
	return &s.Drawing, nil
}

// originOn centres on the page what runs from the frame's left and top outline
// to the bars' far ends.
func originOn(f calibration.Frame, width, height float64) calibration.Point {
	right, bottom := f.BarY.From.X+barEnd, f.BarX.From.Y+barEnd
	return calibration.Point{
		X: (width + f.Outer.Width/2 - right) / 2,
		Y: (height + f.Outer.Height/2 - bottom) / 2,
	}
}

// at puts a place in frame axes on the page.
func (s *sheet) at(x, y float64) calibration.Point {
	return calibration.Point{X: s.Origin.X + x, Y: s.Origin.Y + y}
}

// line adds a stroke between two places in frame axes.
func (s *sheet) line(x0, y0, x1, y1, width float64, shade Gray) {
	s.Lines = append(s.Lines, Line{s.at(x0, y0), s.at(x1, y1), width, shade})
}

// text adds a text whose baseline passes through (x, y) in frame axes; align is
// 0 for a text that starts there, 0.5 for one centred, 1 for one that ends.
func (s *sheet) text(x, y, align float64, t Text) {
	shift := align * t.width()
	if t.Upward {
		t.At = s.at(x, y+shift)
	} else {
		t.At = s.at(x-shift, y)
	}
	s.Texts = append(s.Texts, t)
}

// marks adds each coded mark as one area.
func (s *sheet) marks() {
	for _, m := range s.frame.Marks {
		topLeft := m.Corners()[0]
		var area Area
		for _, loop := range markLoops(m) {
			points := make([]calibration.Point, len(loop))
			for i, c := range loop {
				points[i] = s.at(topLeft.X+float64(c.x)*calibration.Module, topLeft.Y+float64(c.y)*calibration.Module)
			}
			area.Loops = append(area.Loops, points)
		}
		s.Areas = append(s.Areas, area)
	}
}

// outline adds the dashed line to cut along, with a dash at both ends of each
// side.
func (s *sheet) outline() {
	w, h := s.frame.Outer.Width/2, s.frame.Outer.Height/2
	for _, side := range [][4]float64{{-w, -h, w, -h}, {w, -h, w, h}, {-w, h, w, h}, {-w, -h, -w, h}} {
		length := math.Hypot(side[2]-side[0], side[3]-side[1])
		ux, uy := (side[2]-side[0])/length, (side[3]-side[1])/length
		n := math.Round((length - dash) / (dash + 2))
		for i := 0.0; i <= n; i++ {
			a := i * (length - dash) / n
			b := a + dash
			s.line(side[0]+ux*a, side[1]+uy*a, side[0]+ux*b, side[1]+uy*b, cutWidth, black)
		}
	}
}

// window adds the line to cut along and what to do before, or, where the
// imprint is made on the sheet, a pale line just outside the imprint area.
func (s *sheet) window(m calibration.Medium) {
	if m == calibration.Paper {
		const width = 0.1
		s.rectangle(s.frame.Window.Width/2+width/2, s.frame.Window.Height/2+width/2, width, pale)
		return
	}
	s.rectangle(s.frame.Window.Width/2, s.frame.Window.Height/2, cutWidth, black)
	const left = -88.0
	room := s.frame.Window.Width/2 - 2 - left
	s.text(left, -38, 0, s.within(room, Text{Size: 6, Bold: true, String: s.words.CutTitle}))
	y := -24.0
	for _, step := range s.words.CutSteps {
		for _, line := range step {
			s.text(left, y, 0, s.within(room, Text{Size: 4.2, String: line}))
			y += 6
		}
		y += 3
	}
}

// rectangle adds four strokes, centred on the origin; those along x cover the
// corners.
func (s *sheet) rectangle(halfWidth, halfHeight, width float64, shade Gray) {
	for _, sign := range []float64{-1, 1} {
		s.line(-halfWidth-width/2, sign*halfHeight, halfWidth+width/2, sign*halfHeight, width, shade)
		s.line(sign*halfWidth, -halfHeight, sign*halfWidth, halfHeight, width, shade)
	}
}

// bars adds the check bars with their end lines; a bar's line is open in the
// middle for its length.
func (s *sheet) bars() {
	x, y := s.frame.BarX, s.frame.BarY
	s.bar(x, func(along, across float64) (float64, float64) { return along, x.From.Y + across })
	s.bar(y, func(along, across float64) (float64, float64) { return y.From.X + across, -along })
}

// bar draws one bar; place turns a place along and across it into frame axes,
// along being the direction in which its label is read.
func (s *sheet) bar(b calibration.CheckBar, place func(along, across float64) (x, y float64)) {
	stroke := func(a0, c0, a1, c1 float64) {
		x0, y0 := place(a0, c0)
		x1, y1 := place(a1, c1)
		s.line(x0, y0, x1, y1, barWidth, black)
	}
	label := Text{Size: 2.8, Bold: true, String: fmt.Sprintf("%s %.0f mm", s.words.Bar, b.Nominal)}
	label.Upward = b.From.X == b.To.X
	end, gap := b.Nominal/2, label.width()/2+1.5
	stroke(-end, 0, -gap, 0)
	stroke(gap, 0, end, 0)
	for _, along := range []float64{-end, end} {
		stroke(along, -barEnd, along, barEnd)
	}
	x, y := place(0, label.Size*capHeight/2)
	s.text(x, y, 0.5, label)
}
