package calibration

import (
	"strings"
)

// Medium is what takes the imprint, as the frame and the reading of the photo
// see it. A gel pad is read as foam and has its own pad profile.
type Medium string

const (
	Foam  Medium = "foam"  // a pad that keeps dents; the frame's window is cut out
	Paper Medium = "paper" // pressure-marking paper; the imprint is made on the printed sheet
)

// ParseMedium reads a medium's name, in any case.
func ParseMedium(name string) (Medium, error) {
	switch m := Medium(strings.ToLower(strings.TrimSpace(name))); m {
	case Foam, Paper:
		return m, nil
	}
	return "", UnknownMedium.With("word", name)
}

// Pad is the profile of one kind of pad, in mm: how far below the frame's plane
// its dents end, when nobody measured the depth of this imprint.
//
// The true depths are modelled as d + c + e/2 on the left and d + c - e/2 on
// the right, with d = DepthMM, and c and e unknown, of mean 0 and standard
// uncertainty DepthUCommon and DepthUDifference.
type Pad struct {
	Name   string
	Medium Medium

	DepthMM          float64 // of a dent's bottom below the pad's flat surface
	DepthUCommon     float64 // standard uncertainty common to both sides
	DepthUDifference float64 // standard uncertainty of left minus right
	CardThickness    float64 // card and its usual buckle: the frame's plane above the pad
	CardThicknessU   float64 // standard uncertainty of CardThickness

	Basis string // where the numbers come from, for the budget
}

// cardThickness and its u: the card with any buckle adds 0.3 to 1 mm; most
// cards lie near the lower end. Both are assumptions that a shop may replace.
const (
	cardThickness  = 0.5
	cardThicknessU = 0.3
)

// FoamPad is the default profile: an assumption that a shop replaces by its own
// depth gauge's readings.
func FoamPad() Pad {
	return Pad{
		Name: "foam", Medium: Foam,
		DepthMM: 13, DepthUCommon: 4, DepthUDifference: 1.5,
		CardThickness: cardThickness, CardThicknessU: cardThicknessU,
		Basis: "assumption, no source: default foam profile",
	}
}

// GelPad is the profile of a gel pad: firmer than foam, so shallower, and as
// uncertain. An assumption that a shop replaces by its own readings.
func GelPad() Pad {
	return Pad{
		Name: "gel", Medium: Foam,
		DepthMM: 9, DepthUCommon: 4, DepthUDifference: 1.5,
		CardThickness: cardThickness, CardThicknessU: cardThicknessU,
		Basis: "assumption, no source: default gel profile",
	}
}

// PaperSheet is the profile of pressure-marking paper: the imprint lies in the
// plane of the printed frame, with no depth and no card between.
func PaperSheet() Pad {
	return Pad{Name: "paper", Medium: Paper, Basis: "the imprint lies in the frame's plane"}
}

// Pads returns the built-in profiles.
func Pads() []Pad { return []Pad{FoamPad(), GelPad(), PaperSheet()} }

// PadFor returns the default profile for a medium.
func PadFor(m Medium) Pad {
	if m == Paper {
		return PaperSheet()
	}
	return FoamPad()
}

// maxPadDepth in mm bounds what a profile may claim; thicker pads are not made
// for imprints (assumption).
const maxPadDepth = 60

// Check tells in one line what is wrong with a profile, or nil.
func (p Pad) Check() error {
	if _, err := ParseMedium(string(p.Medium)); err != nil {
		return BadPad.With("pad", p.Name, "why", err)
	}
	lengths := []struct {
		name  string
		value float64
	}{
		{"depth", p.DepthMM}, {"depth's u, common", p.DepthUCommon},
		{"depth's u, difference", p.DepthUDifference},
		{"card's thickness", p.CardThickness}, {"card's u", p.CardThicknessU},
	}
	for _, l := range lengths {
		if !(l.value >= 0 && l.value <= maxPadDepth) {
			return BadPadLength.With("pad", p.Name, "what", l.name, "value", l.value, "most", maxPadDepth)
		}
	}
	if p.Medium == Foam && !(p.DepthUCommon > 0) {
		return NoPadU.With("pad", p.Name)
	}
	return nil
}
