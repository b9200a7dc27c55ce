// Package artwork draws the control frame, and sheets of dots for a pad, for
// printing at true size, as PDF, SVG or PNG.
//
// Its opinion: a frame is one short list of areas, lines and texts in
// millimetres, and the three formats only spell that list, so they cannot
// disagree. Marks are single filled outlines, never modules side by side, so
// that no viewer opens a hairline between them; every other shape keeps one
// module of white round each mark; and nothing is printed inside the window of
// a sheet that takes the imprint itself.
package artwork

import (
	"strings"

	"sitspan/calibration"
)

// Paper is a page format, used in landscape.
type Paper string

const (
	A4     Paper = "a4"     // 297 x 210 mm (ISO 216)
	Letter Paper = "letter" // 11 x 8.5 in = 279.4 x 215.9 mm (ANSI Y14.1 A)
)

// ParsePaper reads a page format's name, in any case.
func ParsePaper(name string) (Paper, error) {
	switch p := Paper(strings.ToLower(strings.TrimSpace(name))); p {
	case A4, Letter:
		return p, nil
	}
	return "", UnknownPaper.With("word", name)
}

// size is the landscape page in mm.
func (p Paper) size() (width, height float64) {
	if p == Letter {
		return 279.4, 215.9
	}
	return 297, 210
}

// Options choose a drawing. The zero value is an English frame for foam on A4.
type Options struct {
	Paper  Paper              // A4 when empty
	Medium calibration.Medium // calibration.Foam when empty
	Words  Words              // English when they have no Lang
}

// withDefaults fills what is empty and refuses what is unknown.
func (o Options) withDefaults() (Options, error) {
	if o.Paper == "" {
		o.Paper = A4
	}
	if o.Medium == "" {
		o.Medium = calibration.Foam
	}
	if o.Words.Lang == "" {
		o.Words = English()
	}
	var err error
	if o.Paper, err = ParsePaper(string(o.Paper)); err != nil {
		return o, err
	}
	if o.Medium, err = calibration.ParseMedium(string(o.Medium)); err != nil {
		return o, err
	}
	return o, nil
}

// Gray is a shade of ink: 0 is black, 1 is the bare paper.
type Gray float64

const (
	black Gray = 0
	pale  Gray = 0.6
)

// Area is a filled black region with its boundary as closed loops in page mm;
// what an odd number of loops encloses is filled.
type Area struct {
	Loops [][]calibration.Point
}

// Line is a straight stroke with square-cut ends, along x or y, in page mm.
type Line struct {
	From, To calibration.Point
	Width    float64 // mm
	Shade    Gray
}

// Text is one line of black text. At is the left end of its baseline in page
// mm, Size the em in mm. Upward text is turned by a quarter anticlockwise.
type Text struct {
	At     calibration.Point
	Size   float64
	Bold   bool
	Upward bool
	String string
}

// Drawing is a page: its size, and what is on it, in page mm (origin at the top
// left corner, x to the right, y down).
type Drawing struct {
	Title         string
	Lang          string            // of the texts, ISO 639
	Width, Height float64           // of the page, mm
	Origin        calibration.Point // the frame's origin on the page, mm
	Areas         []Area
	Lines         []Line
	Texts         []Text
}
