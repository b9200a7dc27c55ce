package desk

import (
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
)

// Whoever keeps second what a ride said, or which saddle is taken, sees both values; nothing is overwritten.
func TestSaddlesOfTwoWindowsShowBothValues(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	b.upload(1, [2]string{"a.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(1)
	take := func(seen, name string) (int, string) {
		r, text := b.form("/visits/1/bikes/1/saddle", url.Values{"seen": {seen}, "name": {name}, "width": {"150"}})
		return r.StatusCode, text
	}
	status, _ := take("", "Siskin")
	require.Equal(t, 303, status)
	status, text := take("", "Wren 1")
	assert.Equal(t, 409, status)
	assert.Contains(t, text, "<td>Wren 1, 150 mm</td><td>Siskin, 150 mm</td>")
	status, _ = take("", "Siskin")
	assert.Equal(t, 303, status, "a second click changes nothing")
	ride := func(was, said string) (int, string) {
		r, text := b.form("/visits/1/bikes/1/ride", url.Values{"was": {was}, "said": {said}})
		return r.StatusCode, text
	}
	status, _ = ride("", "an hour, no pain")
	require.Equal(t, 303, status)
	status, text = ride("", "it pinched")
	assert.Equal(t, 409, status)
	assert.Contains(t, text, "<td>it pinched</td><td>an hour, no pain</td>")
	assert.Contains(t, text, ">it pinched</textarea>", "what was typed stays")
	assert.Contains(t, text, `value="an hour, no pain"`, "and is kept where it is sent again")
	v, err := b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	assert.Equal(t, store.Saddle{Taken: &store.Taken{Name: "Siskin", WidthMM: 150}, Test: "an hour, no pain"},
		v.Bikes[0].Saddle)
	status, _ = take("Siskin, 150 mm", "")
	assert.Equal(t, 303, status, "it is taken back")
	v, err = b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	assert.Nil(t, v.Bikes[0].Saddle.Taken)
}

// The visit's table of both values holds how the saddle so far rode, too; a rider is not renamed over
// another window's name.
func TestEveryFieldOfAVisitIsCompared(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	v := b.visit("Robin")
	ours, theirs := v, v
	ours.Bikes = []store.Bike{{Name: "winter", Saddle: store.Saddle{Ridden: "old", Rode: "well"}}}
	theirs.Bikes = []store.Bike{{Name: "winter", Saddle: store.Saddle{Ridden: "old", Rode: "badly"}}}
	list := differences(ours, theirs, "en")
	require.Len(t, list, 1)
	assert.Equal(t, [2]string{"old: well", "old: badly"}, [2]string{list[0].Ours, list[0].Theirs})
	r, _ := b.form("/riders/1/rename", url.Values{"alias": {"Rob"}, "was": {"Robin"}})
	require.Equal(t, 303, r.StatusCode)
	r, text := b.form("/riders/1/rename", url.Values{"alias": {"Bert"}, "was": {"Robin"}})
	assert.Equal(t, 409, r.StatusCode)
	assert.Contains(t, text, "called this rider Rob meanwhile. Yours would be Bert.")
}

// Settings that another window kept meanwhile are shown beside one's own; the list of saddles, too, whose
// file is another one.
func TestSettingsOfTwoWindowsShowBothValues(t *testing.T) {
	t.Parallel()
	b, path := ownShop(t, "name: A\nallowance:\n  - {angle_deg: 20, mm: 5}\n")
	old := url.Values{"was": {"0123456789abcdef"}}
	with := func(values url.Values) url.Values {
		for k, v := range old {
			values[k] = v
		}
		return values
	}
	require.NoError(t, shop.SavePrint(path, shop.OnCard, shop.Print{ScaleX: 0.99, ScaleXU: 0.001, BarMM: 198}))
	for page, c := range map[string]struct {
		values       url.Values
		ours, theirs string
	}{
		"/settings/name":  {url.Values{"name": {"B"}, "language": {"en"}}, "B", "A"},
		"/settings/frame": {url.Values{"bar_x": {"199"}}, "199", "198"},
		"/settings/pad": {url.Values{"pad": {"foam"}, "medium": {"foam"}, "depth": {"9"}, "common": {"2"},
			"difference": {"1"}, "card": {"1"}, "card_u": {"1"}}, "9", "13"},
		"/settings/allowances": {url.Values{"angle": {"30"}, "mm": {"7"}, "u": {""}, "basis": {""}}, "30°: 7 mm",
			"20°: 5 mm"},
	} {
		status, text := b.settle(page, with(c.values))
		assert.Equal(t, 409, status, page)
		assert.Contains(t, text, "<td>"+c.ours+"</td><td>"+c.theirs+"</td>", page)
	}
	_, text := b.get("/settings/stock")
	was := wasIn.FindStringSubmatch(text)[1]
	list := func(name, was string) (int, string) {
		return b.settle("/settings/stock", url.Values{"text": {"model,width_mm\n" + name + ",150\n"},
			"go": {"keep"}, "was": {was}})
	}
	status, _ := list("Asp", was)
	require.Equal(t, 303, status)
	_, text = b.get("/settings/stock")
	was = wasIn.FindStringSubmatch(text)[1]
	status, _ = list("Birch", was)
	require.Equal(t, 303, status)
	status, text = list("Cedar", was) // the settings' file is the same, the list is not
	assert.Equal(t, 409, status)
	assert.Contains(t, text, "<td>Cedar 150 mm</td><td>Birch 150 mm</td>")
	stock, err := b.shopNow().Stock()
	require.NoError(t, err)
	assert.Equal(t, "Birch", stock.Models[0].Name)
}

// What is typed on the shop's pages, and a new rider's alias, outlive a language and a step; Enter does what
// the main button does, also where a doubtful reading is asked about.
func TestTypedSettingsOutliveALanguageAndAStep(t *testing.T) {
	t.Parallel()
	b, _ := ownShop(t, "name: A\n")
	p := newTab(t, "settings-drafts", 1280, 800)
	p.open(b.url)
	p.do(chromedp.SendKeys("#alias", "Robin"), chromedp.Click("button[value=de]"))
	p.arrive("document.documentElement.lang == 'de'")
	assert.Equal(t, "Robin", eval[string](p, "document.getElementById('alias').value"))
	p.do(chromedp.SendKeys("#alias", kb.Enter))
	p.arrive("location.pathname == '/visits/1'")
	p.open(b.url)
	assert.Empty(t, eval[string](p, "document.getElementById('alias').value"), "the next rider is another one")

	p.open(b.url + "/settings/pad?name=foam")
	p.do(chromedp.SetValue("#depth", "9"), chromedp.SendKeys("#depth", "5"), chromedp.Click("button[value=en]"))
	p.arrive("document.documentElement.lang == 'en' && location.pathname == '/settings/pad'")
	assert.Equal(t, "95", eval[string](p, "document.getElementById('depth').value"))
	p.do(chromedp.SetValue("#depth", "9"), chromedp.SendKeys("#basis", "30 readings"))
	p.do(chromedp.Click(".back a"))
	p.arrive("location.pathname == '/settings/pads'")
	p.open(b.url + "/settings/pad?name=foam")
	assert.Equal(t, "30 readings", eval[string](p, "document.getElementById('basis').value"))
	assert.False(t, eval[bool](p, "document.querySelector('[data-restored]').hidden"), "and the page says so")
	p.do(chromedp.SendKeys("#basis", kb.Enter))
	p.arrive("location.pathname == '/settings/pads'")
	p.open(b.url + "/settings/pad?name=foam")
	assert.Equal(t, "9", eval[string](p, "document.getElementById('depth').value"))
	assert.True(t, eval[bool](p, "document.querySelector('[data-restored]').hidden"), "what is kept is no draft")

	p.open(b.url + "/settings/frame")
	p.do(chromedp.SendKeys("#bar_x", "193"+kb.Enter))
	p.arrive("document.querySelector('button[name=sure]')")
	eval[any](p, "(window.before = true, 1)")
	p.do(chromedp.SendKeys("#bar_x", kb.Enter))
	p.arrive("!window.before && document.querySelector('button[name=sure]')")
	assert.Nil(t, b.shopNow().Print, "Enter is no word for a doubtful reading")
	p.do(chromedp.SetValue("#bar_x", "198.6"), chromedp.SendKeys("#bar_x", kb.Enter))
	p.arrive("document.querySelector('.saved')")
	p.do(chromedp.Click("button[value=de]"))
	p.arrive("document.documentElement.lang == 'de'")
	assert.Equal(t, "198,6", eval[string](p, "document.getElementById('bar_x').value"))
}

// What is said of deleted photos, old numbers and two windows fits the narrowest phone, in the longest words.
func TestNoticesFitANarrowPhone(t *testing.T) {
	t.Parallel()
	b, path := ownShop(t, "")
	b.visit("Robin")
	b.readBars("198.6")
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg"} {
		b.upload(1, [2]string{name, readPhoto(t, name)})
		b.settled(1)
	}
	b.form("/visits/1/sheet", url.Values{"language": {"en"}, "paper": {"a4"}})
	b.form("/sheets/1/delete", nil)
	b.form("/shots/2/delete", nil)
	b.readBars("200.6")
	p := newTab(t, "notices", 320, 640, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	p.open(b.url)
	p.do(chromedp.Click("button[value=de]"))
	p.arrive("document.documentElement.lang == 'de'")
	fits := func(name string) {
		t.Helper()
		p.whole(name)
		assert.LessOrEqual(t, eval[int](p, "document.documentElement.scrollWidth"), 320, name)
		assert.Empty(t, eval[[]string](p, fingers), name)
	}
	for _, page := range []string{"", "/imprint", "/choice", "/sheet"} {
		p.open(b.url + "/visits/1" + page)
		p.arrive("!document.getElementById('stage') || document.querySelectorAll('.handle').length == 2")
		fits("old" + strings.ReplaceAll(page, "/", "-"))
	}
	p.open(b.url + "/settings/name")
	p.do(chromedp.SendKeys("#name", "Fahrradfachgeschäft am Marktplatz"))
	require.NoError(t, shop.SaveIdentity(path, shop.Identity{Name: "Radwerkstatt Sonnenblumenweg"}))
	p.do(chromedp.SendKeys("#name", kb.Enter))
	p.arrive("document.querySelector('main table')")
	fits("settings")
}
