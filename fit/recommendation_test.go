package fit

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func demoAdvisor(t require.TestingT) Advisor {
	a := DefaultAdvisor()
	s, err := LoadStock("../testdata/stock.csv")
	require.NoError(t, err)
	a.Stock = s
	return a
}

// recommendOne recommends for one bike from a stock given as CSV.
func recommendOne(t *testing.T, csv string, r Rider) Recommendation {
	t.Helper()
	a := DefaultAdvisor()
	a.Stock = readText(t, csv)
	recs, err := a.Recommend(StatedSpacing(125, 1), r)
	require.NoError(t, err)
	require.Len(t, recs, 1)
	return recs[0]
}

func namesOf(ms []RankedModel) []string {
	names := make([]string, len(ms))
	for i, m := range ms {
		names[i] = m.Name
	}
	return names
}

var roadBike = []Bike{{Name: "road bike", Use: Road, Posture: AllowanceByHand(20, 0)}}

// Each criterion decides where all earlier ones are equal, and a later one
// never outweighs an earlier one. Better stands first in each pair.
func TestCriteriaDecideInTheirOrder(t *testing.T) {
	header := "model,use,width_mm,relief,nose_mm,length_mm,max_rider_kg,dampers,qty\n"
	tests := []struct {
		name          string
		better, worse string // without model and with the width left out
	}{
		{"use beats all later ones", "road,150,none,90,400,,none,0", "city,150,cutout,40,250,120,all,3"},
		{"use not stated beats another use", ",150,none,90,400,,none,0", "city,150,cutout,40,250,120,all,3"},
		{"relief for the complaint", "road,150,cutout,90,400,,none,0", "road,150,none,40,250,120,all,3"},
		{"relief of either kind", "road,150,channel,40,250,120,all,3", "road,150,,40,250,120,all,3"},
		{"nose", "road,150,cutout,50,400,,none,0", "road,150,cutout,51,250,120,all,3"},
		{"length", "road,150,cutout,50,285,,none,0", "road,150,cutout,50,286,120,all,3"},
		{"a stated mass limit", "road,150,cutout,50,250,80,none,0", "road,150,cutout,50,250,,all,3"},
		{"damper", "road,150,cutout,50,250,120,medium,0", "road,150,cutout,50,250,120,soft,3"},
		{"in stock", "road,150,cutout,50,250,120,medium,1", "road,150,cutout,50,250,120,medium,"},
		{"not stated beats sold out", "road,150,cutout,50,250,120,medium,", "road,150,cutout,50,250,120,medium,0"},
	}
	rider := Rider{MassKg: 72, Complaints: []Complaint{Numbness}, Bikes: roadBike}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			// the better one has the later name, so that the name cannot help;
			// a third model keeps the width on the shelf
			rec := recommendOne(t,
				header+"Zinnia,"+tt.better+"\nAster,"+tt.worse+"\nMallow,city,150,none,99,450,,none,1\n", rider)
			names := namesOf(rec.Models)
			assert.Less(t, slices.Index(names, "Zinnia"), slices.Index(names, "Aster"), "%v", names)
		})
	}
}

func TestTiesGoByName(t *testing.T) {
	rec := recommendOne(t, "model,width_mm\nbirch,150\nCedar,150\nAlder,150\n", Rider{Bikes: roadBike})
	assert.Equal(t, []string{"Alder", "birch", "Cedar"}, namesOf(rec.Models))
}

// Models that no reason tells apart are said to be equal: the alphabet is no reason.
func TestEqualModelsAreKnown(t *testing.T) {
	header := "model,use,width_mm,qty\n"
	five := "E,road,150,1\nB,road,150,2\nC,road,150,1\nA,road,150,1\nD,road,150,1\n"
	rider := Rider{Bikes: roadBike}
	rec := recommendOne(t, header+five+"Aa,city,150,1\n", rider)
	assert.Equal(t, []string{"A", "B", "C", "D", "E"}, namesOf(rec.Equals()), "and not the one of another use")
	rec = recommendOne(t, header+"A,road,150,1\nB,road,150,0\n", rider)
	assert.Empty(t, rec.Equals(), "stock tells them apart")
	assert.Empty(t, Recommendation{}.Equals())
}

