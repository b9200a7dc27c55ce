package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
)

// media lets a page believe that its reader wishes so, or that it is printed.
func (p *tab) media(medium string, features ...string) {
	p.t.Helper()
	params := emulation.SetEmulatedMediaParams{Media: medium}
	for i := 0; i+1 < len(features); i += 2 {
		params.Features = append(params.Features, &emulation.MediaFeature{Name: features[i], Value: features[i+1]})
	}
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, params)
		return err
	}))
}

// pathPages are the pages of a visit, and the riders'.
var pathPages = []string{"/", "/visits/1", "/visits/1/imprint", "/visits/1/imprint?record=2&hand",
	"/visits/1/imprint?record=3", "/visits/1/choice", "/visits/1/sheet", "/riders/1",
	"/riders/1/compare?a=1&b=2", "/phone", "/visits/3/imprint", "/visits/99"}

// TestDarkPagesAreDarkAndReadable: with the reader's wish for the dark every page keeps its contrasts.
func TestDarkPagesAreDarkAndReadable(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	b.fillForScreens()
	p := newTab(t, "dark", 1366, 768)
	p.media("", "prefers-color-scheme", "dark")
	for i, page := range pathPages {
		p.open(b.url + page)
		p.wait("document.readyState == 'complete'")
		light := eval[float64](p, `(() => { const m = getComputedStyle(document.documentElement).backgroundColor
			.match(/\d+/g).map(Number); return (m[0] + m[1] + m[2]) / 3 })()`)
		assert.Less(t, light, 60.0, page)
		p.whole(fmt.Sprintf("%02d", i+1)) // which checks contrasts
	}
	p.media("print", "prefers-color-scheme", "dark")
	p.open(b.url + "/visits/1/choice")
	assert.Equal(t, "rgb(23, 34, 43)", eval[string](p, "getComputedStyle(document.body).color"),
		"paper is white, so ink is dark")
}

// TestForcedColoursShowTheStep: where colours are the reader's, the step is told by its frame.
func TestForcedColoursShowTheStep(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.fillForScreens()
	p := newTab(t, "forced", 1366, 768)
	p.media("", "forced-colors", "active")
	p.open(b.url + "/visits/1/choice")
	p.wait("document.readyState == 'complete' && matchMedia('(forced-colors: active)').matches")
	const frame = "parseFloat(getComputedStyle(document.querySelector('.steps %s')).borderTopWidth)"
	assert.Zero(t, eval[float64](p, fmt.Sprintf(frame, "a:not([aria-current])")))
	assert.GreaterOrEqual(t, eval[float64](p, fmt.Sprintf(frame, "[aria-current]")), 3.0, "the step is framed")
	assert.NotEqual(t, eval[string](p, "getComputedStyle(document.querySelector('.ladder .rung.chosen')).fill"),
		eval[string](p, "getComputedStyle(document.querySelector('.ladder .rung:not(.chosen)')).fill"))
	assert.Equal(t, eval[string](p, "getComputedStyle(document.body).color"),
		eval[string](p, "getComputedStyle(document.querySelector('.ladder .share')).fill"))
	over := "getComputedStyle(document.querySelector('.primary'))"
	assert.Equal(t, "none rgb(255, 255, 255)", eval[string](p, over+".backgroundImage + ' ' + "+over+
		".backgroundColor"), "no text shows through below the main button")
	p.whole("choice")
	p.open(b.url + "/visits/1/imprint")
	p.arrive("document.querySelectorAll('.handle').length == 2")
	p.screen("imprint")
}

// TestPrintedPagesSayWithoutOffering: on paper there are no buttons, fields or heads, and what counts is.
func TestPrintedPagesSayWithoutOffering(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.fillForScreens()
	p := newTab(t, "print", 800, 1100)
	p.media("print")
	for page, said := range map[string]string{"/visits/1/choice": "150", "/visits/1/imprint": "120.6"} {
		p.open(b.url + page)
		p.wait("document.readyState == 'complete'")
		assert.Empty(t, eval[[]string](p, `[...document.querySelectorAll('header, main button, .go, nav')]
			.filter(e => e.checkVisibility()).map(e => e.outerHTML.slice(0, 90))`), page)
		assert.Contains(t, eval[string](p, "document.querySelector('main').innerText"), said, page)
	}
	p.screen("imprint")
}

