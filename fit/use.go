package fit

import (
	"strings"
)

// Use is what a bike is ridden for.
type Use string

// The uses that a bike, and a model in the stock, can have.
const (
	Road      Use = "road"
	Gravel    Use = "gravel"
	Mountain  Use = "mountain"
	City      Use = "city"
	Touring   Use = "touring"
	Triathlon Use = "triathlon"
	EBike     Use = "e-bike"
)

// Uses lists all uses in the order in which they are offered.
func Uses() []Use {
	return []Use{Road, Gravel, Mountain, City, Touring, Triathlon, EBike}
}

// useWords are other words for the uses, in lower case, as stock lists in
// English and German write them.
var useWords = map[string]Use{
	"race": Road, "racing": Road, "rennrad": Road,
	"cyclocross": Gravel, "cx": Gravel,
	"mtb": Mountain, "mountainbike": Mountain,
	"urban": City, "stadt": City, "commuting": City,
	"trekking": Touring, "tour": Touring, "reise": Touring,
	"tri": Triathlon, "tt": Triathlon,
	"ebike": EBike, "pedelec": EBike,
}

// ParseUse reads one use, in English or by the usual German word.
func ParseUse(s string) (Use, error) {
	word := strings.ToLower(strings.TrimSpace(s))
	for _, u := range Uses() {
		if word == string(u) {
			return u, nil
		}
	}
	if u, ok := useWords[word]; ok {
		return u, nil
	}
	return "", UnknownUse.With("word", s, "known", useNames())
}

func useNames() string {
	names := make([]string, 0, len(Uses()))
	for _, u := range Uses() {
		names = append(names, string(u))
	}
	return strings.Join(names, ", ")
}

// ShapeProfile is the shape that suits a use. Zero means no bound.
type ShapeProfile struct {
	LengthMinMM, LengthMaxMM float64 // the saddle's length, mm
	NoseMaxMM                float64 // the nose's width, mm
	Basis                    string
}

// assumedShape is the basis of every ShapeProfile: no source gives lengths or
// nose widths by use, so they only order models, and never exclude one.
const assumedShape = "our assumption, no source"

// ShapeFor gives the shape that suits a use. The lower the trunk and the faster
// the legs, the narrower the nose; a position that is held steadily forward
// asks for a short saddle, one that is shifted on climbs and descents for a
// long one.
func ShapeFor(u Use) ShapeProfile {
	p := ShapeProfile{Basis: assumedShape}
	switch u {
	case Road, Gravel:
		p.LengthMaxMM, p.NoseMaxMM = 285, 50
	case Mountain:
		p.LengthMinMM, p.LengthMaxMM, p.NoseMaxMM = 240, 290, 50
	case Triathlon:
		p.LengthMaxMM, p.NoseMaxMM = 265, 60
	case Touring:
		p.LengthMinMM, p.NoseMaxMM = 245, 60
	case City, EBike:
		p.NoseMaxMM = 80
	}
	return p
}
