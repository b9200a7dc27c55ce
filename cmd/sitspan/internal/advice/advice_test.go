package advice

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/fit"
)

func measured(mm float64, lines ...record.BudgetLine) record.Measurement {
	u := 2.0
	return record.Measurement{Status: record.Measured, Spacing: &mm, U: &u, Coverage: 0.95, Budget: lines}
}

// `size` and a record's width agree for the same number: for any spacing, any
// uncertainty however it is split into lines, any posture, the whole object is
// the same, and so is the recommendation's.
func TestRecordAndSizeAgree(t *testing.T) {
	stock, err := fit.LoadStock("../../../../testdata/stock.csv")
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		a := fit.DefaultAdvisor()
		if rapid.Bool().Draw(t, "own stock") {
			a.Stock = stock
		}
		mm := rapid.Float64Range(70, 190).Draw(t, "spacing")
		// 3-4-5: two lines whose root sum of squares is exact in binary
		n := float64(rapid.IntRange(0, 400).Draw(t, "n")) / 64
		posture := fit.TrunkAngle(rapid.Float64Range(15, 75).Draw(t, "trunk"), 0)
		if rapid.Bool().Draw(t, "by hand") {
			posture = fit.AllowanceByHand(rapid.Float64Range(0, 40).Draw(t, "allowance"), 0)
		}
		m := measured(mm, record.BudgetLine{Source: "left centre", U: 3 * n},
			record.BudgetLine{Source: "right centre", U: 4 * n})

		size, err := WidthFor(fit.StatedSpacing(mm, 5*n), a, posture)
		require.NoError(t, err)
		width, err := Width(m, a, posture)
		require.NoError(t, err)
		assert.JSONEq(t, toJSON(t, size), toJSON(t, width))

		rec, err := Recommend(record.Record{Measurement: m}, a, fit.Rider{Bikes: []fit.Bike{{Posture: posture}}})
		require.NoError(t, err)
		assert.JSONEq(t, toJSON(t, size), string(rec.Measurement.Width))
	})
}

func toJSON(t require.TestingT, v any) string {
	b, err := json.Marshal(v)
	require.NoError(t, err)
	return string(b)
}

// The check values of equation (3) and (4), common practice, no source: 125 mm
// with an allowance of 20 mm needs 145 mm and gets the 150 where the stock goes
// in steps of 10, and the 145 of a stock in steps of 5 only where nothing is
// uncertain.
func TestCommonPractice(t *testing.T) {
	a := fit.DefaultAdvisor()
	hand := fit.AllowanceByHand(20, 0)
	c, err := Width(measured(125, record.BudgetLine{U: 1}), a, hand)
	require.NoError(t, err)
	assert.Equal(t, []float64{145, 150}, []float64{c.RequiredMM, *c.WidthMM})

	a.Stock, err = fit.StockOfWidths([]float64{140, 145, 150})
	require.NoError(t, err)
	for u, want := range map[float64]float64{0: 145, 0.5: 150} {
		c, err = Width(measured(125, record.BudgetLine{U: u}), a, hand)
		require.NoError(t, err)
		assert.Equal(t, want, *c.WidthMM, "u = %g", u)
	}
}

func TestSpacingWithoutLinesUsesItsInterval(t *testing.T) {
	u, k := 4.1, 2.05
	m := measured(120)
	m.U, m.CoverageFactor = &u, &k
	e, err := Spacing(m)
	require.NoError(t, err)
	assert.InDelta(t, 2, e.Budget.Combined(), 1e-12)

	m.CoverageFactor = nil
	e, err = Spacing(m)
	require.NoError(t, err)
	// 1.959964 is the normal distribution's 97.5 % quantile (JCGM 100:2008,
	// table G.2, last row: 1.960)
	assert.InDelta(t, 4.1/1.959964, e.Budget.Combined(), 1e-6)

	m.U = nil
	_, err = Spacing(m)
	assert.ErrorContains(t, err, "no uncertainty")
	_, err = Spacing(record.Measurement{Status: record.Refused})
	assert.ErrorIs(t, err, ErrNoSpacing)
}

// Degrees of freedom are carried: few of them make the rule more careful.
func TestDegreesOfFreedomCount(t *testing.T) {
	nu := 3.0
	hand := fit.AllowanceByHand(20, 0)
	few, err := Width(measured(125, record.BudgetLine{U: 2.5, DoF: &nu}), fit.DefaultAdvisor(), hand)
	require.NoError(t, err)
	many, err := Width(measured(125, record.BudgetLine{U: 2.5}), fit.DefaultAdvisor(), hand)
	require.NoError(t, err)
	// Student's 95 % one-sided factor for 3 degrees of freedom is 2.353, the
	// normal's 1.645 (JCGM 100:2008, table G.2, columns of 90 %)
	assert.Equal(t, 160.0, *few.WidthMM)
	assert.Equal(t, 150.0, *many.WidthMM)
}

