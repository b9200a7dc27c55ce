package intake

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
)

// measured measures a photo under a shop's settings.
func measured(t *testing.T, s shop.Shop, name string) record.Record {
	t.Helper()
	station, err := NewStation(Options{Shop: s})
	require.NoError(t, err)
	defer station.Close()
	return station.Measure(context.Background(), photos+name).Record
}

// The print is a factor on all that the frame gives: 1 % more of the print is 1 % more of the distance on
// paper, which lies in the frame's plane. Card and paper each have their own, and the result names it.
func TestEachMediumHasItsOwnPrint(t *testing.T) {
	s := shop.Default()
	s.Print = &shop.Print{ScaleX: 0.97, ScaleXU: 0.001, ScaleY: 0.97, ScaleYU: 0.001, Date: "2026-05-31"}
	card := measured(t, s, "paper-1.jpg")
	require.NotNil(t, card.Measurement.Spacing)
	require.NotNil(t, card.Measurement.Print)
	assert.Equal(t, "card", card.Measurement.Print.Of, "paper without its own takes the card's")
	assert.True(t, warnedOf(card, codes.PrintOfCard))

	s.PrintPaper = &shop.Print{ScaleX: 1.01, ScaleXU: 0.001, ScaleY: 1.01, ScaleYU: 0.001}
	paper := measured(t, s, "paper-1.jpg")
	require.NotNil(t, paper.Measurement.Spacing)
	assert.InDelta(t, 1.01/0.97, *paper.Measurement.Spacing / *card.Measurement.Spacing, 1e-6)
	assert.Equal(t, &record.Print{Of: "paper", Verified: true, Scale: [2]float64{1.01, 1.01},
		ScaleU: [2]float64{0.001, 0.001}}, paper.Measurement.Print)
	assert.Equal(t, []float64{1.01, 1.01}, paper.Settings.PrintScale)
	assert.False(t, warnedOf(paper, codes.PrintOfCard))
	assert.Contains(t, report.Text(paper.Measurement, words.English, &report.Footnotes{}),
		"\n  print      the frame on marking paper, measured: 1.010 across, 1.010 down\n")

	foam := measured(t, s, "foam-window.jpg")
	require.NotNil(t, foam.Measurement.Print)
	assert.Equal(t, "card", foam.Measurement.Print.Of)
	assert.Contains(t, report.Text(foam.Measurement, words.English, &report.Footnotes{}),
		"the frame on card, measured on 31 May 2026: 0.970 across, 0.970 down\n")
}

func TestAResultSaysThatItsPrintWasNeverMeasured(t *testing.T) {
	foam := measured(t, shop.Default(), "foam-window.jpg")
	assert.Contains(t, report.Text(foam.Measurement, words.English, &report.Footnotes{}),
		"\n  print      the frame on card: never measured, taken as true to size\n")
	assert.Nil(t, measured(t, shop.Default(), "card-1.jpg").Measurement.Print, "a card is no print")
}

func warnedOf(r record.Record, e *codes.Entry) bool {
	for _, w := range r.Measurement.Warnings {
		if s := w.Said(); e.Is(s) && s.Form == e.Form {
			return true
		}
	}
	return false
}
