package report

import (
	"bytes"
	"fmt"
	"image/png"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

func explained(t *testing.T, rec record.Record, lang words.Lang) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, Explain(&b, rec, lang))
	assert.NotRegexp(t, rawKey, b.String(), "every key has its words")
	return b.String()
}

// The whole chain is there, in its order, with the record's own numbers.
func TestExplainTellsTheWholeChain(t *testing.T) {
	rec := advised(t, kept(t, "schema1-foam.json"), fit.Rider{MassKg: 86, Bikes: threeBikes,
		Complaints: []fit.Complaint{fit.Numbness}})
	text := explained(t, rec, words.English)
	at := 0
	for _, want := range []string{
		"foam-window.jpg", "2016 x 1512 px", "d58ddd166ee95ba7459cbecc4f954a17a4e191fee84f5b4b8342941b69205d38",
		"52 mm (35 mm)",
		"depth 15.0 / 17.2 mm (u = 1.0 mm)", "0.9980 / 0.9985 (u = 0.0015 / 0.0020)",
		"marks found                   12", "0.1564 mm/px", "473 mm", "2.7°",
		"a ridge runs across the window; lay the frame",
		"(1354.1, 772.8) px -> (−69.62, −1.31) mm",
		"117.39 mm", "+2.11 mm outward; depth 15.0 mm (u = 1.1 mm), gauge", "+1.95 mm outward; depth 17.2 mm",
		"121.46 mm",
		"0.780   49.0 %", "left centre: covariance", "0.720   41.7 %", "depth, common to both sides: depth gauge",
		"u = 1.115 mm", "k = 2.00 for 95 % and 57 effective degrees of freedom", "U = 2.23 mm",
		"121.5 mm ± 2.3 mm",
		"lamp",
		"Winter bike, gravel, trunk 42° above the horizontal (u = 2°)",
		"+ allowance                   18.0 mm (u = 1.33 mm)", "common practice, no source",
		"139.5 mm ± 3.5 mm", "95 %", "62.2 %        62.2 %  <- the other size", "99.9 %  <- chosen",
		"between two sizes", "Siskin, 150 mm: made for gravel",
		"Tern Light, 150 mm: left out: its limit of 80 kg", "Damper for 86 kg: medium, or firm",
		"Grandmother's tandem, rebuilt for touring, touring, allowance set by the fitter", "City, trunk 75°",
		"Numbness", "Schrader 2008", "Cautions", "physician or physiotherapist",
	} {
		i := strings.Index(text[at:], want)
		require.GreaterOrEqual(t, i, 0, "%q is not there, or not in its place", want)
		at += i
	}
	for line := range strings.Lines(text) {
		assert.LessOrEqual(t, len([]rune(strings.TrimRight(line, "\n"))), explainWidth, line)
	}
	assert.NotContains(t, text, "Rider 17", "the alias is nobody's business here")
}

func TestExplainInGerman(t *testing.T) {
	text := explained(t, advised(t, kept(t, "schema1-paper-reviewed.json"), fit.Rider{Bikes: oneBike}),
		words.German)
	for _, want := range []string{
		"Vom Pixel zur Breite", "26. November 2025, workshop 2: the reflection hides the edge",
		"Marken gefunden               9",
		"keine: Die Mitten liegen in der gemessenen Ebene", "60,7 %", "21 effektive Freiheitsgrade",
		"100,5 mm ± 2,7 mm",
		"Zuschlag 20 mm für einen Rumpfwinkel von 45°", "<- gewählt", "eindeutig", "Vorsicht",
	} {
		assert.Contains(t, text, want)
	}
}

func TestExplainWithoutAWidthOrASpacing(t *testing.T) {
	refused := explained(t, kept(t, "schema1-refused.json"), words.English)
	assert.Contains(t, refused, "Reasons (refused)\n  - 4 of the frame's 12 marks were found, 6 are needed; "+
		"photograph the whole frame")
	assert.Contains(t, refused, "There is no distance: see the reasons.")
	assert.NotContains(t, refused, "Budget")
	scan := explained(t, kept(t, "schema1-scan.json"), words.English)
	assert.Contains(t, scan, "the scan's stated resolution")
	assert.Contains(t, scan, "No posture was given: no width was chosen.")
	assert.NotContains(t, scan, "marks found")
	assert.NotContains(t, scan, "Camera\n")
}

