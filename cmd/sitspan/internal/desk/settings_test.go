package desk

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/shop"
)

// ownShop is a desk whose settings' file is the test's own, and that file's path. An empty text is no file.
func ownShop(t *testing.T, text string) (*bench, string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), shop.FileName)
	if text != "" {
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	return open(t, options{shop: path}), path
}

var wasIn = regexp.MustCompile(`name="was" value="([0-9a-f]*)"`)

// settle sends a page of settings as a browser does that has just opened it.
func (b *bench) settle(page string, values url.Values) (status int, text string) {
	b.t.Helper()
	_, text = b.get(page)
	if m := wasIn.FindStringSubmatch(text); m != nil && !values.Has("was") {
		values.Set("was", m[1])
	}
	r, text := b.form(page, values)
	return r.StatusCode, text
}

func TestBarsAreTypedOnThePage(t *testing.T) {
	b, path := ownShop(t, "name: A # ours\n")
	status, text := b.settle("/settings/frame", url.Values{"bar_x": {"19,86"}, "bar_y": {""}})
	assert.Equal(t, 422, status)
	assert.Contains(t, text, `id="bar_x-fault"`, "the fault stands at its field")
	assert.Contains(t, text, `value="19,86"`, "what was typed stays")
	status, text = b.settle("/settings/frame", url.Values{"bar_x": {"193"}, "bar_y": {"144.8"}})
	assert.Equal(t, 409, status, "a print that was fitted to the page is asked about")
	assert.Contains(t, text, `name="sure"`)
	assert.Nil(t, b.shopNow().Print)
	status, _ = b.settle("/settings/frame", url.Values{"bar_x": {"198,6"}, "bar_y": {"149.1"}})
	require.Equal(t, 303, status)
	s, err := shop.Load(path)
	require.NoError(t, err)
	assert.InDelta(t, 198.6/200, s.Print.ScaleX, 1e-9)
	assert.InDelta(t, 149.1/150, s.Print.ScaleY, 1e-9)
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Contains(t, string(kept), "name: A # ours\n", "comments stay")
	assert.Equal(t, s.Print, b.shopNow().Print, "the desk measures with it from now on")
	_, text = b.get("/settings")
	assert.Contains(t, text, "99.3 %")
	status, _ = b.settle("/settings/frame", url.Values{"bar_x": {"200.4"}, "bar_y": {""}, "for": {"paper"}})
	require.Equal(t, 303, status)
	assert.InDelta(t, 200.4/200, b.shopNow().PrintPaper.ScaleX, 1e-9, "marking paper's print is another")
	assert.InDelta(t, 198.6/200, b.shopNow().Print.ScaleX, 1e-9)
}

// Another window, or the terminal, has changed the file since the page was opened: nothing is overwritten.
// A print that was put into the file by hand may have no date: none is named, and no dash in its place.
func TestAPrintWithoutADateNamesNone(t *testing.T) {
	b, _ := ownShop(t, "print: {scale_x: 0.998, scale_x_u: 0.0015}\n")
	_, text := b.get("/settings")
	assert.Contains(t, text, "Printed at 99.8 % of its size.")
	assert.NotContains(t, text, "measured on")
	_, text = b.get("/settings/frame")
	assert.Contains(t, text, "printed at 99.8 % of its size.")
	assert.NotContains(t, text, "measured on")
}

func TestSettingsThatChangedMeanwhileAreNotOverwritten(t *testing.T) {
	b, path := ownShop(t, "name: A\n")
	require.NoError(t, shop.SavePrint(path, shop.OnCard, shop.Print{ScaleX: 0.99, ScaleXU: 0.001}))
	status, text := b.settle("/settings/name", url.Values{"name": {"B"}, "language": {"en"},
		"was": {"0123456789abcdef"}})
	assert.Equal(t, 409, status)
	assert.Contains(t, text, "changed meanwhile")
	assert.Contains(t, text, `value="B"`)
	assert.Equal(t, "A", b.shopNow().Name)
	assert.InDelta(t, 0.99, b.shopNow().Print.ScaleX, 1e-9,
		"what the terminal has kept is seen without a restart")
}

func TestFrameIsPrintedFromThePage(t *testing.T) {
	b, _ := ownShop(t, "")
	_, text := b.get("/settings/frame")
	links := regexp.MustCompile(`href="(/settings/frame\.pdf[^"]*)"`).FindAllStringSubmatch(text, -1)
	require.Len(t, links, 8)
	for _, l := range links {
		r, pdf := b.get(strings.ReplaceAll(l[1], "&amp;", "&"))
		assert.Equal(t, "application/pdf", r.Header.Get("Content-Type"))
		assert.True(t, strings.HasPrefix(pdf, "%PDF-"), l[1])
	}
	r, _ := b.get("/settings/frame.pdf?paper=a9")
	assert.Equal(t, 400, r.StatusCode)
	r, _ = b.get("/settings/frame.pdf?paper=a4&dots=9")
	assert.Equal(t, 400, r.StatusCode)
}

