package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/calibration/gum"
)

// drawWidths draws 1 to 8 distinct whole widths in mm.
func drawWidths(t *rapid.T) []float64 {
	ws := rapid.SliceOfNDistinct(rapid.IntRange(100, 220), 1, 8, rapid.ID).Draw(t, "widths")
	out := make([]float64, len(ws))
	for i, w := range ws {
		out[i] = float64(w)
	}
	return out
}

// drawSupports draws models with and without a support.
func drawSupports(t *rapid.T) Stock {
	var s Stock
	for _, w := range drawWidths(t) {
		support := rapid.SampledFrom([]float64{0, w - 5, w - 15, w - 30}).Draw(t, "support")
		s.Models = append(s.Models, Model{WidthMM: w, SupportMM: support, Qty: QtyNotStated})
	}
	return s
}

// drawSpacing draws a spacing's value, u and degrees of freedom.
func drawSpacing(t *rapid.T, label string) gum.Estimate {
	return estimate(
		rapid.Float64Range(75, 170).Draw(t, label+" mm"),
		rapid.Float64Range(0, 8).Draw(t, label+" u"),
		rapid.SampledFrom([]float64{1, 2, 5, 30, math.Inf(1)}).Draw(t, label+" dof"))
}

func estimate(mm, u, dof float64) gum.Estimate {
	return gum.Estimate{Value: mm, Budget: gum.Budget{{Source: "drawn", Std: u, Unit: "mm", Sensitivity: 1,
		DoF: dof}}}
}

// widthOrOrder is what the rider ends up on: the chosen width, or outside the
// stock the width to order.
func widthOrOrder(c Choice) float64 {
	if c.WidthMM != nil {
		return *c.WidthMM
	}
	return *c.AlternativeMM
}

func chooseFor(t require.TestingT, e gum.Estimate, p Posture, level float64, s Stock) Choice {
	q, err := Require(e, p, DefaultAllowanceTable())
	require.NoError(t, err)
	c, err := Rule{level}.Choose(q, s)
	require.NoError(t, err)
	return c
}

func drawLevel(t *rapid.T) float64 {
	return rapid.SampledFrom([]float64{0.5, 0.8, 0.95, 0.99}).Draw(t, "level")
}

func TestMoreSpacingNeverGivesANarrowerSaddle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stock, err := StockOfWidths(drawWidths(t))
		require.NoError(t, err)
		e, level := drawSpacing(t, "spacing"), drawLevel(t)
		posture := AllowanceByHand(rapid.Float64Range(0, 40).Draw(t, "allowance"),
			rapid.Float64Range(0, 5).Draw(t, "u"))
		more := e
		more.Value += rapid.Float64Range(0, 40).Draw(t, "more")
		assert.LessOrEqual(t, widthOrOrder(chooseFor(t, e, posture, level, stock)),
			widthOrOrder(chooseFor(t, more, posture, level, stock)))
	})
}

func TestMoreUncertaintyNeverGivesANarrowerSaddle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stock, err := StockOfWidths(drawWidths(t))
		require.NoError(t, err)
		e, level := drawSpacing(t, "spacing"), drawLevel(t)
		mm, u := rapid.Float64Range(0, 40).Draw(t, "allowance"), rapid.Float64Range(0, 5).Draw(t, "u")
		less := widthOrOrder(chooseFor(t, e, AllowanceByHand(mm, 0), level, stock))

		wider := e
		wider.Budget = slices.Clone(e.Budget)
		wider.Budget[0].Std *= rapid.Float64Range(1, 4).Draw(t, "factor")
		assert.LessOrEqual(t, less, widthOrOrder(chooseFor(t, wider, AllowanceByHand(mm, 0), level, stock)),
			"a larger u of the spacing")
		assert.LessOrEqual(t, less, widthOrOrder(chooseFor(t, e, AllowanceByHand(mm, u), level, stock)),
			"an uncertain allowance")
	})
}

// With supports, a width that is found in the stock never gets narrower, and
// once nothing qualifies nothing does for more. (The width to order may then be
// one that is stocked with too little support.)
func TestSupportsKeepTheOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stock := drawSupports(t)
		e, posture := drawSpacing(t, "spacing"), AllowanceByHand(20, rapid.Float64Range(0, 5).Draw(t, "u"))
		more := e
		more.Value += rapid.Float64Range(0, 40).Draw(t, "more")
		a, b := chooseFor(t, e, posture, 0.95, stock), chooseFor(t, more, posture, 0.95, stock)
		if a.Outside == TooWide {
			assert.Equal(t, TooWide, b.Outside)
		}
		if a.WidthMM != nil && b.WidthMM != nil {
			assert.LessOrEqual(t, *a.WidthMM, *b.WidthMM)
		}
	})
}

