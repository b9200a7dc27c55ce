package statistics

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

const published = "../../../../../calibration/precision/testdata"

// pairOf makes a pair.
func pairOf(n int, reading, now, u float64) *Pair {
	file := fmt.Sprintf("%04d", n)
	return &Pair{
		Reading: &Reading{File: file, SpacingMM: reading, UMM: AssumedReadingU, UAssumed: true},
		N:       n, File: file, Old: reading, Now: now, U: u, Difference: reading - now,
	}
}

// Peak flow by two meters on 17 subjects, Bland and Altman, Lancet 1986; i:
// 307-310: the first readings, Wright less mini. The paper has 2 s where limits
// now have 1.96 s; values recomputed from the data with the multiplier of today.
func TestAgreementOfThe1986Meters(t *testing.T) {
	f, err := os.Open(filepath.Join(published, "bland_altman_1986_pefr.csv"))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, lines, 18)
	var pairs []*Pair
	for i, l := range lines[1:] {
		wright, err1 := strconv.ParseFloat(l[1], 64)
		mini, err2 := strconv.ParseFloat(l[3], 64)
		require.NoError(t, err1)
		require.NoError(t, err2)
		pairs = append(pairs, pairOf(i, wright, mini, 1))
	}
	a := agreementOf(pairs, 0)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"bias, -2.1 in the paper", a.Bias, -2.118}, {"SD, 38.8 in the paper", a.SD, 38.765},
		{"lower limit", a.Lower, -78.097}, {"upper limit", a.Upper, 73.862},
		{"bias' interval, -22.0 in the paper", a.BiasInterval[0], -22.05},
		{"17.8 in the paper", a.BiasInterval[1], 17.81},
	} {
		assert.InDelta(t, c.want, c.got, 0.006, c.what) // two decimals were kept of the intervals
	}
	assert.Equal(t, a.BiasInterval, a.BiasWithShared, "nothing is shared")
}

// NIST's univariate sets have certified means and standard deviations (StRD);
// rows keep thousandths, which the sets of a larger size bear.
func TestAgreementOfNISTsSets(t *testing.T) {
	for _, c := range []struct {
		file     string
		mean, sd float64
	}{{"Lew.dat", -177.435, 277.332168044316}, {"Lottery.dat", 518.958715596330, 291.699727470969}} {
		data, err := os.ReadFile(filepath.Join(published, c.file))
		require.NoError(t, err)
		var pairs []*Pair
		_, values, found := strings.Cut(string(data), "Data: Y")
		require.True(t, found)
		for i, l := range strings.Split(values, "\n") {
			if v, err := strconv.ParseFloat(strings.TrimSpace(l), 64); err == nil {
				pairs = append(pairs, pairOf(i, v, 0, 1))
			}
		}
		a := agreementOf(pairs, 0)
		require.NotNil(t, a, c.file)
		assert.InDelta(t, c.mean, a.Bias, 0.0005, c.file)
		assert.InDelta(t, c.sd, a.SD, 0.0005, c.file)
	}
}

// What all measurements share is not averaged away: by hand, two sources over
// four rows.
func TestSharedUncertaintyIsNotAveragedAway(t *testing.T) {
	var pairs []*Pair
	for i := range 4 {
		pairs = append(pairs, pairOf(i, 120+float64(i), 118, 1))
	}
	u := sharedU(
		map[string]float64{"stated resolution of the scan": 3 * 0.3, "scale of the print": 0.8}, len(pairs),
	)
	assert.InDelta(t, math.Hypot(0.225, 0.2), u, 1e-12)
	a := agreementOf(pairs, u)
	half := (a.BiasInterval[1] - a.BiasInterval[0]) / 2
	assert.InDelta(t, math.Hypot(half, 2*u), a.BiasWithShared[1]-a.Bias, 0.002)
}

// The drift's line against the ratio of covariance and variance.
func TestDriftIsALeastSquaresLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(leastDriftReadings, 40).Draw(t, "n")
		var x, y []float64
		for i := range n {
			x = append(x, 2019+float64(i)/7+rapid.Float64Range(0, 0.1).Draw(t, "x"))
			y = append(y, rapid.Float64Range(-9, 9).Draw(t, "y"))
		}
		singles := make([]int, n)
		for i := range singles {
			singles[i] = i
		}
		line, ok := lineOf(x, y, singles)
		require.True(t, ok)
		assert.InDelta(
			t, stat.Covariance(x, y, nil)/stat.Variance(x, nil), line.Slope, 6e-6,
		) // rounded to 1e-5
		assert.True(t, line.Interval.Holds(line.Slope))
	})
}

func comparisonOf(pairs []*Pair) Comparison {
	c, _ := Compare(pairs, nil)
	return c
}