func TestEveryReasonIsPrinted(t *testing.T) {
	rec := recommendOne(t,
		"model,use,width_mm,relief,nose_mm,length_mm,max_rider_kg,dampers,qty\n"+
			"Aster,road,150,cutout,42,250,120,all,3\n",
		Rider{MassKg: 72, Complaints: []Complaint{Numbness}, Bikes: roadBike})
	best, ok := rec.Best()
	require.True(t, ok)
	var criteria []Criterion
	var codes []string
	for _, r := range best.Reasons {
		criteria = append(criteria, r.Criterion)
		codes = append(codes, r.Note.Code)
		assert.Equal(t, For, r.Grade, r.Criterion)
	}
	assert.Equal(t, []Criterion{ByUse, ByRelief, ByNose, ByLength, ByMass, ByDamper, ByStock}, criteria)
	assert.Equal(t, []string{
		"rank.use.for", "rank.relief.for", "rank.nose.for", "rank.length.for", "rank.mass.for", "rank.damper.for",
		"rank.stock.for",
	}, codes)
	assert.Equal(t, map[string]any{"nose": 42.0, "max": 50.0, "why": "road"}, best.Reasons[2].Note.Params)
}

// The saddle's own limit holds: a model below the rider's mass is never
// recommended, whatever else speaks for it, and the width stays what it is.
func TestMassLimitIsNeverExceeded(t *testing.T) {
	csv := "model,use,width_mm,max_rider_kg,qty\nAster,road,150,89.9,3\nBirch,city,150,90,1\n"
	rec := recommendOne(t, csv, Rider{MassKg: 90, Bikes: roadBike})
	assert.Equal(t, []string{"Birch"}, namesOf(rec.Models), "at the limit it still holds")
	require.Len(t, rec.Excluded, 1)
	assert.Equal(t, Note{Code: "exclude.mass", Params: map[string]any{"limit": 89.9, "mass": 90.0}},
		rec.Excluded[0].Why)

	rec = recommendOne(t, "model,width_mm,max_rider_kg\nAster,150,80\nBirch,170,150\n",
		Rider{MassKg: 90, Bikes: roadBike})
	assert.Empty(t, rec.Models)
	assert.Equal(t, 150.0, *rec.Choice.WidthMM, "no other width instead")
	assert.Equal(t, []string{"models.none_fit"}, codesOf(rec.Notes))
}

func TestModelWithTooLittleSupportIsLeftOut(t *testing.T) {
	rec := recommendOne(t, "model,use,width_mm,support_mm\nAster,road,150,125\nBirch,city,150,135\n",
		Rider{Bikes: roadBike})
	assert.Equal(t, []string{"Birch"}, namesOf(rec.Models))
	require.Len(t, rec.Excluded, 1)
	assert.Equal(t, "exclude.support", rec.Excluded[0].Why.Code)
}

func TestBetweenSizesShowsModelsOfBoth(t *testing.T) {
	a := demoAdvisor(t)
	recs, err := a.Recommend(StatedSpacing(125, 4), Rider{Bikes: []Bike{{Use: Touring,
		Posture: AllowanceByHand(20, 0)}}})
	require.NoError(t, err)
	rec := recs[0]
	require.Equal(t, BetweenSizes, rec.Choice.Verdict)
	best, _ := rec.Best()
	other, _ := rec.RunnerUp()
	assert.Equal(t, "Dunlin Tour 160", fmt.Sprintf("%s %g", best.Name, best.WidthMM))
	assert.Equal(t, "Dunlin Tour 150", fmt.Sprintf("%s %g", other.Name, other.WidthMM))
}

// Between two sizes a saddle is compared with itself, though another ranks before it in the other width.
func TestBetweenSizesComparesAModelWithItself(t *testing.T) {
	rec := Recommendation{
		Models: []RankedModel{{Model: Model{Name: "Birch", WidthMM: 150}}},
		AlternativeModels: []RankedModel{{Model: Model{Name: "Aster", WidthMM: 140}},
			{Model: Model{Name: "Birch", WidthMM: 140}}},
	}
	other, ok := rec.RunnerUp()
	require.True(t, ok)
	assert.Equal(t, "Birch", other.Name)
	rec.Models[0].Name = "Cedar"
	other, _ = rec.RunnerUp()
	assert.Equal(t, "Aster", other.Name, "no other size of it is there")
}

func TestNoModelIsNamedBeforeTheWidthIsKnown(t *testing.T) {
	a := demoAdvisor(t)
	for _, e := range []struct{ mm, u float64 }{{125, 12}, {170, 1}, {80, 1}} {
		recs, err := a.Recommend(StatedSpacing(e.mm, e.u), Rider{Bikes: roadBike})
		require.NoError(t, err)
		_, ok := recs[0].Best()
		assert.False(t, ok, "%+v is %s", e, recs[0].Choice.Verdict)
	}
}

