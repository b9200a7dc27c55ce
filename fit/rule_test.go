package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration/gum"
)

func widthsOf(t require.TestingT, widths ...float64) Stock {
	s, err := StockOfWidths(widths)
	require.NoError(t, err)
	return s
}

// steps makes a stock of widths from low to high in mm.
func steps(t require.TestingT, low, high, step float64) Stock {
	var ws []float64
	for w := low; w <= high; w += step {
		ws = append(ws, w)
	}
	return widthsOf(t, ws...)
}

func choose(t require.TestingT, spacing, u, allowance float64, s Stock) Choice {
	q, err := Require(StatedSpacing(spacing, u), AllowanceByHand(allowance, 0), DefaultAllowanceTable())
	require.NoError(t, err)
	c, err := DefaultRule().Choose(q, s)
	require.NoError(t, err)
	return c
}

// nan stands for null in the tables.
var nan = math.NaN()

func mmOrNaN(mm *float64) float64 {
	if mm == nil {
		return nan
	}
	return *mm
}

func assertMM(t *testing.T, want float64, got *float64, name string) {
	t.Helper()
	if math.IsNaN(want) {
		assert.Nil(t, got, name)
		return
	}
	assert.Equal(t, want, mmOrNaN(got), name)
}

func TestRuleChecks(t *testing.T) {
	tens, fives := steps(t, 120, 170, 10), steps(t, 120, 170, 5)
	tests := []struct {
		name                  string
		spacing, u, allowance float64
		stock                 Stock
		verdict               Verdict
		width, alternative    float64
		source                string
	}{
		{"125 + 20 in tens", 125, 0, 20, tens, Clear, 150, nan, "common practice, no source"},
		{"125 + 20 in tens, u 2", 125, 2, 20, tens, Clear, 150, nan, "common practice: 5 mm of room are 2.5 u"},
		{"125 + 20 in fives", 125, 0, 20, fives, Clear, 145, nan, "common practice: only with u = 0"},
		{"125 + 20 in fives, u 0.001", 125, 0.001, 20, fives, BetweenSizes, 150, 145,
			"P(145) = 1/2 for any u > 0, equation (4)"},
		{"125 + 20 in fives, u 2", 125, 2, 20, fives, BetweenSizes, 150, 145, "equation (4)"},
		// k = 1.6449 at 95 %: 145 + 1.6449 u passes 150 at u = 3.04 and 160 at u = 9.12
		{"room for u just below 3.04", 125, 3.03, 20, tens, Clear, 150, nan,
			"equation (4), k of the normal distribution"},
		{"room for u just above 3.04", 125, 3.05, 20, tens, BetweenSizes, 160, 150,
			"equation (4), k of the normal distribution"},
		{"u just below 9.12", 125, 9.11, 20, tens, BetweenSizes, 160, 150,
			"equation (4), k of the normal distribution"},
		{"u just above 9.12", 125, 9.13, 20, tens, MeasureAgain, 170, 150,
			"equation (4), k of the normal distribution"},
		{"sum with binary digits", 125.1, 0, 19.9, fives, Clear, 145, nan, "125.1 + 19.9 = 145"},
		{"wider than all", 150, 1, 30, tens, OutsideStock, nan, 190, "180 + 1.64 -> 190 on the ladder"},
		{"widest not sure enough", 130, 5, 35, tens, OutsideStock, nan, 180, "165 + 8.2 = 173.2 -> 180"},
		{"one step below all", 105, 0, 0, tens, Clear, 120, nan, "110 would do, one step below 120"},
		{"two steps below all", 100, 0, 0, tens, OutsideStock, nan, 100, "100 would do, two steps below 120"},
		{"far below all", 82, 1, 0, tens, OutsideStock, nan, 90, "82 + 1.6 -> 90"},
		{"uneven stock", 120, 1, 12, widthsOf(t, 130, 143, 155, 168), Clear, 143, nan, "132 + 1.6"},
		{"uneven stock, too wide", 140, 1, 30, widthsOf(t, 130, 143, 155, 168), OutsideStock, nan, 181,
			"171.6 -> 168 + 13, the median of the gaps 13, 12, 13"},
		{"one width", 125, 1, 10, widthsOf(t, 140), Clear, 140, nan, "136.6 <= 140"},
		{"one width, too wide", 125, 1, 20, widthsOf(t, 140), OutsideStock, nan, 150, "146.6 -> 140 + 10"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := choose(t, tt.spacing, tt.u, tt.allowance, tt.stock)
			assert.Equal(t, tt.verdict, c.Verdict, tt.source)
			assertMM(t, tt.width, c.WidthMM, "width_mm")
			assertMM(t, tt.alternative, c.AlternativeMM, "alternative_mm")
			assert.GreaterOrEqual(t, c.Probability, 0.95, "what is named holds at the level")
		})
	}
}

func TestOutsideSaysOnWhichSide(t *testing.T) {
	tens := steps(t, 120, 170, 10)
	assert.Equal(t, TooWide, choose(t, 150, 1, 30, tens).Outside)
	assert.Equal(t, TooNarrow, choose(t, 90, 1, 0, tens).Outside)
	assert.Empty(t, choose(t, 125, 1, 20, tens).Outside)
}

