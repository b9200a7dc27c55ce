package report

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"sitspan/fit"
)

func TestReasonsAreSpoken(t *testing.T) {
	assert.Equal(t, Spoken{"the frame 7", "do it"}, SpeakReason(fit.English, "no_frame", "the frame 7", "do it"))
	assert.Equal(t, "Kein Rahmen gefunden", SpeakReason(fit.German, "no_frame", "the frame 7", "do it").Seen)
	assert.Equal(t, "of tomorrow", SpeakReason(fit.German, "of_tomorrow", "of tomorrow", "").Seen, "a newer record's stays readable")
	assert.Equal(t, "Objektiv", BudgetSource(fit.German, "lens"))
	assert.Equal(t, "lens", BudgetSource(fit.English, "lens"))
	for code, g := range germanReasons {
		for _, words := range []string{g.Seen, g.Do} {
			assert.NoError(t, printable(code, words, ""))
			english := slices.ContainsFunc(strings.Fields(words), func(w string) bool { return w == "the" || w == "and" })
			assert.False(t, english, words)
		}
	}
}
