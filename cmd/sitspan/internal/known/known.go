// Package known makes a check of a measurement and the distance that a person knows: for the terminal and for
// the desk alike.
//
// Its opinion: a person's word is taken for what was pressed, and for nothing else. What the photos gave is
// compared as it is, kept whatever it comes to, and the same photo never counts twice. Arithmetic and
// verdicts are package proof's.
package known

import (
	"context"
	"slices"
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
	// mm, of balls that would leave such dents, where that is not the diameter that was said; else 0
	LikeBallMM float64
	ShallowMM  float64 // how deep the shallower dent is, where that is too little to tell unequal balls; else 0
}

// Compare compares a measurement with the distance.
func (d Distance) Compare(m record.Measurement) Made {
	made := Made{Verdict: proof.NoNumber, OneBall: oneBall(m),
		Check: proof.Check{DistanceMM: d.MM, DistanceU: d.U, DiameterMM: d.DiameterMM}}
	if says(m, codes.LensBeyond) {
		made.Verdict = proof.Lens
	}
	if m.Status != record.Measured || m.Spacing == nil || m.U == nil {
		return made
	}
	made.Number, made.MeasuredMM, made.MeasuredU = true, *m.Spacing, *m.U
	pair := pairOf(m)
	made.Verdict = verdictOf(made.Check, pair, m)
	if d := shallower(m); d > 0 && d < DeepEnough {
		made.ShallowMM = d
	}
	if pair.Alike() && pair.Unlike(d.DiameterMM) {
		made.LikeBallMM = pair.BallMM()
	}
	return made
}

// pairOf is what a measurement knows of the two dents.
func pairOf(m record.Measurement) (pair proof.Pair) {
	if d := m.DepthContrast; d != nil {
		pair.ContrastMM, pair.ContrastU = d.Value, d.U
	}
	if r := m.Relief; r != nil && len(r.Curvature) == 2 && len(r.CurvatureU) == 2 {
		pair.Curvature, pair.CurvatureU = [2]float64(r.Curvature), [2]float64(r.CurvatureU)
		pair.ReachMM = r.CurvatureReach
	}
	return pair
}

// verdictOf is the check's, where the dents are a pair.
func verdictOf(c proof.Check, pair proof.Pair, m record.Measurement) proof.Verdict {
	if !pair.Alike() {
		return proof.Unlike
	}
	if slices.ContainsFunc(m.Warnings, func(w record.Warning) bool { return codes.LensUnusual.Is(w.Said()) }) {
		return c.Verdict().ThroughStrangeLens()
	}
	return c.Verdict()
}

// says tells whether a measurement gives one of these reasons.
func says(m record.Measurement, reasons ...*codes.Entry) bool {
	return slices.ContainsFunc(m.Reasons, func(r record.Reason) bool {
		return slices.ContainsFunc(reasons, func(e *codes.Entry) bool { return e.Is(r.Said()) })
	})
}

// DeepEnough is how deep a ball is to be pressed at the least, mm. Rendered balls of 30 and 46 mm, pressed
// 5.6 and 7.0 mm deep into a pad with dots 9 mm apart, left dents of curvatures that passed for equal.
const DeepEnough = 8

// shallower is the depth of the shallower dent of a surface, mm; 0 where none is known.
func shallower(m record.Measurement) float64 {
	if m.Relief == nil || m.Left == nil || m.Right == nil {
		return 0
	}
	return min(m.Left.Depth, m.Right.Depth)
}

// leastDent is how deep a dent of a pressed ball is at the least, mm (assumed: 8 to 15 mm are asked for).
const leastDent = 2

// oneBall tells a measurement that found no second dent, or one that its own surface does not show.
func oneBall(m record.Measurement) bool {
	if m.Relief != nil && m.Left != nil && m.Right != nil && shallower(m) < leastDent {
		return true
	}
	return says(m, codes.OneDent, codes.NoDent)
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