// Never rounds down in silence: the width holds the required value, at the
// level, and where it is not the next one up the verdict is not "clear".
func TestNeverRoundsDownInSilence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stock := drawSupports(t)
		e, level := drawSpacing(t, "spacing"), drawLevel(t)
		c := chooseFor(t, e, AllowanceByHand(15, 0), level, stock)
		required := e.Value + 15
		if c.WidthMM == nil {
			assert.Equal(t, OutsideStock, c.Verdict)
			require.NotNil(t, c.AlternativeMM)
			assert.GreaterOrEqual(t, *c.AlternativeMM, required-slackMM)
			return
		}
		assert.GreaterOrEqual(t, *c.WidthMM, required-slackMM)
		assert.GreaterOrEqual(t, c.Probability, level)
		assert.Equal(t, c.Verdict == Clear, c.AlternativeMM == nil)
		if c.AlternativeMM != nil {
			assert.Less(t, *c.AlternativeMM, *c.WidthMM)
			assert.GreaterOrEqual(t, *c.AlternativeMM, required-slackMM, "the alternative is rounded up, too")
		}
	})
}

// Units, the order of rows and duplicates do not matter.
func TestUnitsOrderAndDuplicatesDoNotMatter(t *testing.T) {
	units := []struct {
		name   string
		factor float64
	}{{"mm", 1}, {"cm", 10}, {"in", 25.4}}
	rapid.Check(t, func(t *rapid.T) {
		widths := drawWidths(t)
		e := drawSpacing(t, "spacing")
		plain, err := StockOfWidths(widths)
		require.NoError(t, err)

		unit := rapid.SampledFrom(units).Draw(t, "unit")
		rows := slices.Concat(widths, widths[:rapid.IntRange(0, len(widths)).Draw(t, "twice")])
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 1)).Shuffle(len(rows),
			func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
		text := "width_" + unit.name + "\n"
		for _, w := range rows {
			text += strconv.FormatFloat(w/unit.factor, 'f', -1, 64) + "\n"
		}
		read, err := ReadStock(strings.NewReader(text), "drawn.csv")
		require.NoError(t, err)

		want := chooseFor(t, e, AllowanceByHand(15, 0), 0.95, plain)
		got := chooseFor(t, e, AllowanceByHand(15, 0), 0.95, read)
		assert.Equal(t, want, got)
	})
}

// The order of rows does not change the ranking, ties included, and a model
// pasted twice does not become its own runner-up.
func TestRankingDoesNotDependOnTheOrderOfRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var rows []string
		for i := range rapid.IntRange(2, 12).Draw(t, "n") {
			rows = append(rows, fmt.Sprintf("%s,%s,150,%s,%s,%s,%s,%d",
				rapid.SampledFrom([]string{"Alder", "Birch", "Cedar"}).Draw(t, "model"),
				rapid.SampledFrom([]string{"", "road", "city/touring"}).Draw(t, "use"),
				rapid.SampledFrom([]string{"", "140"}).Draw(t, "support"),
				rapid.SampledFrom([]string{"", "none", "cutout"}).Draw(t, "relief"),
				rapid.SampledFrom([]string{"", "none", "soft firm"}).Draw(t, "dampers"),
				rapid.SampledFrom([]string{"", "70", "120"}).Draw(t, "max"), i%3))
		}
		header := "model,use,width_mm,support_mm,relief,dampers,max_rider_kg,qty\n"
		shuffled := slices.Clone(rows)
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 2)).Shuffle(len(rows), func(i, j int) {
			shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
		})
		a, b := rankedOf(t, header+strings.Join(rows, "\n")), rankedOf(t, header+strings.Join(shuffled, "\n"))
		assert.Equal(t, a, b)
		for i := 1; i < len(a); i++ {
			assert.NotEqual(t, a[i-1].key(), a[i].key(), "merged, so no model stands twice")
		}
	})
}

// rankedOf ranks a stock for a rider of 90 kg with numbness on a road bike and
// takes off the line numbers, which do depend on the order.
func rankedOf(t require.TestingT, text string) []RankedModel {
	s, err := ReadStock(strings.NewReader(text), "drawn.csv")
	require.NoError(t, err)
	a := DefaultAdvisor()
	a.Stock = s
	if len(s.Widths()) == 0 {
		return nil
	}
	recs, err := a.Recommend(StatedSpacing(125, 1), Rider{
		MassKg: 90, Complaints: []Complaint{Numbness}, Bikes: []Bike{{Use: Road, Posture: AllowanceByHand(20, 0)}},
	})
	require.NoError(t, err)
	for i := range recs[0].Models {
		recs[0].Models[i].Line = 0
	}
	return recs[0].Models
}
