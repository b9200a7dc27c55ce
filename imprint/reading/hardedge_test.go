package reading

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"sitspan/imprint/codes"
)

// marksFalling are two square marks of even ink, 110 mm apart, that fades to none over so many mm.
func marksFalling(over float64) *Sheet {
	s := &Sheet{step: 2, w: 110, h: 70, paper: 1}
	for i := range s.w * s.h {
		q := s.at(i)
		off := math.Max(math.Abs(math.Abs(q.X-110)-55), math.Abs(q.Y-70))
		s.ink = append(s.ink, math.Max(0, math.Min(1, (20-off)/over)))
	}
	return s
}

// Of ink that fades over 5 mm 0.80 is gone within 4, as some imprints have it (judge.HardEdge); over 4.5 mm
// it is 0.89, as things have it.
func TestAnEdgeAsSharpAsAnImprintsIsRead(t *testing.T) {
	for over, want := range map[float64]bool{10: true, 5: true, 4.5: false, 1: false} {
		s := marksFalling(over)
		assert.InDelta(t, min(1, 4/over), s.steepest(), 1e-9, "%g mm", over)
		_, _, why := s.Locate()
		if want {
			assert.Nil(t, why, "%g mm", over)
		} else if assert.NotNil(t, why, "%g mm", over) {
			assert.Equal(t, codes.HardEdges.With(), *why)
		}
	}
}
