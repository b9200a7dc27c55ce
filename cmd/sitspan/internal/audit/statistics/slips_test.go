package statistics

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// trial is a made-up audit: one fitter whose readings drift and slip, and one who
// does neither.
type trial struct {
	readings   int     // of each fitter
	years      float64 // over which they lie
	drift      float64 // mm a year
	slips      int     // readings of the first fitter that are wrong by 30 mm
	sameSign   bool    // all slips to one side
	perRider   int     // imprints a rider
	riderSD    float64 // of what a rider's differences have in common, mm
	scatter    float64 // mm, standard deviation
	lateInTime bool    // the slips are the last readings
}

const slipMM = 30

func (c trial) pairs(seed uint64) []*Pair {
	rng := rand.New(rand.NewPCG(seed, 19))
	var pairs []*Pair
	from := time.Date(2016, 1, 1, 0, 0, 0, 0, time.UTC)
	for f, fitter := range []string{"Ana", "Bo"} {
		rider := 0.0
		for i := range c.readings {
			if i%max(1, c.perRider) == 0 {
				rider = c.riderSD * rng.NormFloat64()
			}
			at := rng.Float64() * c.years
			difference := 3 + rider + c.scatter*rng.NormFloat64()
			if f == 0 {
				difference += c.drift * (at - c.years/2)
			}
			now := 95 + 50*rng.Float64()
			p := pairOf(len(pairs), now+difference, now, 1.5)
			p.Fitter, p.Rider = fitter, fitter+string(rune('A'+i/max(1, c.perRider)))
			day := from.Add(time.Duration(at * yearHours * float64(time.Hour)))
			p.Date = Date{day.Format("2006-01-02"), day}
			pairs = append(pairs, p)
		}
	}
	c.slip(pairs[:c.readings], rng)
	return pairs
}

func (c trial) slip(pairs []*Pair, rng *rand.Rand) {
	places := rng.Perm(len(pairs))
	if c.lateInTime {
		places = latest(pairs)
	}
	sign := 1.0
	if rng.Float64() < 0.5 {
		sign = -1
	}
	for _, k := range places[:c.slips] {
		pairs[k].Difference += sign * slipMM
		pairs[k].Old += sign * slipMM
		if !c.sameSign {
			sign = -sign
		}
	}
}

func latest(pairs []*Pair) []int {
	places := make([]int, len(pairs))
	for i := range places {
		places[i] = i
	}
	for i := range places {
		for k := i + 1; k < len(places); k++ {
			if pairs[places[k]].Years() > pairs[places[i]].Years() {
				places[i], places[k] = places[k], places[i]
			}
		}
	}
	return places
}

// outcome counts trials.
type outcome struct {
	withAll, without int // in which Ana's drift is named
	falsely          int // in which Bo's is
	held, limits     int // in which the interval of Ana's drift, and Bo's limits' bias, hold the truth
	named, wrong     int // slips that are named, and other readings that are
}

func (c trial) run(t *testing.T, trials int) (o outcome) {
	for seed := range uint64(trials) {
		all, _ := Compare(c.pairs(seed), nil)
		best := all.Best()
		require.Len(t, best.Drifts, 2)
		o.withAll += toInt(all.Drifts[0].Drifts)
		o.without += toInt(best.Drifts[0].Drifts)
		o.falsely += toInt(best.Drifts[1].Drifts)
		o.held += toInt(best.Drifts[0].Interval.Holds(c.drift))
		o.limits += toInt(best.ByFitter[1].Agreement.BiasInterval.Holds(3))
		for _, out := range all.Outliers {
			if math.Abs(out.Residual) > slipMM/2 {
				o.named++
			} else {
				o.wrong++
			}
		}
	}
	return o
}

// A drift is found even where readings slipped. 24 readings a fitter over ten
// years that scatter by 2 mm, a drift of 0.9 mm a year: with one slip of 30 mm the
// plain line finds it in fewer than half of the audits. Random numbers are fixed.
func TestDriftIsFoundWhereReadingsSlipped(t *testing.T) {
	const trials = 100
	base := trial{readings: 24, years: 10, drift: 0.9, scatter: 2, perRider: 1}
	for _, c := range []struct {
		name  string
		slips int
		same  bool
		late  bool
	}{
		{"no slip", 0, false, false}, {"one slip", 1, false, false}, {"one, the last reading", 1, false, true},
		{"two slips, one side", 2, true, false}, {"two slips, both sides", 2, false, false},
		{"two, the last readings", 2, true, true},
	} {
		k := base
		k.slips, k.sameSign, k.lateInTime = c.slips, c.same, c.late
		o := k.run(t, trials)
		t.Logf(
			"%-24s with all %3d, without outliers %3d; 95 %% interval holds %3d; the other named %d; "+
				"slips named %d of %d, others %d",
			c.name, o.withAll, o.without, o.held, o.falsely, o.named, trials*c.slips, o.wrong,
		)
		assert.GreaterOrEqual(t, o.without, 95, c.name)
		assert.Equal(t, trials*c.slips, o.named, c.name)
		if c.slips == 1 && !c.late {
			assert.Less(t, o.withAll, 50, "or the trial shows nothing")
		}
	}
}

// Where nobody drifts, somebody is named in 5 % of audits, both fitters together,
// with slips as without; in so many a reading is named that did not slip. Bounds:
// four standard deviations of the binomial distribution.
func TestNobodyIsNamedWhereNobodyDrifts(t *testing.T) {
	const trials = 400
	most := int(0.05*trials + 4*math.Sqrt(0.05*0.95*trials))
	for slips := range 3 {
		k := trial{readings: 24, years: 8, scatter: 2, perRider: 1, slips: slips}
		o := k.run(t, trials)
		t.Logf(
			"%d slips: Ana named %d, Bo %d of %d; interval holds %d; others named %d", slips, o.without,
			o.falsely, trials, o.held, o.wrong,
		)
		assert.LessOrEqual(t, o.without+o.falsely, most, slips)
		assert.LessOrEqual(t, o.wrong, most)
		assert.GreaterOrEqual(t, o.held, trials-most)
	}
}

// Four imprints a rider, whose differences have 2 mm in common beside 1 mm of their
// own: 95 % of the intervals by rider hold the bias. Without riders' names 68 % would.
func TestIntervalsAreByRider(t *testing.T) {
	const trials = 400
	k := trial{readings: 48, years: 8, scatter: 1, perRider: 4, riderSD: 2}
	o := k.run(t, trials)
	unnamed := 0
	for seed := range uint64(trials) {
		pairs := k.pairs(seed)
		for _, p := range pairs {
			p.Rider = ""
		}
		all, _ := Compare(pairs, nil)
		unnamed += toInt(all.Best().ByFitter[1].Agreement.BiasInterval.Holds(3))
	}
	t.Logf("of %d: by rider %d, without names %d; the drift's interval %d", trials, o.limits, unnamed, o.held)
	low := int(0.95*trials - 4*math.Sqrt(0.05*0.95*trials))
	assert.GreaterOrEqual(t, o.limits, low)
	assert.GreaterOrEqual(t, o.held, low)
	assert.Less(t, unnamed, low, "or the trial shows nothing")
}

// All of one rider tell no interval, and none is made up.
func TestOneRiderTellsNoInterval(t *testing.T) {
	k := trial{readings: 12, years: 8, scatter: 1, perRider: 12, riderSD: 2}
	all, _ := Compare(k.pairs(1)[:12], nil)
	assert.Nil(t, all.All)
	assert.Empty(t, all.Drifts)
	assert.Equal(t, 12, all.ByFitter[0].N)
}
