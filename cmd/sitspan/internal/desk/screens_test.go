package desk

import (
	"fmt"
	"html"
	"net/url"
	"regexp"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
)

// screenSize is a device that shows the desk.
type screenSize struct {
	name          string
	width, height int64
	touch         bool
}

var screenSizes = []screenSize{
	{"desktop", 1280, 800, false},
	{"tablet", 820, 1180, true},
	{"phone", 390, 844, true},
}

// fingers finds targets of less than 44 px (WCAG 2.2, 2.5.5) among what is
// pressed: buttons, fields, and links that stand alone. A check box counts with
// its label, a link in a sentence not at all (ibid., the exceptions).
const fingers = `(() => {
  const seen = e => { const r = e.getBoundingClientRect();
    return r.width > 1 && r.height > 1 && e.checkVisibility() && !e.closest('.away') &&
    !e.classList.contains('away') };
  const small = [];
  for (const e of document.querySelectorAll('button, select, summary, textarea, input:not([type=hidden]), ' +
    'a.go, a.button, a.quiet, a.mark, .side a, .steps a, .tools a, .textlink, ' +
    'label.go, label.button, label.tile')) {
    if (!seen(e)) continue;
    const t = /radio|checkbox/.test(e.type) && e.labels?.[0] || e, r = t.getBoundingClientRect();
    if (Math.round(r.height) < 44) small.push(Math.round(r.height) + ' px: ' + e.outerHTML.slice(0, 100));
  }
  for (const e of document.querySelectorAll('.handle .hit')) { const r = e.getBoundingClientRect();
    if (Math.round(r.width) < 44) small.push(Math.round(r.width) + ' px: a handle') }
  return small;
})()`

// cut finds texts that their box cuts off.
const cut = `[...document.querySelectorAll('main *, header *')].filter(e => e.checkVisibility() &&
  e.children.length === 0 && e.textContent.trim() && !e.closest('svg, .away, option, select, .who') &&
  !e.classList.contains('away') &&
  e.scrollWidth > e.clientWidth + 1 &&
    getComputedStyle(e).overflowX !== 'visible').map(e => e.outerHTML.slice(0, 100))`

// TestAllScreensInAllSizes opens every screen in both languages, keeps a picture
// of each, and checks that nothing is cut off, wider than the screen, hard to
// read, or too small for a finger.
func TestAllScreensInAllSizes(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	b.fillForScreens()
	pages := []string{"/", "/visits/1", "/visits/1/imprint", "/visits/1/imprint?record=2",
		"/visits/1/imprint?record=2&hand", "/visits/1/imprint?record=3",
		"/visits/1/choice", "/visits/1/sheet", "/riders/1", "/riders/1/compare?a=1&b=2", "/phone",
		"/visits/3/imprint", "/visits/99"}
	pages = append(pages, shopPages...)
	for _, size := range screenSizes {
		for _, lang := range languages {
			t.Run(size.name+" "+lang, func(t *testing.T) {
				t.Parallel()
				p := size.tab(t, lang)
				p.open(b.url)
				if eval[string](p, "document.documentElement.lang") != lang { // the button is the other language's
					p.do(chromedp.Click("button[value=" + lang + "]"))
					p.arrive(fmt.Sprintf("document.documentElement.lang == %q", lang))
				}
				p.holds(pages, size)
			})
		}
	}
}

// holds opens pages and checks what every screen must be.
func (p *tab) holds(pages []string, size screenSize) {
	p.t.Helper()
	from := eval[string](p, "location.origin")
	for i, page := range pages {
		p.open(from + page)
		p.whole(fmt.Sprintf("%02d", i+1))
		assert.LessOrEqual(p.t, eval[float64](p, "document.documentElement.scrollWidth"), float64(size.width),
			"%s is wider than the screen", page)
		assert.Empty(p.t, eval[[]string](p, cut), "%s: cut off", page)
		assert.LessOrEqual(p.t, len(eval[[]string](p, primaries)), 1, "%s: one main button", page)
		assert.NotRegexp(p.t, notForTheCounter, eval[string](p, "document.body.innerText"), page)
		if size.touch {
			assert.Empty(p.t, eval[[]string](p, fingers), page)
		}
	}
}

