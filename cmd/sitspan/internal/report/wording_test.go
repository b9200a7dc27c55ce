package report

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"sitspan/fit"
)

func TestNumbersInBothLanguages(t *testing.T) {
	assert.Equal(t, "121.5", decimals(121.458, 1, fit.English))
	assert.Equal(t, "121,5", decimals(121.458, 1, fit.German))
	assert.Equal(t, "−0,50", decimals(-0.5, 2, fit.German))
	assert.Equal(t, "0.0", decimals(-0.04, 1, fit.English), "no minus before nothing")
	assert.Equal(t, "+2.11", signed(2.111, 2, fit.English))
	assert.Equal(t, "−2,11", signed(-2.111, 2, fit.German))
	assert.Equal(t, "150", plain(150, fit.English))
	assert.Equal(t, "152.5", plain(152.5, fit.English))
	assert.Equal(t, "72,5°", degrees(72.5, fit.German))
	day := time.Date(2025, time.March, 5, 23, 59, 0, 0, time.FixedZone("", 3600))
	assert.Equal(t, "5 March 2025", longDate(day, fit.English), "the day where it was measured")
	assert.Equal(t, "5. März 2025", longDate(day, fit.German))
}

// A probability below the level never reads as the level.
func TestProbabilitiesAreCutNotRounded(t *testing.T) {
	assert.Equal(t, "94.9 %", percent(0.94999999, fit.English))
	assert.Equal(t, "95 %", percent(0.95, fit.English))
	assert.Equal(t, "99,9 %", percent(0.9999, fit.German))
	assert.Equal(t, "100 %", percent(1, fit.English))
	assert.Equal(t, "0 %", percent(1e-9, fit.English))
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(0, 0.9499999).Draw(t, "p")
		assert.NotEqual(t, percent(0.95, fit.English), percent(p, fit.English))
	})
}

// The whole millimetres on the sheet hold all that the measurement's interval
// holds.
func TestWholeIntervalIsNeverNarrower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v, u := rapid.Float64Range(70, 190).Draw(t, "v"), rapid.Float64Range(0.01, 20).Draw(t, "u")
		low, high := wholeInterval(v, u)
		assert.LessOrEqual(t, low, v-u)
		assert.GreaterOrEqual(t, high, v+u)
		assert.Less(t, (v-u)-low+high-(v+u), 2.0, "and no more than is needed")
		assert.Equal(t, []float64{math.Trunc(low), math.Trunc(high)}, []float64{low, high})
	})
}

func TestBikeNames(t *testing.T) {
	assert.Equal(t, "Winter bike", bikeName(fit.Bike{Name: " Winter\n bike ", Use: fit.Road}, 0, 1, fit.German))
	assert.Equal(t, "Rennrad", bikeName(fit.Bike{Use: fit.Road}, 0, 2, fit.German))
	assert.Equal(t, "Bike 2", bikeName(fit.Bike{}, 1, 2, fit.English))
	assert.Equal(t, "Ihr Rad", bikeName(fit.Bike{}, 0, 1, fit.German))
}

// Lines are no longer than asked, and no word gets lost or out of order.
func TestLinesKeepWordsAndWidth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.SampledFrom([]rune("aeWmi.ßŁЗ%19 ")), 0, 120, -1).Draw(t, "text")
		w := rapid.Float64Range(4, 120).Draw(t, "w")
		st := style{rapid.Float64Range(6, 40).Draw(t, "pt"), rapid.Bool().Draw(t, "bold"), black}
		var got strings.Builder
		for _, line := range st.lines(w, []run{{text, st.bold}}) {
			if joinedWidth := st.width(joined(line)); len(line) > 1 {
				assert.LessOrEqual(t, joinedWidth, w+1e-9)
			}
			for _, wd := range line {
				got.WriteString(wd.text)
			}
		}
		assert.Equal(t, strings.Join(strings.Fields(text), ""), strings.ReplaceAll(got.String(), " ", ""))
	})
}

func TestUnitsStayWithTheirNumbers(t *testing.T) {
	assert.Equal(t, []string{"hold", "with", "99.9 %,", "150 mm", "± 2 mm.", "a", "%"}, unbroken(strings.Fields("hold with 99.9 %, 150 mm ± 2 mm. a %")))
}

// A text that has to fit into a line does, smaller first, then cut with a sign
// that it was.
func TestShrunkTextFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.SampledFrom([]rune("aeWmißŁЗ ")), 1, 90, -1).Draw(t, "text")
		st := style{rapid.Float64Range(8, 30).Draw(t, "pt"), false, black}
		w := rapid.Float64Range(20, 150).Draw(t, "w")
		small, cut := st.shrunk(text, w, 0.7)
		assert.LessOrEqual(t, small.width(cut), w*(1+1e-9))
		assert.GreaterOrEqual(t, small.pt, 0.7*st.pt-1e-9)
		if cut != oneLine(text) {
			assert.True(t, strings.HasSuffix(cut, "…"))
			assert.InDelta(t, 0.7*st.pt, small.pt, 1e-9, "cut only when it is as small as it may get")
		}
	})
}
