package advice

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// docs/choice.md states the defaults that are chosen by: they must be these.
func TestDocumentStatesTheDefaults(t *testing.T) {
	data, err := os.ReadFile("../../../../docs/choice.md")
	require.NoError(t, err)
	text := regexp.MustCompile(`\s+`).ReplaceAllString(string(data), " ")

	for _, r := range fit.DefaultAllowanceTable().Rows() {
		assert.Regexp(t, fmt.Sprintf(`\| %g° \(.*?\) \| %g mm \|`, r.AngleDeg, r.MM), text)
	}
	assert.Contains(t, text, fmt.Sprintf("The level is %g %%", 100*fit.DefaultRule().Level))
	d := fit.DefaultDamping()
	assert.Contains(t, text, fmt.Sprintf("Soft up to %g kg, firm from %g kg, medium between", d.SoftUpToKg,
		d.FirmFromKg))
	assert.Contains(t, text, fmt.Sprintf("Within %g kg of a border", d.NearKg))
	for _, u := range fit.Uses() {
		assert.Contains(t, text, fmt.Sprintf("| %s | %s | up to %g mm |", u, lengthWords(fit.ShapeFor(u)),
			fit.ShapeFor(u).NoseMaxMM))
	}
	for _, c := range fit.Complaints() {
		g, _ := fit.ComplaintGuideFor(c)
		var parts []string
		for _, s := range g.SetUp {
			parts = append(parts, strings.ReplaceAll(string(s.Part), "_", "-"))
		}
		assert.Regexp(t, fmt.Sprintf(`\| %s \| [^|]+ \| %s \|`, regexp.QuoteMeta(words.English.Term(string(c))),
			strings.Join(parts, ", ")), text)
	}
	for _, v := range []fit.Verdict{fit.Clear, fit.BetweenSizes, fit.MeasureAgain, fit.OutsideStock} {
		assert.Contains(t, text, fmt.Sprintf("| `%s` |", v))
	}
}

func lengthWords(p fit.ShapeProfile) string {
	switch {
	case p.LengthMinMM > 0 && p.LengthMaxMM > 0:
		return fmt.Sprintf("%g to %g mm", p.LengthMinMM, p.LengthMaxMM)
	case p.LengthMinMM > 0:
		return fmt.Sprintf("from %g mm", p.LengthMinMM)
	case p.LengthMaxMM > 0:
		return fmt.Sprintf("up to %g mm", p.LengthMaxMM)
	}
	return "any"
}