func TestOneRecommendationPerBike(t *testing.T) {
	a := demoAdvisor(t)
	recs, err := a.Recommend(StatedSpacing(122, 1), Rider{MassKg: 80, Bikes: []Bike{
		{Name: "low", Use: Road, Posture: TrunkAngle(30, 2)},
		{Name: "upright", Use: City, Posture: TrunkAngle(75, 2)},
	}})
	require.NoError(t, err)
	require.Len(t, recs, 2)
	// 122 + 10 and 122 + 40, with 2 deg x 2/3 mm/deg = 1.33 mm and 1 mm
	assert.Equal(t, 140.0, *recs[0].Choice.WidthMM)
	assert.Equal(t, 170.0, *recs[1].Choice.WidthMM)
	assert.InDelta(t, math.Hypot(1, 4.0/3), recs[0].Requirement.U(), 1e-12)
	best, _ := recs[1].Best()
	assert.Equal(t, "Moorhen", best.Name)
}

// `size`, `measure` and the recommendation give the same answer for the same
// number, since they go the same way.
func TestWidthAndRecommendAgree(t *testing.T) {
	a := demoAdvisor(t)
	for _, u := range []float64{0, 1, 4, 12} {
		_, c, err := a.Width(StatedSpacing(125, u), TrunkAngle(40, 3))
		require.NoError(t, err)
		recs, err := a.Recommend(StatedSpacing(125, u), Rider{Bikes: []Bike{{Use: Road,
			Posture: TrunkAngle(40, 3)}}})
		require.NoError(t, err)
		assert.Equal(t, c, recs[0].Choice)
	}
}

func TestRiderIsCheckedAsAWhole(t *testing.T) {
	err := Rider{MassKg: 900, Complaints: []Complaint{"hunger"},
		Bikes: []Bike{{Name: "x", Use: "hover"}}}.Check()
	for _, want := range []string{"900 kg, needed: 20 to 250 kg", `complaint "hunger" is not known`,
		`bike "x": use "hover"`} {
		assert.ErrorContains(t, err, want)
	}
	_, err = DefaultAdvisor().Recommend(StatedSpacing(125, 1), Rider{})
	assert.ErrorContains(t, err, "no bike given")
}

func TestDampingByMass(t *testing.T) {
	tests := []struct {
		kg            float64
		damper, other Damper
		source        string
	}{
		{45, SoftDamper, "", "soft up to 54 kg: common practice, no source"},
		{50.9, SoftDamper, "", "just outside 3 kg of the border (our assumption)"},
		{51, SoftDamper, MediumDamper, "near the border"},
		{54, SoftDamper, MediumDamper, "soft up to and with 54 kg: common practice, no source"},
		{54.1, MediumDamper, SoftDamper, "near the border"},
		{57, MediumDamper, SoftDamper, "near the border"},
		{70, MediumDamper, "", "medium between: common practice, no source"},
		{85, MediumDamper, FirmDamper, "near the border"},
		{88, FirmDamper, MediumDamper, "firm from 88 kg: common practice, no source"},
		{91.1, FirmDamper, "", "outside 3 kg of the border"},
		{0, "", "", "mass not known"},
	}
	for _, tt := range tests {
		a := DefaultDamping().For(tt.kg)
		assert.Equal(t, tt.damper, a.Damper, "%g kg: %s", tt.kg, tt.source)
		assert.Equal(t, tt.other, a.Other, "%g kg: %s", tt.kg, tt.source)
	}
	near := DefaultDamping().For(86).Note
	assert.Equal(t, Note{Code: "damping.near", Params: map[string]any{
		"damper": "medium", "other": "firm", "mass": 86.0, "border": 88.0,
	}}, near)
	assert.NoError(t, DefaultDamping().Validate())
	err := DampingTable{SoftUpToKg: 90, FirmFromKg: 60, NearKg: -1}.Validate()
	assert.ErrorContains(t, err, "leave no medium")
	assert.ErrorContains(t, err, "near_kg is -1 kg")
}

func TestEitherDamperServesNearABorder(t *testing.T) {
	csv := "model,width_mm,dampers\nAster,150,soft\nBirch,150,firm\n"
	rec := recommendOne(t, csv, Rider{MassKg: 86, Bikes: roadBike})
	assert.Equal(t, []string{"Birch", "Aster"}, namesOf(rec.Models), "86 kg is medium, and near firm")
}

