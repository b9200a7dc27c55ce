package proof

import (
	"slices"
	"time"
)

// Kept is a check as the shop kept it.
type Kept struct {
	ID     int64
	MadeAt time.Time
	Of     Setting
	Check
	Verdict Verdict
	Counts  bool // there is a number of a pair of balls, and no person has left it out
}

// Of are the checks that count for a pad under a print, in their order.
func Of(list []Kept, pad, print string) (of []Kept) {
	for _, k := range list {
		if k.Counts && k.Of.Pad == pad && k.Of.Print == print {
			of = append(of, k)
		}
	}
	return of
}

// BiasFor is the mean deviation of a pad's checks under a print; none where they are too few.
func BiasFor(list []Kept, pad, print string) (Bias, bool) {
	var checks []Check
	for _, k := range Of(list, pad, print) {
		checks = append(checks, k.Check)
	}
	return BiasOf(checks)
}

// Settings are the pads and prints that checks which count were made with, each once, in the order of their
// first check. The phone is left empty: a phone has no mean of its own.
func Settings(list []Kept) (of []Setting) {
	for _, k := range list {
		s := Setting{Pad: k.Of.Pad, Print: k.Of.Print}
		if k.Counts && !slices.Contains(of, s) {
			of = append(of, s)
		}
	}
	return of
}

// Last is the latest check that came to a number; nil where there is none.
func Last(list []Kept) *Kept {
	for i := len(list) - 1; i >= 0; i-- {
		if list[i].Counts {
			return &list[i]
		}
	}
	return nil
}

// PadKey is what a pad's checks are found by: its profile's name, else the medium.
func PadKey(profile, medium string) string {
	if profile != "" {
		return profile
	}
	return medium
}