// TestNoPageNamesACommand: what a page holds, opened or not, names no flag, command, file of settings or
// standard.
func TestNoPageNamesACommand(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.fillForScreens()
	pages := append([]string{"/", "/visits/1", "/visits/1/imprint", "/visits/1/imprint?record=2&hand",
		"/visits/1/imprint?record=3", "/visits/1/choice", "/visits/1/sheet", "/riders/1", "/riders/1?deleted",
		"/riders/1/compare?a=1&b=2", "/phone", "/visits/3/imprint", "/visits/99"}, shopPages...)
	tags := regexp.MustCompile(`(?s)<script.*?</script>|<[^>]*>`)
	for _, lang := range []string{"en", "de", "fr"} {
		b.form("/language", map[string][]string{"language": {lang}, "back": {"/"}})
		for _, page := range pages {
			_, text := b.get(page)
			said := html.UnescapeString(tags.ReplaceAllString(text, " "))
			require.Greater(t, len(said), 100)
			assert.NotRegexp(t, notForTheCounter, said, "%s %s", lang, page)
		}
	}
}

// TestShopsScreensOnANarrowPhone: 320 px, in the language with the longest words.
func TestShopsScreensOnANarrowPhone(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	b.fillForScreens()
	size := screenSize{"narrow", 320, 640, true}
	p := size.tab(t, "de")
	p.open(b.url)
	p.do(chromedp.Click("button[value=de]"))
	p.arrive("document.documentElement.lang == 'de'")
	p.holds(append([]string{"/", "/riders/1", "/riders/2"}, shopPages...), size)
}

// shopPages are the screens of the shop itself and of its riders.
var shopPages = []string{"/settings", "/settings/frame", "/settings/pads", "/settings/pad?name=foam",
	"/settings/pad", "/settings/stock", "/settings/allowances", "/settings/name", "/settings/backup", "/proof",
	"/proof/7", "/riders/2/merge", "/riders/2/merge?into=1"}

// notForTheCounter is what no page says: flags, commands, files of settings, and standards' numbers.
var notForTheCounter = regexp.MustCompile(`(^|\s)--[a-z]|` +
	`\bsitspan (desk|known|frame|measure|explain|sheet|audit)\b|` +
	`\bISO\b|\bIEC\b|\bNIST\b|\bJCGM\b|\.yaml\b|\bE_n\b`)

