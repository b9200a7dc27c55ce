package report

import (
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/fit"
)

// everyLabel lists all words of a language by their place in the struct.
func everyLabel(v reflect.Value, path string, found map[string]string) {
	switch v.Kind() {
	case reflect.String:
		found[path] = v.String()
	case reflect.Struct:
		for i := range v.NumField() {
			everyLabel(v.Field(i), path+"."+v.Type().Field(i).Name, found)
		}
	case reflect.Array:
		for i := range v.Len() {
			everyLabel(v.Index(i), fmt.Sprintf("%s[%d]", path, i), found)
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			everyLabel(v.MapIndex(k), path+"."+k.String(), found)
		}
	}
}

// sameInBoth are the words that are alike in English and German.
var sameInBoth = []string{
	".months[3]", ".months[7]", ".months[8]", ".months[10]", ".explain.Name", ".explain.Hash", ".explain.Contribution",
}

// Both languages are complete: no word is missing, none was left in the other
// language, and each has the same places to fill in.
func TestLabelsAreCompleteInBothLanguages(t *testing.T) {
	en, de := make(map[string]string), make(map[string]string)
	everyLabel(reflect.ValueOf(englishLabels), "", en)
	everyLabel(reflect.ValueOf(germanLabels), "", de)
	require.Greater(t, len(en), 135)
	place := regexp.MustCompile(`%(\[\d\])?[sd]`)
	for path, words := range en {
		other, there := de[path]
		require.True(t, there, "%s has no German", path)
		assert.NotEmpty(t, words, path)
		assert.NotEmpty(t, other, path)
		if !slices.Contains(sameInBoth, path) {
			assert.NotEqual(t, words, other, path)
		}
		a, b := place.FindAllString(words, -1), place.FindAllString(other, -1)
		slices.Sort(a)
		slices.Sort(b)
		assert.Equal(t, a, b, "%s: the same places", path)
		assert.NoError(t, printable(path, words, ""))
		assert.NoError(t, printable(path, other, ""))
	}
	assert.Len(t, de, len(en))
}

// Everything that fit can say has letters in the sheet's font.
func TestFitsWordsCanBePrinted(t *testing.T) {
	for _, c := range fit.Complaints() {
		g, ok := fit.ComplaintGuideFor(c)
		require.True(t, ok)
		for _, lang := range fit.Langs() {
			for _, n := range slices.Concat(g.Saddle, g.Stop, g.Basis) {
				text := n.Text(lang)
				assert.NoError(t, printable(n.Code, text, ""))
				assert.False(t, strings.Contains(text, "{"), text)
			}
		}
	}
	for _, lang := range fit.Langs() {
		assert.NotEqual(t, physician.Code, physician.Text(lang), "the line is in fit's catalogue")
	}
}

// The checks without a source say so where a fitter reads about them, and the
// page says it of the allowance.
func TestAssumptionsAreCalledSo(t *testing.T) {
	assert.Contains(t, englishLabels.sheet.AllowanceBasis, "common practice")
	assert.Contains(t, englishLabels.sheet.AllowanceBasis, "our assumption")
	assert.Contains(t, germanLabels.sheet.AllowanceBasis, "übliche Praxis")
	assert.Contains(t, germanLabels.sheet.AllowanceBasis, "unsere Annahme")
	assert.Contains(t, englishLabels.sheet.SetUpBasis, "common practice, no source")
	assert.Contains(t, germanLabels.sheet.SetUpBasis, "übliche Praxis ohne Quelle")
}
