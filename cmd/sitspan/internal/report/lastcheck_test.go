package report

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/words"
)

func TestLastCheckSaysWhenAndHow(t *testing.T) {
	last := proof.Kept{
		MadeAt: time.Date(2026, 11, 28, 12, 0, 0, 0, time.UTC), Verdict: proof.Passed,
		Check: proof.Check{DistanceMM: 120, MeasuredMM: 120.3, MeasuredU: 0.9},
	}
	assert.Equal(t,
		"This shop last checked its number on 28 November 2026: 120.3 ± 0.9 mm for a known 120.0 mm.",
		LastCheck(words.English, &last))
	for _, v := range []proof.Verdict{proof.PassedWide, proof.Fitted, proof.Off} {
		last.Verdict = v
		assert.Contains(t, LastCheck(words.English, &last), "did not pass", v)
	}
	assert.Contains(t, LastCheck(words.German, nil), "nie an einem bekannten Abstand")
}

// A sheet that tells of the check holds it, and still fits on its page.
func TestSheetTellsOfTheLastCheck(t *testing.T) {
	text := LastCheck(words.English, nil)
	s, err := newSheet(kept(t, "schema1-foam.json"), SheetOptions{Lang: words.English, Proof: text})
	assert.NoError(t, err)
	s.density, s.canvas = densities(0)[0], canvas{}
	with := s.cautionHeight()
	s.proof = ""
	assert.Greater(t, with, s.cautionHeight())
}