func TestBetweenSizesSaysWhatWouldDecide(t *testing.T) {
	c := choose(t, 125, 4, 20, steps(t, 120, 170, 10))
	require.Equal(t, BetweenSizes, c.Verdict)
	codes := codesOf(c.Notes)
	assert.Subset(t, codes, []string{"verdict.between_sizes", "decide.photo", "decide.sitting",
		"decide.test_ride"})
	// 5 mm of room / 1.6449 x 1.9600: below that expanded uncertainty 150 holds
	for _, n := range c.Notes {
		if n.Code == "decide.photo" {
			assert.InDelta(t, 5/1.6449*1.9600, n.Params["expanded"], 1e-3)
		}
	}
	edge := choose(t, 125, 2, 20, steps(t, 120, 170, 5))
	assert.Contains(t, codesOf(edge.Notes), "decide.at_edge")
	assert.NotContains(t, codesOf(edge.Notes), "decide.photo",
		"no photo can settle a requirement of exactly 145")
}

// The promise of decide.photo holds: with that uncertainty the rule does take W0.
func TestDecidePhotoKeepsItsPromise(t *testing.T) {
	tens := steps(t, 120, 170, 10)
	c := choose(t, 125, 4, 20, tens)
	for _, n := range c.Notes {
		if n.Code == "decide.photo" {
			u := n.Params["expanded"].(float64) / 1.959964
			assert.Equal(t, 150.0, *choose(t, 125, u*0.999, 20, tens).WidthMM)
			assert.Equal(t, 160.0, *choose(t, 125, u*1.001, 20, tens).WidthMM)
			return
		}
	}
	t.Fatal("no decide.photo note")
}

func TestStudentsTWidensTheGuardBand(t *testing.T) {
	// u = 2.6: normal 145 + 4.28 < 150; t with 3 degrees of freedom 2.353 x 2.6
	// = 6.12 > 5 (t90(3) two-sided = 2.353: SciPy's t.ppf(0.95, 3))
	spacing := gum.Estimate{Value: 125, Budget: gum.Budget{{Source: "repeated sittings", Std: 2.6, Unit: "mm",
		Sensitivity: 1, DoF: 3}}}
	q, err := Require(spacing, AllowanceByHand(20, 0), DefaultAllowanceTable())
	require.NoError(t, err)
	c, err := DefaultRule().Choose(q, steps(t, 120, 170, 10))
	require.NoError(t, err)
	assert.Equal(t, 160.0, *c.WidthMM)
	assert.Equal(t, 150.0, *choose(t, 125, 2.6, 20, steps(t, 120, 170, 10)).WidthMM)
}

func TestLevelBelowHalfOrCertainIsRefused(t *testing.T) {
	for _, level := range []float64{0, 0.49, 1, 1.5, -1, math.NaN()} {
		assert.ErrorContains(t, Rule{level}.Validate(), "needed", "level %g", level)
	}
	for _, level := range []float64{0.5, 0.95, 0.999} {
		assert.NoError(t, Rule{level}.Validate())
	}
}

func TestRequireRefusesWhatIsNoSpacing(t *testing.T) {
	for _, mm := range []float64{0, -3, math.NaN(), math.Inf(1), 1250} {
		_, err := Require(StatedSpacing(mm, 1), AllowanceByHand(20, 0), DefaultAllowanceTable())
		assert.ErrorContains(t, err, "spacing is")
	}
	for _, u := range []float64{-1, math.NaN(), math.Inf(1)} {
		_, err := Require(StatedSpacing(120, u), AllowanceByHand(20, 0), DefaultAllowanceTable())
		assert.Error(t, err, "u = %g", u)
	}
}

func TestRequirementCombinesBothBudgets(t *testing.T) {
	q, err := Require(StatedSpacing(125, 1.5), AllowanceByHand(20, 2), DefaultAllowanceTable())
	require.NoError(t, err)
	assert.Equal(t, 145.0, q.Required.Value)
	assert.InDelta(t, 2.5, q.U(), 1e-12, "sqrt(1.5² + 2²): JCGM 100:2008, equation (10)")
	assert.Len(t, q.Required.Budget, 2)
}

// Welch-Satterthwaite alone would let an added influence narrow the interval:
// u = 1 with 1 degree of freedom needs 6.31 (t90(1) two-sided, JCGM 100:2008,
// table G.2), and with another u = 1 beside it only t90(4) x 1.41 = 3.01.
func TestAnAllowanceNeverMakesTheRuleBolder(t *testing.T) {
	spacing := gum.Estimate{Value: 120, Budget: gum.Budget{{Source: "two sittings", Std: 1, Unit: "mm",
		Sensitivity: 1, DoF: 1}}}
	q, err := Require(spacing, AllowanceByHand(20, 1), DefaultAllowanceTable())
	require.NoError(t, err)
	assert.InDelta(t, 6.31, q.needMM(0.95)-140, 0.005)
	assert.Less(t, q.ProbabilityWithin(146), 0.95)
	assert.Greater(t, q.ProbabilityWithin(146.5), 0.95)
}

