package spacing

import (
	"fmt"
	"maps"
	"slices"
)

// Fault is what is wrong with a reviewer's centres: a stable code, and the numbers that belong to it, for
// whoever says it in a language.
type Fault struct {
	Code string
	Args []any // mm
}

// faults are the English sentences.
var faults = map[string]string{
	"no_plane": "this measurement cannot be moved: nothing tells how its picture lies on a plane; " +
		"set the scale by hand, or photograph again with the frame",
	"medium": "it could not be told whether this is foam or marking paper, which have different depths: " +
		"choose the pad first",
	"by_hand": "this measurement rests on a scale set by hand: set the scale and the centres again",
	"u":       "the uncertainty of a centre set by hand is %g mm; %g to %g mm is needed",
	"exchanged": "the left centre lies to the right of the right one, the frame's front being up: " +
		"exchange them",
	"outside": "a centre lies where the picture does not show the plane of the imprint: set it on " +
		"the imprint",
	"apart": "the centres lie %.0f mm apart; %.0f to %.0f mm is needed: set them on the two sit bones",
}

// FaultCodes lists the codes.
func FaultCodes() []string { return slices.Sorted(maps.Keys(faults)) }

// Error says it in English.
func (f *Fault) Error() string {
	return fmt.Sprintf(faults[f.Code], f.Args...)
}