func (s screenSize) tab(t *testing.T, lang string) *tab {
	var opts []chromedp.EmulateViewportOption
	if s.touch {
		opts = append(opts, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	}
	return newTab(t, s.name+"-"+lang, s.width, s.height, opts...)
}

// fillForScreens makes a rider with two visits, photos of all kinds, a review
// and a sheet, and an empty visit of another rider.
func (b *bench) fillForScreens() {
	b.t.Helper()
	v := b.visit("Rider 17")
	b.upload(v.ID, [2]string{"imprint.jpg", readPhoto(b.t, "foam-window.jpg")})
	b.settled(v.ID)
	b.upload(v.ID, [2]string{"card.jpg", readPhoto(b.t, "card-1.jpg")})
	b.settled(v.ID)
	b.upload(v.ID, [2]string{"grey.jpg", string(greyJPEG(b.t, 1200, 900))})
	b.settled(v.ID)
	b.form("/visits/1/current", url.Values{"record": {"1"}})
	for _, lang := range languages {
		r, _ := b.form("/visits/1/sheet", url.Values{"language": {lang}, "paper": {"a4"}})
		require.Equal(b.t, 303, r.StatusCode)
	}
	second := b.visit("Rider 17")
	b.upload(second.ID, [2]string{"later.jpg", readPhoto(b.t, "paper-1.jpg")})
	b.settled(second.ID)
	b.visit("Alex")
	_, err := b.store.NewVisit(b.t.Context(), "Alex")
	require.NoError(b.t, err)
	require.NoError(b.t, b.store.PutAside(b.t.Context(), store.AVisit, 4))
	of := store.Check{Medium: "foam", Pad: "foam", Phone: "Pocket camera", Light: "left"}
	b.addChecks(of, 0.1, -0.2, 0.2)
	of.Phone = "Another camera"
	b.addChecks(of, -0.1, 0.1, -0.2, 3.4)
}

// TestTouchDragsACentre drags by a finger: the centre follows, and the page
// does not scroll; beside the handles it does.
func TestTouchDragsACentre(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(1)
	p := newTab(t, "touch", 390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	p.open(b.url + "/visits/1/imprint")
	p.wait("document.querySelectorAll('.handle').length == 2")
	before := p.number("#spacing")
	x, y := p.middle(".handle[data-handle=left]")
	rx, ry := p.middle(".handle[data-handle=right]")
	away := 30.0
	if x < rx {
		away = -away
	}
	const magnified = "document.getElementById('loupe').classList.contains('on')"
	p.swipe(x, y, x+away, y+20, func() {
		assert.True(t, eval[bool](p, magnified), "the magnifier shows what the finger hides")
		p.screen("0-held")
	})
	assert.False(t, eval[bool](p, magnified), "and does not hide the other centre afterwards")
	p.wait(fmt.Sprintf("parseFloat(document.getElementById('spacing').textContent) > %g", before+1))
	nx, ny := p.middle(".handle[data-handle=left]")
	assert.InDelta(t, x+away, nx, 1.5, "under the finger")
	assert.InDelta(t, y+20, ny, 1.5)
	assert.Zero(t, eval[float64](p, "scrollY"), "the page stays")
	assert.False(t, eval[bool](p, "document.getElementById('undo').disabled"))
	p.screen("1-dragged")
	p.do(chromedp.Click("#undo"))
	p.waitNumber("#spacing", before, 0.051)
	p.swipe((x+rx)/2, (y+ry)/2+60, (x+rx)/2, 100, nil)
	p.wait("scrollY > 20")
}

// TestCardsAndRulesInABrowser: without the frame the centres are dragged,
// nudged and confirmed as with it, and a scale can be set by hand instead.
func TestCardsAndRulesInABrowser(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	p := newTab(t, "beside", 1280, 800)
	for i, name := range []string{"card-1.jpg", "rule-1.jpg"} {
		b.upload(1, [2]string{name, readPhoto(t, name)})
		s := b.settled(1)
		record := s.Tiles[len(s.Tiles)-1].Record
		p.open(fmt.Sprintf("%s/visits/1/imprint?record=%d", b.url, record))
		p.wait("document.querySelectorAll('.handle').length == 2")
		before := p.number("#spacing")
		p.do(chromedp.Focus(".handle[data-handle=left]"))
		for range 20 {
			p.do(chromedp.Evaluate[chromedp.Void]("document.activeElement.dispatchEvent(new " +
				"KeyboardEvent('keydown', {key: 'ArrowLeft', bubbles: true, cancelable: true}))"))
		}
		// 20 times 0.1 mm on the plane, nearly along the line of centres; each number is rounded to 0.1 mm.
		p.wait(fmt.Sprintf("Math.abs(parseFloat(document.getElementById('spacing').textContent) - %g) < 0.3",
			before+2))
		x, y := p.middle(".handle[data-handle=right]")
		p.do(chromedp.DragAndDropXY(x, y, x+12, y, 4))
		p.wait(fmt.Sprintf("parseFloat(document.getElementById('spacing').textContent) > %g", before+3))
		eval[any](p, "(document.getElementById('reviewer').value = 'Kim', 1)")
		p.do(chromedp.Click("#keep"))
		p.arrive("document.querySelector('.seen')?.textContent.includes('Kim')")
		p.screen(fmt.Sprintf("%d-moved", i+1))
		kept, err := b.store.Record(t.Context(), record)
		require.NoError(t, err)
		m, reviewer := kept.Record.Current()
		assert.Equal(t, "Kim", reviewer)
		assert.Equal(t, name[:4], m.ScaleSource)
		assert.InDelta(t, before, *kept.Record.Measurement.Spacing, 0.051, "the automatic one stays")
		assert.Greater(t, *m.Spacing, before+3)
	}
	p.open(b.url + "/visits/1/imprint?record=1&hand")
	p.wait("document.querySelectorAll('.handle').length == 6") // the card that was found, to begin with
	const choose = "(document.getElementById('source').value = %q, " +
		"document.getElementById('source').dispatchEvent(new Event('change')), 1)"
	eval[any](p, fmt.Sprintf(choose, "rule"))
	p.wait("document.querySelectorAll('.handle').length == 4")
	eval[any](p, fmt.Sprintf(choose, "card"))
	p.wait("document.querySelectorAll('.handle').length == 6")
	assert.False(t, eval[bool](p, "document.getElementById('length').checkVisibility()"),
		"a card's size is known")
	p.screen("3-card-by-hand")
}

// languages are the codes of all languages.
var languages = func() (codes []string) {
	for _, l := range words.Langs() {
		codes = append(codes, string(l))
	}
	return codes
}()
