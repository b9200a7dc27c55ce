package advice

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// Every note and every term has its words in each language, and words has no
// note that fit cannot say.
func TestEveryNoteHasWords(t *testing.T) {
	codes := fit.Codes()
	require.Greater(t, len(codes), 80)
	for _, lang := range words.Langs() {
		for _, code := range codes {
			assert.True(t, words.Has(lang, "note."+code), "%s: %s", lang, code)
		}
		for _, term := range fit.Terms() {
			assert.True(t, words.Has(lang, "term."+term), "%s: %s", lang, term)
		}
	}
	for _, key := range words.Keys(words.English) {
		if code, isNote := strings.CutPrefix(key, "note."); isNote {
			assert.Contains(t, codes, code)
		}
	}
}

func drawRider(t *rapid.T) fit.Rider {
	r := fit.Rider{MassKg: rapid.SampledFrom([]float64{0, 50, 62, 75, 89, 150}).Draw(t, "mass")}
	r.Complaints = rapid.SliceOfDistinct(rapid.SampledFrom(fit.Complaints()), rapid.ID).Draw(t, "complaints")
	b := fit.Bike{Posture: fit.TrunkAngle(rapid.Float64Range(5, 85).Draw(t, "trunk"), 2)}
	if rapid.Bool().Draw(t, "by hand") {
		b.Posture = fit.AllowanceByHand(rapid.Float64Range(0, 60).Draw(t, "allowance"), 0)
	}
	b.Use = rapid.SampledFrom(append(fit.Uses(), "")).Draw(t, "use")
	r.Bikes = []fit.Bike{b}
	return r
}

// Whatever is advised: the code is one of fit's, its sentence has no place left
// open in any language, the record holds the English one, and the sentence is
// the same after the record was read again.
func TestAdviceIsSaid(t *testing.T) {
	stock, err := fit.LoadStock("../../../../testdata/stock.csv")
	require.NoError(t, err)
	codes := fit.Codes()
	rapid.Check(t, func(t *rapid.T) {
		a := fit.DefaultAdvisor()
		if rapid.Bool().Draw(t, "own stock") {
			a.Stock = stock
		}
		mm, u := rapid.Float64Range(60, 200).Draw(t, "spacing"), rapid.Float64Range(0, 8).Draw(t, "u")
		rec, err := Recommend(record.Record{Measurement: measured(mm,
			record.BudgetLine{Source: "left centre", U: u})}, a, drawRider(t))
		require.NoError(t, err)
		var recs []fit.Recommendation
		require.NoError(t, json.Unmarshal(rec.Recommendations, &recs))
		recs[0].EachNote(func(n *fit.Note) {
			assert.True(t, slices.Contains(codes, n.Code), n.Code)
			assert.Equal(t, words.English.Note(n.Code, n.Params), n.Message)
			for _, lang := range words.Langs() {
				assert.NotContains(t, lang.Note(n.Code, n.Params), "{", "%s: %s", lang, n.Code)
			}
		})
	})
}

// What may be said about complaints, in each language: whom to see.
func TestThePhysicianIsNamed(t *testing.T) {
	for lang, says := range map[words.Lang][]string{
		words.English: {"Numbness that lasts", "any loss of sensation", "one-sided pain",
			"physician or physiotherapist"},
		words.German: {"Anhaltende Taubheit", "jeder Verlust von Empfindung", "einseitiger Schmerz",
			"ärztlichen oder physiotherapeutischen Rat"},
		words.French: {"engourdissement qui dure", "toute perte de sensation", "d’un seul côté",
			"un médecin ou un kinésithérapeute"},
	} {
		for _, word := range says {
			assert.Contains(t, lang.Note("caution.physician", nil), word)
		}
	}
	basis := map[words.Lang]string{
		words.English: "common practice, no source", words.German: "übliche Praxis ohne Quelle",
		words.French: "usage courant, sans source",
	}
	for lang, says := range basis {
		for _, c := range fit.Complaints() {
			assert.Contains(t, lang.Note("complaint."+string(c)+".basis", nil), says)
		}
	}
}