func TestPadsAreKeptOnThePage(t *testing.T) {
	b, path := ownShop(t, "")
	values := url.Values{"pad": {""}, "name": {"Blue gel"}, "medium": {"gel"}, "depth": {"8,5"}, "common": {"0"},
		"difference": {"1"}, "card": {"0.4"}, "card_u": {"0.2"}, "basis": {"30 readings"}}
	status, text := b.settle("/settings/pad", values)
	assert.Equal(t, 422, status)
	assert.Contains(t, text, `id="common-fault"`)
	values.Set("common", "2")
	status, _ = b.settle("/settings/pad", values)
	require.Equal(t, 303, status)
	s, err := shop.Load(path)
	require.NoError(t, err)
	assert.Equal(t, shop.Pad{Medium: shop.Gel, DepthMM: 8.5, DepthUCommonMM: 2, DepthUDifferenceMM: 1,
		CardThicknessMM: 0.4, CardThicknessUMM: 0.2, Basis: "30 readings"}, s.Pads["Blue gel"])
	status, _ = b.settle("/settings/pad", values)
	assert.Equal(t, 422, status, "a second one of that name")
	b.visit("Robin")
	_, text = b.get("/visits/1/imprint")
	assert.Contains(t, text, "Blue gel", "the imprint's page offers it")
}

func TestStockIsReadCheckedAndMended(t *testing.T) {
	b, path := ownShop(t, "stock: [130, 140]\n")
	const list = "model;use;width_mm;qty\nAsp;gravel;143;2\nBirch;moon;15.5;many\nCedar;city;155;1\n"
	status, text := b.settle("/settings/stock", url.Values{"text": {list}, "go": {"check"}})
	assert.Equal(t, 422, status)
	for _, want := range []string{"Line 3", `name="cell.3.2" value="moon"`, `name="cell.3.3" value="15.5"`,
		"a whole number, 0 or more"} {
		assert.Contains(t, text, want)
	}
	assert.NotContains(t, text, "Line 2", "only what is wrong is shown")
	mend := url.Values{"text": {list}, "go": {"check"}, "cell.3.1": {"Birch"}, "cell.3.2": {"touring"},
		"cell.3.3": {"155"}, "cell.3.4": {"3"}}
	status, text = b.settle("/settings/stock", mend)
	assert.Equal(t, 200, status)
	assert.Contains(t, text, "3 saddles in 2 widths")
	assert.Empty(t, b.shopNow().StockFile, "nothing is kept before it was seen")
	mend.Set("go", "keep")
	status, _ = b.settle("/settings/stock", mend)
	require.Equal(t, 303, status)
	s, err := shop.Load(path)
	require.NoError(t, err)
	stock, err := s.Stock()
	require.NoError(t, err)
	assert.Equal(t, []float64{143, 155}, stock.Widths())
	assert.Equal(t, "Birch", stock.Models[1].Name)
	status, _ = b.settle("/settings/stock", url.Values{"text": {"width_mm\n150\n"}, "go": {"keep"}})
	require.Equal(t, 303, status)
	before, err := os.ReadFile(s.StockFile + ".before")
	require.NoError(t, err)
	assert.Contains(t, string(before), "Cedar", "the list before stays beside it")
}

func TestAllowancesAreKeptOnThePage(t *testing.T) {
	b, path := ownShop(t, "allowance:\n  - {angle_deg: 15, mm: 0} # race\n  - {angle_deg: 75, mm: 40}\n")
	falls := url.Values{"angle": {"15", "75", ""}, "mm": {"20", "10", ""}, "u": {"", "", ""}, "basis": {"", "",
		""}}
	status, text := b.settle("/settings/allowances", falls)
	assert.Equal(t, 422, status)
	assert.Contains(t, text, "less upright")
	good := url.Values{"angle": {"15", "45", "75", ""}, "mm": {"1,5", "18", "41", ""}, "u": {"", "2", "", ""},
		"basis": {"", "our rides", "", ""}}
	status, _ = b.settle("/settings/allowances", good)
	require.Equal(t, 303, status)
	s, err := shop.Load(path)
	require.NoError(t, err)
	require.Len(t, s.Allowances.Rows(), 3)
	assert.InDelta(t, 1.5, s.Allowances.Rows()[0].MM, 0)
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Contains(t, string(kept), "# race")
}

func TestLanguagesOfTheShop(t *testing.T) {
	b, _ := ownShop(t, "")
	status, _ := b.settle("/settings/name", url.Values{"name": {"Rad"}, "language": {"en", "de"},
		"first": {"de"}})
	require.Equal(t, 303, status)
	_, text := b.get("/")
	assert.Contains(t, text, `<html lang="de">`, "the shop's first, though the browser asks for another")
	assert.NotContains(t, text, `value="fr"`, "only what the shop offers")
	assert.Contains(t, text, `value="en"`)
	status, text = b.settle("/settings/name", url.Values{"name": {"Rad"}})
	assert.Equal(t, 422, status)
	assert.Contains(t, text, "mindestens eine Sprache")
}