func TestExplainListsParts(t *testing.T) {
	rec := kept(t, "schema1-foam.json")
	mm, u, d := 120.2, 3.14, -1.3
	rec.Measurement.Sittings = []record.Part{
		{Photo: "a.jpg", Status: record.Measured, Used: true, Spacing: &mm, U: &u, Difference: &d},
		{Photo: "b.jpg", Status: record.Refused, Why: "no frame was found"},
	}
	text := explained(t, rec, words.English)
	assert.Contains(t, text, "a.jpg                         120.20 mm ± 3.2 mm, −1.30 mm\n")
	assert.Contains(t, text, "b.jpg                         refused, not used: no frame was found\n")
}

// The chain of sittings is the first one's, which adds up, and then the mean of all.
func TestExplainAddsUpSittings(t *testing.T) {
	rec := kept(t, "schema1-foam.json")
	first, second, u, d := *rec.Measurement.Spacing, *rec.Measurement.Spacing+2, 1.0, 1.0
	mean := (first + second) / 2
	rec.Measurement.Spacing = &mean
	rec.Measurement.Sittings = []record.Part{
		{Photo: "a.jpg,b.jpg", Status: record.Measured, Used: true, Spacing: &first, U: &u, Difference: &d},
		{Photo: "c.jpg", Status: record.Measured, Used: true, Spacing: &second, U: &u, Difference: &d},
	}
	text := explained(t, rec, words.English)
	_, text, _ = strings.Cut(text, "\nParallax correction\n")
	text = "\n" + text
	number := func(label string) (v float64) {
		_, after, found := strings.Cut(text, "\n  "+label+" ")
		require.True(t, found, "%s:\n%s", label, text)
		_, err := fmt.Sscan(strings.NewReplacer("−", "-", "+", "").Replace(strings.Fields(after)[0]), &v)
		require.NoError(t, err)
		return v
	}
	assert.Contains(t, text, "of the first sitting that counts, a.jpg,b.jpg")
	sum := number("distance on the frame's plane") + number("left") + number("right")
	assert.InDelta(t, sum, number("distance, corrected"), 0.03) // three numbers of two decimals
	assert.InDelta(t, first, number("distance, corrected"), 0.005)
	assert.InDelta(t, (number("a.jpg,b.jpg")+number("c.jpg"))/2, number("mean"), 0.011)
}

// A record whose stated U is not what its own budget gives is found out.
func TestExplainFindsAnUncertaintyThatIsNotItsBudgets(t *testing.T) {
	rec := kept(t, "schema1-foam.json")
	assert.NotContains(t, explained(t, rec, words.English), "Note:")
	u := 1.2
	rec.Measurement.U = &u
	assert.Contains(t, explained(t, rec, words.English),
		"Note: the record states U = 1.20 mm, its own budget gives 2.23 mm. The width was chosen by the\n  budget.")
}

// Shares of 3 and 4 in a budget of 5 are 36 and 64 per cent (their squares, JCGM
// 100:2008, equation 11a), and all shares add up to one.
func TestShares(t *testing.T) {
	assert.InDelta(t, 0.36, share(record.BudgetLine{U: 3}, 5), 1e-12)
	assert.InDelta(t, 0.64, share(record.BudgetLine{U: 4}, 5), 1e-12)
	assert.Zero(t, share(record.BudgetLine{}, 0))
	for _, name := range []string{"schema1-foam.json", "schema1-paper-reviewed.json", "schema1-scan.json"} {
		r, err := readingOf(kept(t, name))
		require.NoError(t, err)
		sum := 0.0
		for _, l := range r.m.Budget {
			sum += share(l, r.spacing.Budget.Combined())
		}
		assert.InDelta(t, 1, sum, 1e-9, name)
	}
}

// The parallax correction by hand, equation (1) of the measurement's description
// X = C + (X' - C)(H + d)/H: at H = 300 mm a dent at 60 mm on the plane moves
// outward by 60 d / 300, so 14 mm of depth give 2.8 mm, and 5 mm give 1.0 mm.
func TestShiftsOfTheParallax(t *testing.T) {
	dent := func(plane, depth float64) *record.Dent {
		return &record.Dent{PlaneMM: [2]float64{plane, 7}, MM: [2]float64{plane * (300 + depth) / 300, 7}}
	}
	r := reading{m: record.Measurement{Left: dent(-60, 14), Right: dent(60, 5)}}
	left, right, ok := r.shifts()
	require.True(t, ok)
	assert.InDelta(t, 2.8, left, 1e-9)
	assert.InDelta(t, 1.0, right, 1e-9)

	_, _, ok = reading{}.shifts()
	assert.False(t, ok)
	// in a whole record both sides together are what was added
	r, err := readingOf(kept(t, "schema1-foam.json"))
	require.NoError(t, err)
	left, right, _ = r.shifts()
	assert.InDelta(t, *r.m.Spacing-*r.m.UncorrectedMM, left+right, 0.01)
}