func TestChafedThighsAskForANarrowerNose(t *testing.T) {
	csv := "model,width_mm,nose_mm\nAster,150,48\nBirch,150,44\n"
	assert.Equal(t, "Aster", namesOf(recommendOne(t, csv, Rider{Bikes: roadBike}).Models)[0])
	rec := recommendOne(t, csv, Rider{Complaints: []Complaint{ChafedThighs}, Bikes: roadBike})
	assert.Equal(t, "Birch", namesOf(rec.Models)[0])
	assert.Equal(t, "rank.nose.against", rec.Models[1].Reasons[1].Note.Code)
	assert.Equal(t, "chafed_thighs", rec.Models[1].Reasons[1].Note.Params["why"])
}

func TestEveryComplaintHasItsGuide(t *testing.T) {
	for _, c := range Complaints() {
		g, ok := ComplaintGuideFor(c)
		require.True(t, ok, c)
		notes := slices.Concat(g.Saddle, g.Stop, g.Basis)
		assert.NotEmpty(t, g.SetUp)
		for _, s := range g.SetUp {
			notes = append(notes, s.Note)
		}
		for _, n := range notes {
			assert.Contains(t, Codes(), n.Code)
		}
		assert.NotEmpty(t, g.Stop, "%s says when to stop", c)
		assert.NotEmpty(t, g.Basis, "%s says what it rests on", c)
		parsed, err := ParseComplaint(strings.ReplaceAll(string(c), "_", "-"))
		require.NoError(t, err)
		assert.Equal(t, c, parsed)
	}
	_, ok := ComplaintGuideFor("hunger")
	assert.False(t, ok)
}

// Numbness and one-sided pain always carry the line, in either language; and
// whoever complains of anything reads it on the recommendation.
func TestThePhysiciansLineIsAlwaysThere(t *testing.T) {
	for _, c := range []Complaint{Numbness, SoftTissuePressure, OneSidedPain} {
		g, _ := ComplaintGuideFor(c)
		assert.Contains(t, codesOf(g.Stop), "caution.physician", c)
	}
	for _, c := range Complaints() {
		rec := recommendOne(t, "model,width_mm\nAster,150\n", Rider{Complaints: []Complaint{c}, Bikes: roadBike})
		assert.Equal(t, []string{"caution.physician", "caution.limits", "caution.advice_only"},
			codesOf(rec.Cautions), c)
	}
	none := recommendOne(t, "model,width_mm\nAster,150\n", Rider{Bikes: roadBike})
	assert.Equal(t, []string{"caution.limits", "caution.advice_only"}, codesOf(none.Cautions))
}

func TestUsesAndTheirWords(t *testing.T) {
	for word, want := range map[string]Use{"Road": Road, "MTB": Mountain, "pedelec": EBike, "E-Bike": EBike,
		"Stadt": City, " tri ": Triathlon} {
		got, err := ParseUse(word)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	for _, u := range Uses() {
		p := ShapeFor(u)
		assert.NotEmpty(t, p.Basis)
		assert.Positive(t, p.NoseMaxMM)
	}
}

// manyRows is a stock of n invented models in 40 widths.
func manyRows(n int) string {
	uses := asWords(Uses())
	var b strings.Builder
	b.WriteString("model,use,width_mm,support_mm,length_mm,nose_mm,relief,dampers,max_rider_kg,price,qty\n")
	for i := range n {
		w := 110 + 2*(i%40)
		fmt.Fprintf(&b, "Model %d,%s/%s,%d,%d,%d,%d,%s,%s,%d,%d.50,%d\n", i, uses[i%7], uses[(i/7)%7], w, w-16+i%5,
			240+i%50, 38+i%30, []string{"none", "channel", "cutout"}[i%3], []string{"none", "soft/medium", "all"}[i%3],
			90+i%60, 40+i%200, i%4)
	}
	return b.String()
}

func loadAndRank(tb testing.TB, text string) []Recommendation {
	a := DefaultAdvisor()
	s, err := ReadStock(strings.NewReader(text), "many.csv")
	require.NoError(tb, err)
	a.Stock = s
	recs, err := a.Recommend(StatedSpacing(125, 1.2), Rider{MassKg: 80, Complaints: []Complaint{Numbness},
		Bikes: roadBike})
	require.NoError(tb, err)
	return recs
}

func BenchmarkLoadAndRank10000(b *testing.B) {
	text := manyRows(10_000)
	for b.Loop() {
		loadAndRank(b, text)
	}
}