// drawnLogo is a file with a picture that has the proportions of most logos.
func drawnLogo(t *testing.T) string {
	t.Helper()
	m := image.NewNRGBA(image.Rect(0, 0, 600, 200))
	for y := range 200 {
		for x := range 600 {
			if (x-100)*(x-100)+(y-100)*(y-100) < 8100 || x > 220 && y > 70 && y < 130 {
				m.Set(x, y, color.NRGBA{18, 80, 110, 255})
			}
		}
	}
	path := filepath.Join(t.TempDir(), "drawn.png")
	f, err := os.Create(path)
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, png.Encode(f, m))
	return path
}

// TestSettingsInABrowser sets a shop up, from nothing, as a person does: by mouse and keyboard.
func TestSettingsInABrowser(t *testing.T) {
	t.Parallel()
	b, path := ownShop(t, "")
	p := newTab(t, "settings", 1366, 768)
	p.open(b.url + "/settings")
	p.whole("1-shop")
	p.do(chromedp.Click("a[href='/settings/frame']"))
	p.arrive("document.getElementById('bar_x')")
	p.do(chromedp.SendKeys("#bar_x", "198.6"), chromedp.SendKeys("#bar_y", "149.1"), chromedp.Click("form .go"))
	p.arrive("document.querySelector('.saved')")
	p.whole("2-frame")

	p.open(b.url + "/settings/stock")
	list := filepath.Join(t.TempDir(), "list.csv")
	require.NoError(t, os.WriteFile(list,
		[]byte("model,use,width_mm,qty\nB\xe4r,city,155,1\nAsp,gravel,14.3,2\n"), 0o644))
	p.choose("#stock-file", list)
	p.arrive("document.querySelector('.mend')")
	p.whole("3-stock-mend")
	p.do(chromedp.SetValue("[name='cell.3.3']", "143"), chromedp.Click(".go[value=check]"))
	p.arrive("document.querySelector('button[value=keep]')")
	p.whole("4-stock-checked")
	p.do(chromedp.Click("button[value=keep]"))
	p.arrive("document.querySelector('.saved')")
	assert.Contains(t, eval[string](p, "document.querySelector('table.stock').innerText"), "Bär",
		"an older spreadsheet's letters")

	p.open(b.url + "/settings/name")
	p.do(chromedp.SendKeys("#name", "Rad & Tat"), chromedp.SendKeys("#address", "Mühlgasse 3\n12345 Erfunden"),
		chromedp.Click("form .go"))
	p.arrive("document.querySelector('.saved')")
	p.choose("#logo-file", drawnLogo(t))
	p.arrive("document.querySelector('.logo img')?.complete")
	p.whole("5-name")
	s, err := shop.Load(path)
	require.NoError(t, err)
	assert.Equal(t, "Mühlgasse 3\n12345 Erfunden", s.Address)
	logo, err := s.Logo()
	require.NoError(t, err)
	assert.Equal(t, 600, logo.Bounds().Dx())
	for i, page := range []string{"/settings/pads", "/settings/pad?name=foam", "/settings/pad",
		"/settings/allowances",
		"/settings"} {
		p.open(b.url + page)
		p.whole(fmt.Sprintf("%d-page", i+6))
	}
}

// The built-in table says where its numbers come from in the page's language, and keeping it in one language
// keeps it for the others.
func TestTheBuiltInBasisIsSaidInTheLanguage(t *testing.T) {
	b, path := ownShop(t, "")
	for lang, said := range map[string]string{"de": "in der Branche üblich", "fr": "usage courant"} {
		b.form("/language", url.Values{"language": {lang}, "back": {"/"}})
		_, text := b.get("/settings/allowances")
		assert.Contains(t, text, said)
		assert.NotContains(t, text, "common practice")
	}
	values := url.Values{"angle": {"15", "75"}, "mm": {"0", "40"}, "u": {"", ""},
		"basis": {say("fr", "allowances.basis"), "nos essais"}}
	status, _ := b.settle("/settings/allowances", values)
	require.Equal(t, 303, status)
	s, err := shop.Load(path)
	require.NoError(t, err)
	assert.Equal(t, shop.Default().Allowances.Rows()[0], s.Allowances.Rows()[0])
	b.form("/language", url.Values{"language": {"de"}, "back": {"/"}})
	_, text := b.get("/settings/allowances")
	assert.Contains(t, text, "in der Branche üblich")
	assert.Contains(t, text, "nos essais", "the shop's own words stay")
}

// What is wrong with a field is said in the page's language.
func TestFieldFaultsAreInTheLanguage(t *testing.T) {
	b, _ := ownShop(t, "")
	b.form("/language", url.Values{"language": {"de"}, "back": {"/"}})
	wrong := url.Values{"angle": {"999"}, "mm": {"1"}, "u": {""}, "basis": {""}}
	_, text := b.settle("/settings/allowances", wrong)
	assert.NotContains(t, text, "is needed")
	assert.Contains(t, text, "999")
	_, text = b.settle("/settings/pad", url.Values{"pad": {"foam"}, "medium": {"foam"}, "depth": {"999"}})
	assert.NotContains(t, text, "is needed")
}