// TestNarrowPhonesHoldEveryPage: 320 px, all languages, a rider with the longest name.
func TestNarrowPhonesHoldEveryPage(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	b.fillForScreens()
	long := b.visit(strings.Repeat("Langenamenstraeger", 3) + "Ende")
	b.upload(long.ID, [2]string{strings.Repeat("a-long-name", 7) + ".jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(long.ID)
	pages := append([]string{fmt.Sprint("/visits/", long.ID), fmt.Sprintf("/visits/%d/imprint", long.ID),
		fmt.Sprintf("/visits/%d/choice", long.ID), fmt.Sprintf("/phone?visit=%d", long.ID)}, pathPages...)
	p := newTab(t, "narrow", 320, 640, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	for _, lang := range languages {
		p.name = "narrow-" + lang
		b.inLanguage(p, lang)
		for i, page := range pages {
			p.open(b.url + page)
			p.whole(fmt.Sprintf("%02d", i+1))
			assert.Empty(t, eval[[]string](p, `[...document.querySelectorAll('body *')].filter(e =>
				e.checkVisibility() && !e.closest('.away, svg, canvas, table.budget') &&
				e.getBoundingClientRect().right > 321)
				.map(e => e.outerHTML.slice(0, 100))`), "%s %s", lang, page)
			assert.Empty(t, eval[[]string](p, takenForAddress), "%s %s", lang, page)
		}
	}
	p.open(fmt.Sprint(b.url, "/visits/", long.ID))
	assert.Equal(t, "ellipsis", eval[string](p, "getComputedStyle(document.querySelector('.who')).textOverflow"))
}

// inLanguage turns a tab to a language.
func (b *bench) inLanguage(p *tab, lang string) {
	b.t.Helper()
	p.open(b.url)
	if eval[string](p, "document.documentElement.lang") != lang {
		p.do(chromedp.Click("button[value=" + lang + "]"))
		p.arrive(fmt.Sprintf("document.documentElement.lang == %q", lang))
	}
}

// TestUnreadablePhotosAreDrawn as such, not as a picture that did not load.
func TestUnreadablePhotosAreDrawn(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	b.upload(1, [2]string{"damaged.jpg", "\xff\xd8\xff no more"})
	require.Equal(t, record.Failed, b.settled(1).Tiles[0].State)
	p := newTab(t, "unreadable", 1366, 768)
	p.open(b.url + "/visits/1/imprint")
	p.wait("document.querySelectorAll('img').length > 2 && [...document.images].every(i => i.complete)")
	assert.Empty(t, eval[[]string](p,
		"[...document.images].filter(i => i.complete && !i.naturalWidth).map(i => i.src)"))
	p.screen("tile")
	p.choose("#files", "testdata/shop.yaml")
	p.wait("document.querySelector('.queue img')?.complete")
	p.wait("document.querySelector('.queue img').naturalWidth > 0 && " +
		"document.querySelector('.queue img').checkVisibility()")
}

// TestFaultsAreTiedToTheirFields: on the visit, beside the photo, and of the depth gauge.
func TestFaultsAreTiedToTheirFields(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	p := newTab(t, "faults", 1366, 768)
	b.stageOf(p, "foam-window.jpg")
	tied := func(id, words string) {
		t.Helper()
		p.wait(fmt.Sprintf("document.getElementById(%q)?.getAttribute('aria-invalid') == 'true'", id))
		assert.Contains(t, eval[string](p, fmt.Sprintf(`document.getElementById(%q).getAttribute('aria-describedby')
			.split(' ').map(i => document.getElementById(i).textContent).join(' ')`, id)), words)
		assert.Equal(t, id, eval[string](p, "document.activeElement.id"), "and the person is there")
	}
	eval[any](p, "(document.getElementById('reviewer').value = 'Ruth', "+
		"document.getElementById('own-u').value = '90', document.getElementById('own-u').focus(), 1)")
	p.do(chromedp.Click("#keep"))
	tied("own-u", "90")
	p.screen("own-u")
	eval[any](p, "(document.getElementById('own-u').value = '1,5', "+
		"document.querySelector('.setup').open = true, document.getElementById('dl').value = 'deep', "+
		"document.getElementById('dl').focus(), 1)")
	p.do(chromedp.Click("#setup button"))
	tied("dl", "deep")
	assert.Equal(t, "deep", eval[string](p, "document.getElementById('dl').value"), "nothing is lost")
	p.open(b.url + "/visits/1")
	p.do(chromedp.SetValue("#trunk0", "steep"), chromedp.SetValue("#mass", "heavy"),
		chromedp.Click(".ahead button[value=next]"))
	p.arrive("document.querySelector('[role=alert]')")
	tied("mass", "heavy")
	assert.Equal(t, "true", eval[string](p, "document.getElementById('trunk0').getAttribute('aria-invalid')"))
	p.whole("visit")
}

// takenForAddress finds texts for the page's scripts that were written as an address is.
const takenForAddress = `[...document.querySelectorAll('*')].flatMap(e => [...e.attributes])
	.filter(a => /^data-/.test(a.name) && /%[0-9a-fA-F]{2}/.test(a.value)).map(a => a.name + a.value)`

// TestNoTextIsTakenForAnAddress: what a phone's page says stands there as it is said; "Looking at it" once
// came with percent signs. TestNarrowPhonesHoldEveryPage looks at all pages in every language.
func TestNoTextIsTakenForAnAddress(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	b.visit("Rider 17")
	phone := b.pairedPhone(t, "texts-phone", 1)
	eval[any](phone, `(window.said = new Set(), new MutationObserver(() => window.said.add(
		document.getElementById('queue').textContent)).observe(document.getElementById('queue'),
		{subtree: true, childList: true, characterData: true}), 1)`)
	phone.choose("#pick", photoDir+"paper-2.jpg")
	phone.wait("document.querySelector('.camera.good')")
	assert.True(t, eval[bool](phone, "[...window.said].some(s => s.includes('Looking at it'))"))
	assert.False(t, eval[bool](phone, "[...window.said].some(s => /%[0-9A-F]{2}/.test(s))"))
}

// TestLettersAreTheLanguages: left and right on the photo, by the language's own letters.
func TestLettersAreTheLanguages(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	p := newTab(t, "letters", 1280, 800)
	b.stageOf(p, "foam-window.jpg")
	for lang, want := range map[string]string{"en": "LR", "de": "LR", "fr": "GD"} {
		b.inLanguage(p, lang)
		p.open(b.url + "/visits/1/imprint")
		p.arrive("document.querySelectorAll('.handle .tag').length == 2")
		assert.Equal(t, want, eval[string](p, `['left', 'right'].map(s =>
			document.querySelector('.handle[data-handle=' + s + '] .tag').textContent).join('')`), lang)
	}
}

// TestAKeptPhotoHoldsNoPlaceAndNoOwner: what measuring needs stays, and it is measured again as before.
func TestAKeptPhotoHoldsNoPlaceAndNoOwner(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	plain := readPhoto(t, "foam-window.jpg")
	segment := func(marker byte, body string) string {
		return string([]byte{0xff, marker, byte((len(body) + 2) >> 8), byte(len(body) + 2)}) + body
	}
	loaded := plain[:2] + segment(0xfe, "COMMENT of OWNERNAME") +
		segment(0xe1, "http://ns.adobe.com/xap/1.0/\x00<exif:GPSLatitude>GPSPLACE</exif:GPSLatitude>") + plain[2:] +
		"a film behind it, GPSPLACE"
	b.upload(1, [2]string{"a.jpg", loaded})
	s := b.settled(1)
	shot, err := b.store.Shot(t.Context(), s.Tiles[0].Shot)
	require.NoError(t, err)
	kept, err := os.ReadFile(b.store.PhotoPath(shot))
	require.NoError(t, err)
	for _, secret := range []string{"OWNERNAME", "GPSPLACE", "COMMENT"} {
		assert.NotContains(t, string(kept), secret)
	}
	everything, err := json.Marshal(b.content(t))
	require.NoError(t, err)
	assert.NotContains(t, string(everything), "GPSPLACE", "nowhere in the data folder")
	assert.False(t, shot.Covered)
	_, out := b.upload(1, [2]string{"again.jpg", loaded})
	assert.Equal(t, float64(shot.ID), out["photos"].([]any)[0].(map[string]any)["id"], "the same photo is one")

	first, err := b.store.Record(t.Context(), s.Current)
	require.NoError(t, err)
	b.setUp(1, url.Values{"pad": {"foam"}})
	s = b.settled(1)
	again, err := b.store.Record(t.Context(), s.Current)
	require.NoError(t, err)
	require.NotEqual(t, first.ID, again.ID)
	assert.InDelta(t, *first.Record.Measurement.Spacing, *again.Record.Measurement.Spacing, 1e-6,
		"measured from the bare file")
}

// The shop's own pages, too.
func TestShopsPagesInTheDark(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.fillForScreens()
	p := newTab(t, "shop-dark", 1366, 768)
	p.media("", "prefers-color-scheme", "dark")
	for i, page := range append([]string{"/", "/riders/2"}, shopPages...) {
		p.open(b.url + page)
		p.whole(fmt.Sprintf("%02d", i+1))
	}
}

// A phone of 390 px shows a short alias whole, in every language, and a chart's latest check first; a chart
// in forced colours has the person's.
func TestAliasAndChartOnAPhone(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.fillForScreens()
	p := newTab(t, "alias-phone", 390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch,
		chromedp.EmulatePortrait)
	for _, lang := range languages {
		b.inLanguage(p, lang)
		p.open(b.url + "/visits/1/imprint")
		p.wait(drawnAll)
		assert.True(t, eval[bool](p, "(w => w.scrollWidth <= w.clientWidth)(document.querySelector('.who'))"), lang)
	}
	p.open(b.url + "/proof")
	p.wait(drawnAll)
	const latest = "[...document.querySelectorAll('.chart .point')].pop().getBoundingClientRect()"
	assert.Less(t, eval[float64](p, latest+".right"), 390.0)
	p.whole("proof")
	p.media("", "forced-colors", "active")
	p.open(b.url + "/proof")
	p.wait(drawnAll)
	ink := eval[string](p, "getComputedStyle(document.body).color")
	assert.Equal(t, ink, eval[string](p, "getComputedStyle(document.querySelector('.chart .faint')).fill"))
	assert.Equal(t, ink, eval[string](p, "getComputedStyle(document.querySelector('.chart .limit')).stroke"))
}
