package report

import (
	"encoding/json"
	"path/filepath"

	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/fit"
)

// kept loads one of the records that package record keeps for ever.
func kept(t require.TestingT, name string) record.Record {
	rec, err := record.Load(filepath.Join("..", "record", "testdata", name))
	require.NoError(t, err)
	return rec
}

// demoStock is the bundled stock of invented models.
func demoStock(t require.TestingT) fit.Stock {
	stock, err := fit.LoadStock("../../../../testdata/stock.csv")
	require.NoError(t, err)
	return stock
}

// advised gives a record the recommendations for a rider, from the bundled
// stock.
func advised(t require.TestingT, rec record.Record, r fit.Rider) record.Record {
	a := fit.DefaultAdvisor()
	a.Stock = demoStock(t)
	return advisedBy(t, a, rec, r)
}

func advisedBy(t require.TestingT, a fit.Advisor, rec record.Record, r fit.Rider) record.Record {
	m, _ := rec.Current()
	recs, err := a.Recommend(estimateOf(m), r)
	require.NoError(t, err)
	rec.Recommendations, err = json.Marshal(recs)
	require.NoError(t, err)
	return rec
}

// Riders and bikes of the tests; all invented.
var (
	oneBike    = []fit.Bike{{Name: "Winter bike", Use: fit.Gravel, Posture: fit.TrunkAngle(45, 2)}}
	threeBikes = []fit.Bike{
		{Name: "Winter bike", Use: fit.Gravel, Posture: fit.TrunkAngle(42, 2)},
		{Name: "Grandmother's tandem, rebuilt for touring", Use: fit.Touring,
			Posture: fit.AllowanceByHand(26.5, 1)},
		{Use: fit.City, Posture: fit.TrunkAngle(75, 2)},
	}
)

// longNames are realistic long names; the sheet must print them.
const (
	longAlias = "Maria-Magdalena Wasilewska-Ślązakowska von und zu Lichtenfels"
	longShop  = "Fahrradwerkstatt und Ergonomieberatung am Südbahnhof, " +
		"Inhaber Žofie Łukaszewicz & Töchter GmbH"
	longModel = "Kingfisher Allroad Touring Comfort Relief Plus Damped"
)
