// Package known makes a check of a measurement and the distance that a person knows: for the terminal and for
// the desk alike.
//
// Its opinion: a person's word is taken for what was pressed, and for nothing else. What the photos gave is
// compared as it is, kept whatever it comes to, and the same photo never counts twice. Arithmetic and
// verdicts are package proof's.
package known

import (
	"context"
	"strings"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/imprint/codes"
)

// Distance is what a person says of an imprint of two balls.
type Distance struct {
	MM, U      float64 // between the balls' centres, and its standard uncertainty, mm
	DiameterMM float64 // of the balls; 0 where it was not given
	Pad        string  // the profile's name; empty takes the medium that was found
	Print      string  // the print's verification, as one text
	Light      string  // as the fitter notes it
}

// The distances that are taken, mm: below it was meant in centimetres, above no window holds both balls.
const LeastMM, MostMM = 70, 200

// DefaultU is the distance's standard uncertainty where none is given, mm (our assumption).
const DefaultU = 0.3

// Fault is what is wrong with a distance.
type Fault string

// The faults.
const (
	NoFault     Fault = ""
	Centimetres Fault = "centimetres" // ten times as much would do
	OutOfRange  Fault = "range"
	BallsTooBig Fault = "balls" // they would overlap
)

// Fault tells what cannot be meant.
func (d Distance) Fault() Fault {
	switch {
	case d.MM < LeastMM && 10*d.MM >= LeastMM && 10*d.MM <= MostMM:
		return Centimetres
	case !(d.MM >= LeastMM && d.MM <= MostMM):
		return OutOfRange
	case d.DiameterMM >= d.MM:
		return BallsTooBig
	}
	return NoFault
}

// Made is what a measurement comes to beside a known distance.
type Made struct {
	proof.Check
	Number  bool // the photos gave one that may be used
	Verdict proof.Verdict
	OneBall bool // no two dents were found
}

// Compare compares a measurement with the distance.
func (d Distance) Compare(m record.Measurement) Made {
	made := Made{Verdict: proof.NoNumber, OneBall: oneBall(m),
		Check: proof.Check{DistanceMM: d.MM, DistanceU: d.U, DiameterMM: d.DiameterMM}}
	if m.Status != record.Measured || m.Spacing == nil || m.U == nil {
		return made
	}
	made.Number, made.MeasuredMM, made.MeasuredU = true, *m.Spacing, *m.U
	made.Verdict = verdictOf(made.Check, m)
	return made
}

// bottomReach is how far about a deepest point a ball is told by its curvature, mm: some six dots, 9 mm
// apart. The curvature at the point itself is chance: of two equal balls it differed by a factor of 2.
const bottomReach = 12

// verdictOf is the check's, where the dents are a pair.
func verdictOf(c proof.Check, m record.Measurement) proof.Verdict {
	var pair proof.Pair
	if d := m.DepthContrast; d != nil {
		pair.ContrastMM, pair.ContrastU = d.Value, d.U
	}
	if r := m.Relief; r != nil && m.Left != nil && m.Right != nil {
		pair.LeftRadius = r.RadiusAbout(m.Left.MM[0], m.Left.MM[1], bottomReach)
		pair.RightRadius = r.RadiusAbout(m.Right.MM[0], m.Right.MM[1], bottomReach)
	}
	if !pair.Alike() {
		return proof.Unlike
	}
	return c.Verdict()
}

// leastDent is how deep a dent of a pressed ball is at the least, mm (assumed: 8 to 15 mm are asked for).
const leastDent = 2

// oneBall tells a measurement that found no second dent, or one that its own surface does not show.
func oneBall(m record.Measurement) bool {
	if m.Relief != nil && m.Left != nil && m.Right != nil && min(m.Left.Depth, m.Right.Depth) < leastDent {
		return true
	}
	for _, r := range m.Reasons {
		if said := r.Said(); codes.OneDent.Is(said) || codes.NoDent.Is(said) {
			return true
		}
	}
	return false
}

// Keep puts a check and its photos' files into the shop's store.
func (d Distance) Keep(
	ctx context.Context, s *store.Store, rec record.Record, made Made, photos []store.CheckPhoto,
) (id int64, err error) {
	k := store.Check{
		Medium: rec.Measurement.Medium, Pad: proof.PadKey(d.Pad, rec.Measurement.Medium), Phone: CameraOf(rec),
		Print: d.Print, Light: d.Light, DistanceMM: d.MM, DistanceU: d.U, DiameterMM: d.DiameterMM,
		Accepted: made.Number && made.Verdict != proof.Unlike, Verdict: string(made.Verdict),
	}
	if made.Number {
		k.MeasuredMM, k.MeasuredU = &made.MeasuredMM, &made.MeasuredU
	}
	return s.AddCheck(ctx, k, photos)
}

// CameraOf is the first camera that a record's photos name; empty where none does.
func CameraOf(rec record.Record) string {
	for _, p := range rec.Photos {
		if p.Camera != "" {
			return p.Camera
		}
	}
	return ""
}

// CountedIn is the check in which a photo of that SHA-256 counts already; 0 for none. The same photos again
// prove nothing anew.
func CountedIn(list []store.Check, sha256 string) (id int64) {
	for _, k := range list {
		for _, name := range k.Photos {
			if hash, _, _ := strings.Cut(name, "."); k.LeftOut == "" && hash == sha256 {
				id = k.ID
			}
		}
	}
	return id
}