// What is drawn is what is chosen by: the density's area up to a width is the
// probability that the rule uses, for the normal and for Student's distribution.
func TestDensityIsTheRulesDistribution(t *testing.T) {
	for _, nu := range []float64{math.Inf(1), 7} {
		spacing := gum.Estimate{Value: 125, Budget: gum.Budget{{Source: "x", Std: 2, Unit: "mm", Sensitivity: 1,
			DoF: nu}}}
		q, err := fit.Require(spacing, fit.AllowanceByHand(20, 0), fit.DefaultAllowanceTable())
		require.NoError(t, err)
		density := requiredDensity(q)
		assert.InDelta(t, 0.5, q.ProbabilityWithin(145), 1e-9)
		for _, w := range []float64{146, 148.3, 155} {
			area := 0.5 + quad.Fixed(density, 145, w, 60, quad.Legendre{}, 0)
			assert.InDelta(t, q.ProbabilityWithin(w), area, 1e-9, "nu = %g, %g mm", nu, w)
		}
	}
}

func TestPlot(t *testing.T) {
	named := []fit.Bike{{Name: "Annegret's racer", Use: fit.Road, Posture: fit.TrunkAngle(45, 2)},
		{Posture: fit.AllowanceByHand(80, 0)}}
	rec := advised(t, kept(t, "schema1-foam.json"), fit.Rider{MassKg: 78, Bikes: named})
	for lang, wants := range map[words.Lang][]string{
		words.English: {"Bike 1, road, width needed 141.5 ± 3.5 mm", "chosen", "99.9 %", ">150<",
			"saddle width / mm", "Bike 2, width needed 201.5", "to order", ">210<"},
		words.German: {"Rad 1, Rennrad, nötige Breite 141,5 ± 3,5 mm", "gewählt", "99,9 %", "Sattelbreite / mm",
			"bestellen"},
	} {
		var svg bytes.Buffer
		require.NoError(t, Plot(&svg, rec, lang, SVG))
		for _, want := range wants {
			assert.Contains(t, svg.String(), want)
		}
		for _, private := range []string{"Rider 17", "Annegret", "foam-window", "78 kg"} {
			assert.NotContains(t, svg.String(), private, "plots travel")
		}
	}
	var picture bytes.Buffer
	require.NoError(t, Plot(&picture, rec, words.English, PNG))
	img, err := png.Decode(&picture)
	require.NoError(t, err)
	// 16 cm and two panels of 7 cm at 200 dpi
	assert.InDelta(t, 16/2.54*200, float64(img.Bounds().Dx()), 1)
	assert.InDelta(t, 14/2.54*200, float64(img.Bounds().Dy()), 1)

	assert.ErrorIs(t, Plot(&picture, kept(t, "schema1-foam.json"), words.English, SVG), errNoPlot)
	assert.ErrorContains(t, Plot(&picture, rec, words.English, "gif"), "svg or png")
	exact := advised(t, kept(t, "schema1-foam.json"), fit.Rider{Bikes: oneBike})
	exact.Measurement.Budget = nil
	exact = advised(t, exact, fit.Rider{Bikes: []fit.Bike{{Posture: fit.AllowanceByHand(20, 0)}}})
	assert.NoError(t, Plot(&picture, exact, words.English, SVG), "no uncertainty: a line")
}

func TestPlotFormats(t *testing.T) {
	for path, want := range map[string]PlotFormat{"a.svg": SVG, "b/c.PNG": PNG} {
		got, err := PlotFormatOf(path)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	_, err := PlotFormatOf("a.pdf")
	assert.ErrorContains(t, err, "a.pdf: a plot is written as .svg or .png")
}

// A photo that a surface rests on counts by the points that it shows, also where it has no number of its own;
// one that gives nothing says what became of it.
func TestExplainTellsWhatEachPhotoGives(t *testing.T) {
	rec := kept(t, "schema1-foam.json")
	points, own, u := 480, 121.25, 2.2
	rec.Measurement.Photos = []record.Part{
		{Photo: "above.jpg", Status: record.Refused, Used: true, Points: &points},
		{Photo: "left.jpg", Status: record.Review, Used: true, Points: &points, Spacing: &own, U: &u},
		{Photo: "other.jpg", Status: record.Refused},
	}
	text := explained(t, rec, words.English)
	for _, want := range []string{"above.jpg                     480 points of the pad\n",
		"left.jpg                      121.25 mm ± 2.2 mm\n", "other.jpg                     refused, not used\n"} {
		assert.Contains(t, text, want)
	}
}
