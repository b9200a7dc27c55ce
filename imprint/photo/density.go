package photo

import (
	"fmt"
	"math"
)

// Density is a stated resolution of the upright picture, in pixels per
// millimetre along x and y. Source names the field that states it.
type Density struct {
	X, Y   float64
	Source string
}

// unit is a length, in mm, that a file counts pixels per; noUnit where the
// numbers give the shape of a pixel only.
type unit float64

const (
	noUnit     unit = 0
	inch       unit = 25.4
	centimetre unit = 10
	metre      unit = 1000
)

// statement is a resolution as written in a file: x and y pixels per unit along
// the stored axes.
type statement struct {
	x, y   float64
	unit   unit
	source string
}

// jfifUnit: JFIF 1.02, APP0: 0 none, 1 dots per inch, 2 dots per cm.
func jfifUnit(code byte) unit {
	return map[byte]unit{1: inch, 2: centimetre}[code]
}

// pngUnit: PNG specification 11.3.5.3: 0 unknown, 1 metre.
func pngUnit(code byte) unit {
	return map[byte]unit{1: metre}[code]
}

// exifStatement: EXIF 2.32 and TIFF 6.0: ResolutionUnit 1 none, 2 inch (also
// the default), 3 cm. ok is false where neither axis is stated.
func (e exif) exifStatement() (s statement, ok bool) {
	if e.xres == 0 && e.yres == 0 {
		return s, false
	}
	u := map[int]unit{0: inch, 2: inch, 3: centimetre}[e.unit]
	return statement{x: e.xres, y: e.yres, unit: u, source: "EXIF"}, true
}

// The bounds of a resolution that a scan of an imprint may have, in dots per
// inch (common practice, no source): below, 0.5 mm is less than a pixel; above
// is beyond flatbed optics.
const (
	minDPI = 50
	maxDPI = 9600
)

// reject says why a statement is not to be believed, or "".
func (s statement) reject() string {
	if s.unit == noUnit {
		return s.source + " states no unit"
	}
	for _, v := range []float64{s.x, s.y} {
		dpi := v * float64(inch/s.unit)
		switch {
		case s.isHabit(v, 72):
			return s.source + " states 72 dpi, which programs write for want of knowledge"
		case s.isHabit(v, 96):
			return s.source + " states 96 dpi, which programs write for want of knowledge"
		case !(dpi >= minDPI && dpi <= maxDPI):
			return fmt.Sprintf("%s states an implausible %.4g dpi", s.source, dpi)
		}
	}
	return ""
}

// isHabit is true where v per unit is the given dpi as that unit can hold it:
// whole numbers per cm or metre, rounded up or down; or, per inch, the dpi
// after a journey through whole pixels per metre (1 px/m is 0.0254 dpi).
func (s statement) isHabit(v, dpi float64) bool {
	step := 1.0
	if s.unit == inch {
		step = float64(inch / metre)
	}
	return math.Abs(v-dpi*float64(s.unit/inch)) < step
}

// agreement is how far two believed statements may differ, relatively: half a
// dot per cm in 118 (300 dpi), the coarsest rounding among the fields.
const agreement = 0.5 / 118

// chooseDensity gives the stated resolution along the stored axes, or nil and
// the reason. A camera's EXIF makes every resolution meaningless: the distance
// to the object is not in it.
func chooseDensity(m metadata) (*Density, string) {
	statements := m.density
	if s, ok := m.exif.exifStatement(); ok {
		statements = append(statements, s)
	}
	if len(statements) == 0 {
		return nil, "the file states no resolution"
	}
	if m.exif.camera {
		return nil, "the file is a camera's, so its resolution is no scale"
	}
	return firstBelieved(statements)
}

func firstBelieved(statements []statement) (*Density, string) {
	var chosen *Density
	var note string
	for _, s := range statements {
		if reason := s.reject(); reason != "" {
			if note == "" {
				note = reason
			}
			continue
		}
		d := &Density{X: s.x / float64(s.unit), Y: s.y / float64(s.unit), Source: s.source}
		if chosen == nil {
			chosen = d
		} else if differ(chosen.X, d.X) || differ(chosen.Y, d.Y) {
			return nil, fmt.Sprintf("%s and %s state different resolutions", chosen.Source, d.Source)
		}
	}
	if chosen != nil {
		return chosen, ""
	}
	return nil, note
}

func differ(a, b float64) bool { return math.Abs(a-b) > agreement*max(a, b) }
