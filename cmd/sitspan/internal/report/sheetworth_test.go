package report

import (
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// The page says what its number is and is not: of this imprint alone, of a print that nobody measured, of a
// focal length that nobody knows; and who looked, and when to look again.
func TestSheetSaysWhatTheNumberIsWorth(t *testing.T) {
	rec := advised(t, kept(t, "schema1-foam.json"), fit.Rider{MassKg: 78, Bikes: oneBike})
	rec.Measurement.Warnings = nil
	for _, lang := range words.Langs() {
		o := SheetOptions{Lang: lang}
		text := onPage(holdsOnOnePage(t, rec, o, ""))
		assert.Contains(t, text, onPage(lang.Text("sheet.this_imprint")))
		assert.NotContains(t, text, onPage(lang.Text("sheet.warning.print")))
		assert.Contains(t, text, lang.Text("sheet.fitter"))
		assert.Contains(t, text, lang.Text("sheet.next"))

		weak := rec
		weak.Measurement.Warnings = []record.Warning{{Code: "print", Form: "never_measured"},
			{Code: "print", Form: "one_bar"}, {Code: "focal_unknown", Form: "unchecked"}, {Code: "focal_unknown"}}
		o.Fitter, o.Next = "Ana Zweifel", time.Date(2027, 1, 9, 0, 0, 0, 0, time.UTC)
		o.Proof = LastCheck(lang, nil)
		text = onPage(holdsOnOnePage(t, weak, o, ""))
		assert.Equal(t, 1, strings.Count(text, onPage(lang.Text("sheet.warning.print"))))
		assert.Equal(t, 1, strings.Count(text, onPage(lang.Text("sheet.warning.focal_unknown"))))
		assert.Contains(t, text, "Ana Zweifel")
		assert.Contains(t, text, onPage(lang.Date(o.Next)))
		assert.Contains(t, text, onPage(lang.Text("known.last.never")))
	}
	twice := rec
	twice.Measurement.Sittings = make([]record.Part, 2)
	text := onPage(holdsOnOnePage(t, twice, SheetOptions{}, ""))
	assert.NotContains(t, text, onPage(words.English.Text("sheet.this_imprint")))
	assert.Contains(t, text, onPage(words.English.Text("sheet.sittings_in_it")))
}

// How many of a saddle the shop has is its own affair.
func TestSheetCountsNoStock(t *testing.T) {
	a := fit.DefaultAdvisor()
	stock, err := fit.ReadStock(strings.NewReader("model,use,width_mm,qty\nAster,road,150,37\n"), "s.csv")
	require.NoError(t, err)
	a.Stock = stock
	rec := advisedBy(t, a, kept(t, "schema1-foam.json"), fit.Rider{Bikes: oneBike})
	text := onPage(holdsOnOnePage(t, rec, SheetOptions{}, ""))
	assert.Contains(t, text, "in stock")
	assert.NotContains(t, text, "37")
}

// An overlay says in its file which language its words are in, and is a picture all the same.
func TestOverlaysKnowTheirLanguage(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.overlay.jpg")
	img := image.NewGray(image.Rect(0, 0, 40, 30))
	for _, lang := range words.Langs() {
		f, err := os.Create(path)
		require.NoError(t, err)
		require.NoError(t, WriteOverlay(f, img, lang, 90))
		require.NoError(t, f.Close())
		assert.Equal(t, lang, OverlayLang(path))
		got, err := LoadOverlay(path)
		require.NoError(t, err)
		assert.Equal(t, img.Bounds(), got.Bounds())
	}
	require.NoError(t, os.WriteFile(path, []byte("\xff\xd8 "), 0o600))
	assert.Empty(t, OverlayLang(path))
	assert.Empty(t, OverlayLang(path+"none"))
}