// planted makes readings of two fitters over five years: A reads 3 mm too wide,
// B drifts by one mm a year about the same.
func planted(seed uint64, n int) []*Pair {
	rng := rand.New(rand.NewPCG(seed, 6))
	var pairs []*Pair
	for i := range n {
		at := time.Date(2019, 1, 1, 0, 0, 0, 0, time.UTC).
			Add(time.Duration(rng.Float64() * 5 * yearHours * float64(time.Hour)))
		spacing := 95 + 50*rng.Float64()
		fitter, bias := "A", 3.0
		if i%2 == 1 {
			fitter, bias = "B", 3+at.Sub(time.Date(2021, 7, 2, 0, 0, 0, 0, time.UTC)).Hours()/yearHours
		}
		p := pairOf(i, spacing+bias+2*rng.NormFloat64(), spacing, 1.5)
		p.Fitter, p.Date = fitter, Date{at.Format("2006-01-02"), at}
		pairs = append(pairs, p)
	}
	return pairs
}

// Of 95 % intervals, about 95 of 100 hold the planted value: 88 is four standard
// deviations of the binomial distribution below, 95 - 4 sqrt(100 0.95 0.05).
func TestPlantedFactsAreInTheirIntervals(t *testing.T) {
	const runs, least = 100, 86
	var bias, steady, drift, named, wrong int
	for seed := range uint64(runs) {
		s := comparisonOf(planted(seed, 120))
		require.Len(t, s.Drifts, 2)
		bias += toInt(s.ByFitter[0].Agreement.BiasInterval.Holds(3))
		steady += toInt(s.Drifts[0].Interval.Holds(0))
		drift += toInt(s.Drifts[1].Interval.Holds(1))
		named += toInt(s.Drifts[1].Drifts)
		wrong += toInt(s.Drifts[0].Drifts)
	}
	assert.GreaterOrEqual(t, bias, least)
	assert.GreaterOrEqual(t, steady, least)
	assert.GreaterOrEqual(t, drift, least)
	assert.Equal(t, runs, named, "a drift of 1 mm a year over 5 years, five of its standard errors and more")
	assert.LessOrEqual(t, wrong, 10, "of 2.5 that chance brings: four standard deviations above")
}

// Readings that scatter by 5 mm and measurements by 0.75 mm, as their U says, or
// the other way round: the line on the plain means would have a slope of +0.05 or
// -0.05, two to three standard errors.
func TestScatterIsNoProportionalBias(t *testing.T) {
	const runs, least = 100, 86
	for name, sd := range map[string][2]float64{"readings scatter": {5, 0.75}, "measurements scatter": {0.75, 5},
		"alike": {2, 2}} {
		for _, slope := range []float64{0, 0.1} {
			held := 0
			for seed := range uint64(runs) {
				rng := rand.New(rand.NewPCG(seed, 16))
				var pairs []*Pair
				for i := range 300 {
					width := 95 + 50*rng.Float64()
					reading := 3 + width + slope*(width-120) + sd[0]*rng.NormFloat64()
					pairs = append(pairs, pairOf(i, reading, width+sd[1]*rng.NormFloat64(), 2*sd[1]))
				}
				s := comparisonOf(pairs)
				require.NotNil(t, s.Proportional)
				held += toInt(s.Proportional.Interval.Holds(slope))
			}
			assert.GreaterOrEqual(t, held, least, "%s, slope %g", name, slope)
		}
	}
}

func toInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// A rider's imprints by one fitter are a group (ISO 5725-2, 7.4.5.1): by hand,
// {1, 3} and {2, 4, 6} have variances 2 and 4 with 1 and 2 degrees of freedom.
func TestRepeatabilityByRiderAndFitter(t *testing.T) {
	var pairs []*Pair
	for i, c := range []struct {
		rider, fitter string
		reading       float64
	}{{"R1", "A", 101}, {"R1", "A", 103}, {"R1", "B", 120}, {"R2", "A", 102}, {"R2", "A", 104}, {"R2", "A", 106},
		{"", "A", 90}, {"", "A", 99}} {
		p := pairOf(i, c.reading, 100, 1)
		p.Rider, p.Fitter = c.rider, c.fitter
		pairs = append(pairs, p)
	}
	got := repeatOf(pairs, func(p *Pair) float64 { return p.Old })
	require.NotNil(t, got)
	assert.Equal(t, 2, got.Riders)
	assert.Equal(t, 5, got.Readings)
	assert.InDelta(t, math.Sqrt((2.0+2*4)/3), got.SD, 0.0005)
	assert.Nil(
		t, repeatOf(pairs[6:], func(p *Pair) float64 { return p.Old }), "riders without a name are no rider",
	)
}

func TestOutliersAreNamedAndStayIn(t *testing.T) {
	pairs := planted(7, 60)
	pairs[17].Difference += 40
	c, places := Compare(pairs, nil)
	require.Len(t, c.Outliers, 1)
	assert.Equal(t, pairs[17].File, c.Outliers[0].File)
	assert.Equal(t, map[int]bool{17: true}, places)
	assert.Equal(t, 60, c.All.N)
}