func TestReviewersMeasurementCounts(t *testing.T) {
	rec, err := record.Load("../record/testdata/schema1-paper-reviewed.json")
	require.NoError(t, err)
	before := toJSON(t, rec)
	out, err := Recommend(rec, fit.DefaultAdvisor(), fit.Rider{Bikes: []fit.Bike{{Use: fit.City,
		Posture: fit.TrunkAngle(60, 2)}}})
	require.NoError(t, err)
	assert.Equal(t, before, toJSON(t, rec), "what was given stays as it is")
	var recs []fit.Recommendation
	require.NoError(t, json.Unmarshal(out.Recommendations, &recs))
	assert.InDelta(t, *rec.Reviews[0].Measurement.Spacing, recs[0].Requirement.Spacing.Value, 1e-12)
	assert.Nil(t, out.Measurement.Width, "the automatic measurement is not the one that was chosen by")
	assert.NotNil(t, out.Reviews[0].Measurement.Width)
	assert.Equal(t, 60.0, *out.Settings.TrunkDeg)
	assert.Equal(t, "built-in example", out.Settings.Stock)

	_, err = Recommend(rec, fit.DefaultAdvisor(), fit.Rider{})
	assert.ErrorContains(t, err, "no bike given")
}

func TestParseBike(t *testing.T) {
	tests := []struct {
		text string
		want fit.Bike
	}{
		{"road:40", fit.Bike{Use: fit.Road, Posture: fit.TrunkAngle(40, 2)}},
		{"Stadt:72,5", fit.Bike{Use: fit.City, Posture: fit.TrunkAngle(72.5, 2)}},
		{"Grandma's = city : 70°", fit.Bike{Name: "Grandma's", Use: fit.City, Posture: fit.TrunkAngle(70, 2)}},
		{"winter=mtb:+18mm", fit.Bike{Name: "winter", Use: fit.Mountain, Posture: fit.AllowanceByHand(18, 0)}},
		{"a=gravel:+7.5 mm", fit.Bike{Name: "a", Use: fit.Gravel, Posture: fit.AllowanceByHand(7.5, 0)}},
	}
	for _, tt := range tests {
		got, err := ParseBike(tt.text, 2)
		require.NoError(t, err, tt.text)
		assert.Equal(t, tt.want, got, tt.text)
	}
	for text, want := range map[string]string{
		"road": "has no posture", "hover:40": `use "hover" is not known`, "road:": "is no number",
		"road:steep": "is no number",
		"road:+18":   "has no unit", "": "has no posture", "road:+mm": "is no number",
	} {
		_, err := ParseBike(text, 0)
		assert.ErrorContains(t, err, want, "%q", text)
	}
}

func FuzzParseBike(f *testing.F) {
	f.Add("commuter=city:70")
	f.Add("road:+18mm")
	f.Fuzz(func(t *testing.T, text string) {
		b, err := ParseBike(text, 0)
		if err != nil {
			return
		}
		_, err = fit.ParseUse(string(b.Use))
		require.NoError(t, err)
		a, err := b.Posture.Allowance(fit.DefaultAllowanceTable())
		if err == nil {
			assert.False(t, math.IsNaN(a.MM))
		}
	})
}

func TestRiderIsReadBack(t *testing.T) {
	rec, err := record.Load("../record/testdata/schema1-foam.json")
	require.NoError(t, err)
	none, err := RiderOf(rec)
	require.NoError(t, err)
	assert.Equal(t, fit.Rider{}, none)

	want := fit.Rider{MassKg: 86.5, Complaints: []fit.Complaint{fit.Numbness, fit.ChafedThighs},
		Bikes: []fit.Bike{
			{Name: "winter", Use: fit.Road, Posture: fit.TrunkAngle(40, 2)},
			{Use: fit.City, Posture: fit.AllowanceByHand(30, 1)},
		}}
	out, err := Recommend(rec, fit.DefaultAdvisor(), want)
	require.NoError(t, err)
	got, err := RiderOf(out)
	require.NoError(t, err)
	assert.Equal(t, want, got)

	out.Recommendations = nil // a width alone, as plain `measure` writes it
	got, err = RiderOf(out)
	require.NoError(t, err)
	assert.Equal(t, fit.Rider{Bikes: []fit.Bike{{Posture: fit.TrunkAngle(40, 2)}}}, got)

	out.Recommendations = json.RawMessage(`[{"bike": {"posture": {}}}]`)
	_, err = RiderOf(out)
	assert.ErrorContains(t, err, "not readable")
}