func TestSupportMustHoldTheSpacingToo(t *testing.T) {
	stock := Stock{Models: []Model{
		{Name: "a", WidthMM: 150, SupportMM: 120, Qty: QtyNotStated},
		{Name: "b", WidthMM: 160, SupportMM: 140, Qty: QtyNotStated},
		{Name: "c", WidthMM: 170, Qty: QtyNotStated},
	}}
	c := choose(t, 125, 1, 20, stock)
	assert.Equal(t, Clear, c.Verdict, "150 is no size at all for 125 mm: its support ends at 120")
	assert.Equal(t, 160.0, *c.WidthMM)
	assert.Contains(t, codesOf(c.Notes), "support.short")

	unsure := choose(t, 138, 4, 5, stock) // P(138 ± 4 <= 140) = 0.69
	assert.Equal(t, BetweenSizes, unsure.Verdict)
	assert.Equal(t, 170.0, *unsure.WidthMM)
	assert.Equal(t, 160.0, *unsure.AlternativeMM)

	none := choose(t, 138, 4, 5, Stock{Models: stock.Models[:2]})
	assert.Equal(t, OutsideStock, none.Verdict)
	assert.Equal(t, TooWide, none.Outside)
	assert.Equal(t, 150.0, *none.AlternativeMM, "143 + 6.6 -> 150, wide enough if its support were")
	assert.Equal(t, "verdict.no_support", none.Notes[0].Code)
}

// With u only in the spacing the two conditions are one: the joint probability
// is the smaller of the two. With u in the allowance alone they are independent.
func TestJointProbabilityOfWidthAndSupport(t *testing.T) {
	shared, err := Require(StatedSpacing(125, 3), AllowanceByHand(20, 0), DefaultAllowanceTable())
	require.NoError(t, err)
	assert.Equal(t, math.Min(shared.ProbabilityWithin(150), shared.ProbabilityResting(128)),
		shared.ProbabilityHolding(150, 128))

	mixed, err := Require(StatedSpacing(125, 3), AllowanceByHand(20, 3), DefaultAllowanceTable())
	require.NoError(t, err)
	wide, rests := mixed.ProbabilityWithin(150), mixed.ProbabilityResting(128)
	joint := mixed.ProbabilityHolding(150, 128)
	assert.Less(t, joint, math.Min(wide, rests))
	assert.Greater(t, joint, wide*rests)
}

// The law of equation (3) by Monte Carlo (JCGM 101): with n draws the share has
// u = sqrt(p (1-p) / n); five of them are allowed.
func TestJointProbabilityByMonteCarlo(t *testing.T) {
	const n = 200_000
	q, err := Require(StatedSpacing(125, 3), AllowanceByHand(20, 2), DefaultAllowanceTable())
	require.NoError(t, err)
	inside := gum.MonteCarlo(n, 7, []gum.Distribution{gum.NormalAbout(125, 3), gum.NormalAbout(20, 2)},
		func(x []float64) float64 {
			if x[0]+x[1] <= 149 && x[0] <= 129 {
				return 1
			}
			return 0
		}).Mean()
	p := q.ProbabilityHolding(149, 129)
	assert.InDelta(t, p, inside, 5*math.Sqrt(p*(1-p)/n))
}

func TestSoldOutWidthIsNotStocked(t *testing.T) {
	stock := Stock{Models: []Model{
		{WidthMM: 140, Qty: 2}, {WidthMM: 150, Qty: 0}, {WidthMM: 160, Qty: 1},
	}}
	c := choose(t, 125, 1, 20, stock)
	assert.Equal(t, 160.0, *c.WidthMM)
	assert.Contains(t, codesOf(c.Notes), "stock.sold_out")
	_, err := DefaultRule().Choose(Requirement{}, Stock{Models: []Model{{WidthMM: 140}}})
	assert.ErrorContains(t, err, "no saddle on the shelf")
}

func TestNotesThatMustNotBeMissing(t *testing.T) {
	tens := steps(t, 120, 170, 10)
	example := ExampleStock()
	tests := []struct {
		name string
		c    Choice
		code string
	}{
		{"example stock is said to be one", choose(t, 125, 1, 20, example), "stock.example"},
		{"no uncertainty", choose(t, 125, 0, 20, tens), "u.zero"},
		{"too wide chafes", choose(t, 125, 12, 20, tens), "warn.too_wide_chafes"},
		{"stock begins above", choose(t, 105, 1, 0, tens), "stock.starts_above"},
		{"spacing hard to believe", choose(t, 65, 1, 60, tens), "spacing.implausible"},
		{"widest in reach of a better photo", choose(t, 130, 5, 35, tens), "decide.into_stock"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { assert.Contains(t, codesOf(tt.c.Notes), tt.code) })
	}
}

func codesOf(notes []Note) []string {
	codes := make([]string, 0, len(notes))
	for _, n := range notes {
		codes = append(codes, n.Code)
	}
	return codes
}
