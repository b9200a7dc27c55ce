package desk

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// shots is where the screens are left to be looked at; git ignores it.
const shots = "../../../../out/desk"

// tab is a page in a real browser.
type tab struct {
	ctx  context.Context
	t    *testing.T
	name string // of its screens
}

func (p *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	require.NoError(p.t, chromedp.Do(p.ctx, steps...))
}

func eval[T any](p *tab, js string) T {
	p.t.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](js))
	require.NoError(p.t, err, js)
	return v
}

// wait waits until an expression is true.
func (p *tab) wait(js string) {
	p.t.Helper()
	for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); time.Sleep(25 * time.Millisecond) {
		if v, err := chromedp.Run(p.ctx, chromedp.Evaluate[bool]("!!("+js+")")); err == nil && v {
			return
		}
	}
	if png, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot()); err == nil {
		require.NoError(p.t, os.WriteFile(filepath.Join(shots, p.name+"-failed.png"), png, 0o644))
	}
	require.Fail(p.t, "waited in vain", "%s\non %s", js, p.text())
}

// arrive waits for the page that a click leads to, its scripts included: until
// they have run, what they listen for is lost.
func (p *tab) arrive(js string) {
	p.t.Helper()
	p.wait("document.readyState == 'complete' && (" + js + ")")
}

func (p *tab) text() string {
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[string]("location.pathname + ': ' + "+
		"document.body.innerText.replace(/\\s+/g, ' ').slice(0, 1800)"))
	if err != nil {
		return err.Error()
	}
	return v
}

// drawnAll: the page is there with its pictures, those on a stage, too.
const drawnAll = `document.readyState == 'complete' &&
	[...document.images].every(i => i.complete || i.loading == 'lazy') &&
	[...document.querySelectorAll('svg image')].every(i => !i.href.baseVal.startsWith('/') ||
		performance.getEntriesByName(new URL(i.href.baseVal, location).href).length)`

// screen keeps what the tab shows, whole, and checks its accessibility.
func (p *tab) screen(name string) {
	p.t.Helper()
	p.wait(drawnAll)
	p.photograph(name, false)
	p.accessible(name)
}

// whole keeps all of a page, scrolled to or not, and checks its accessibility.
func (p *tab) whole(name string) {
	p.t.Helper()
	p.wait(drawnAll)
	p.photograph(name, true)
	p.accessible(name)
}

// swipe moves a finger over the screen; held is what to look at before it is
// taken off, nil for nothing.
func (p *tab) swipe(x, y, toX, toY float64, held func()) {
	p.t.Helper()
	touch := func(kind input.DispatchTouchEventType, points ...*input.TouchPoint) {
		p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind,
				TouchPoints: points})
			return err
		}))
	}
	touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: x, Y: y})
	const steps = 8
	for i := 1; i <= steps; i++ {
		f := float64(i) / steps
		touch(input.DispatchTouchEventTypeTouchMove, &input.TouchPoint{X: x + f*(toX-x), Y: y + f*(toY-y)})
	}
	if held != nil {
		held()
	}
	touch(input.DispatchTouchEventTypeTouchEnd)
}

func (p *tab) open(url string) {
	p.t.Helper()
	p.do(chromedp.Navigate(url))
}

// choose gives a file input files of the given names.
func (p *tab) choose(sel string, names ...string) {
	p.t.Helper()
	var paths []string
	for _, n := range names {
		path, err := filepath.Abs(n)
		require.NoError(p.t, err)
		paths = append(paths, path)
	}
	p.do(chromedp.SetUploadFiles(sel, paths, chromedp.NodeReady))
}

// middle is where an element's middle is on the screen.
func (p *tab) middle(sel string) (x, y float64) {
	p.t.Helper()
	at := eval[[]float64](p, fmt.Sprintf("(() => { const r = "+
		"document.querySelector(%q).getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2] })()",
		sel))
	return at[0], at[1]
}

func (p *tab) number(sel string) float64 {
	p.t.Helper()
	var v float64
	_, err := fmt.Sscan(strings.ReplaceAll(eval[string](p, fmt.Sprintf("document.querySelector(%q).textContent",
		sel)), ",", "."), &v)
	require.NoError(p.t, err)
	return v
}

// waitNumber waits for a number on the page: the desk is asked for it.
func (p *tab) waitNumber(sel string, want, within float64) {
	p.t.Helper()
	p.wait(fmt.Sprintf("Math.abs(parseFloat(document.querySelector(%q).textContent) - %g) <= %g", sel, want,
		within))
}

func TestFlowInABrowser(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	p := newTab(t, "desktop", 1280, 800)
	p.open(b.url)
	p.screen("1-home")
	p.do(chromedp.SendKeys("#alias", "Rider 17"), chromedp.Click("main button.go"))
	p.arrive("location.pathname.match(/visits.[0-9]+$/)")

	t.Log("the visit: a trunk angle read off a side photo, and a bike")
	p.do(chromedp.SendKeys("#name0", "Winter bike"), chromedp.SetValue("#use0", "gravel"))
	p.readTrunk()
	p.do(chromedp.SendKeys("#mass", "78,5"), chromedp.Click("input[value=numbness]"))
	p.screen("2-visit")
	p.do(chromedp.Click(".ahead button[value=next]"))
	p.arrive("location.pathname.endsWith('/imprint')")
	p.screen("3-imprint-empty")

	t.Log("the imprint: a wrong file, then photos")
	p.choose("#files", "testdata/shop.yaml")
	p.wait("document.getElementById('queue').textContent.includes('no photo')")
	p.choose("#files", photoDir+"foam-window.jpg")
	p.arrive("document.querySelectorAll('#stage .handle').length == 2")
	p.screen("4-imprint-measured")
	p.dragAndUndo()
	p.do(chromedp.SendKeys("#reviewer", "Kim"))
	p.screen("5-imprint-moved")
	automatic := eval[string](p, "document.getElementById('stage-data').textContent")
	p.do(chromedp.Click("#keep"))
	p.arrive("document.querySelector('.seen')?.textContent.includes('Kim')")
	assert.NotEqual(t, automatic, eval[string](p, "document.getElementById('stage-data').textContent"))
	p.screen("6-imprint-reviewed")

	t.Log("a further photo, and both together")
	p.choose("#files", photoDir+"paper-1.jpg")
	p.wait("document.querySelectorAll('.tile:not(.add)').length == 2 && " +
		"!document.querySelector('.tiles[data-waiting]')")
	p.wait("document.querySelector('form[action$=together] button')")
	p.screen("7-imprint-two")

	t.Log("the choice and the sheet")
	p.do(chromedp.Click("#instead a.go"))
	p.arrive("location.pathname.endsWith('/choice') && document.querySelector('.bikechoice .figure')")
	p.screen("8-choice")
	p.do(chromedp.Navigate(strings.Replace(eval[string](p, "location.href"), "/choice", "/sheet", 1)))
	p.do(chromedp.Click("main form button.go"))
	p.arrive("document.getElementById('sheet')")
	p.screen("9-sheet")
	pdf := eval[string](p, "document.querySelector('.paper a').getAttribute('href')")
	_, content := b.get(pdf)
	assert.True(t, strings.HasPrefix(content, "%PDF-"))

	t.Log("a photo without a frame, by hand")
	p.open(b.url + "/visits/1/imprint")
	p.choose("#files", writeGrey(t))
	p.wait("document.querySelectorAll('.tile:not(.add)').length == 3 && " +
		"!document.querySelector('.tiles[data-waiting]')")
	p.open(b.url + "/visits/1/imprint?record=3")
	p.wait("document.querySelectorAll('.handle').length == 4")
	p.do(chromedp.SetValue("#medium", "foam"), chromedp.SendKeys("#length", "250"))
	p.screen("9a-by-hand")
	p.do(chromedp.Click("#keep"))
	p.wait("!document.getElementById('review-fault').hidden") // nobody has put the crosses anywhere
	p.wait(`(f => f.top >= 0 && f.bottom <= document.getElementById('keep').getBoundingClientRect().top)(
		document.getElementById('review-fault').getBoundingClientRect())`)
	for _, handle := range []string{"a", "b", "left", "right"} { // 10 px down, each
		x, y := p.middle(".handle[data-handle=" + handle + "]")
		p.do(chromedp.DragAndDropXY(x, y, x, y-10, 3))
	}
	p.do(chromedp.Click("#keep"))
	p.arrive("document.querySelector('.status.review') && " +
		"document.querySelector('.seen')?.textContent.includes('Kim')")
	// Handles start at 30 % of the width apart, the scale's ends at 50 %: 150 mm at 250 mm, on foam a little
	// more.
	assert.InDelta(t, 150, p.number("#spacing"), 12)

	t.Log("history, and the other language")
	p.open(b.url + "/riders/1")
	p.screen("10-rider")
	p.do(chromedp.Click("button[value=de]"))
	p.arrive("document.documentElement.lang == 'de'")
	for i, page := range []string{"/visits/1", "/visits/1/imprint", "/visits/1/choice", "/visits/1/sheet",
		"/phone"} {
		p.open(b.url + page)
		p.screen(fmt.Sprintf("de-%d", i+1))
	}
}

// readTrunk clicks four points on a drawn side photo: axles level, hip at (400,
// 300), shoulder 200 right and 200 up of it in the picture, so 45 degrees.
func (p *tab) readTrunk() {
	p.t.Helper()
	p.do(chromedp.Click("[data-read='0']"))
	path := filepath.Join(p.t.TempDir(), "side.png")
	require.NoError(p.t, os.WriteFile(path, drawnSide(p.t), 0o644))
	p.choose("#trunk-file", path)
	p.wait("document.querySelector('#trunk-stage.on image')")
	perScreenPx := eval[float64](p, "1 / document.getElementById('trunk-stage').getScreenCTM().a")
	for _, px := range [][2]float64{{200, 500}, {700, 500}, {400, 300}, {600, 100}} {
		at := eval[[]float64](p, fmt.Sprintf("(() => { const q = new DOMPoint(%g, "+
			"%g).matrixTransform(document.getElementById('trunk-stage').getScreenCTM()); return [q.x, q.y] })()",
			px[0], px[1]))
		p.do(chromedp.MouseClickXY(at[0], at[1]))
	}
	p.wait("!document.getElementById('trunk-take').disabled") // all four are there, and the desk has answered
	p.screen("2a-trunk")
	p.do(chromedp.Click("#trunk-take"))
	deg := eval[string](p, "document.getElementById('trunk0').value")
	var v float64
	_, err := fmt.Sscan(deg, &v)
	require.NoError(p.t, err)
	// Each click lands within a screen pixel either way: on the 283 px from hip to shoulder two of them across,
	// on the 500 px between the axles in height; and the angle is shown to 0.1 degrees.
	assert.InDelta(p.t, 45, v, (math.Sqrt2*perScreenPx/283+perScreenPx/500)*180/math.Pi+0.05)
}

// dragAndUndo drags the left centre, looks at the magnifier, nudges it, and
// takes a move back.
func (p *tab) dragAndUndo() {
	p.t.Helper()
	before := p.number("#spacing")
	x, y := p.middle(".handle[data-handle=left]")
	rx, _ := p.middle(".handle[data-handle=right]")
	away := math.Copysign(14, x-rx) // outward: the distance grows
	p.do(chromedp.DragAndDropXY(x, y, x+away, y, 6))
	p.wait(fmt.Sprintf("parseFloat(document.getElementById('spacing').textContent) > %g", before+1))
	assert.True(p.t, eval[bool](p, "document.getElementById('loupe').classList.contains('on')"),
		"the magnifier shows the centre that is moved")
	p.screen("4a-magnifier")
	assert.Equal(p.t, "Keep my centres", eval[string](p, "document.getElementById('keep').textContent"))
	dragged := p.number("#spacing")

	p.t.Log("ten presses of an arrow key are 1 mm")
	key := "\ue012" // left arrow
	if away > 0 {
		key = "\ue014" // right arrow
	}
	p.do(chromedp.Focus(".handle[data-handle=left]"))
	for range 10 {
		p.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf("document.activeElement.dispatchEvent(new "+
			"KeyboardEvent('keydown', {key: %q, bubbles: true, cancelable: true}))",
			map[string]string{"\ue012": "ArrowLeft", "\ue014": "ArrowRight"}[key])))
	}
	p.wait(fmt.Sprintf("parseFloat(document.getElementById('spacing').textContent) > %g", dragged+0.7))
	// 1 mm on the plane, times (H + d) / H and the direction: between 0.9 and 1.1 mm, each number rounded to
	// 0.1.
	p.waitNumber("#spacing", dragged+1.0, 0.25)
	for range 10 {
		p.do(chromedp.Click("#undo"))
	}
	p.waitNumber("#spacing", dragged, 0.051)
	p.do(chromedp.Click("#undo"))
	p.waitNumber("#spacing", before, 0.051)
	assert.True(p.t, eval[bool](p, "document.getElementById('undo').disabled"))
	p.do(chromedp.DragAndDropXY(x, y, x+away, y, 6))
	p.wait(fmt.Sprintf("parseFloat(document.getElementById('spacing').textContent) > %g", before+1))
}

func TestPhoneInABrowser(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	v := b.visit("Rider 17")
	desk := newTab(t, "desktop", 1280, 800)
	desk.open(fmt.Sprint(b.url, "/visits/", v.ID, "/imprint"))
	desk.open(b.url + "/phone")
	desk.screen("11-phone")
	address := b.lan + "/pair/" + b.offer(v.ID) // what the code on the screen holds

	phone := newTab(t, "phone", 390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch,
		chromedp.EmulatePortrait)
	_ = chromedp.Do(phone.ctx, chromedp.Navigate(b.lan+"/camera")) // an error with some browsers only
	assert.False(t, eval[bool](phone, "!!document.querySelector('form, input')"), "a stranger gets nothing")
	phone.open(address)
	phone.screen("1-pair")
	assert.Empty(t, eval[[]string](phone, fingers))
	phone.do(chromedp.Click("button"))
	phone.arrive("location.pathname == '/camera'")
	phone.screen("2-camera")
	assert.Empty(t, eval[[]string](phone, fingers))
	phone.choose("#pick", "testdata/shop.yaml")
	phone.wait("document.querySelector('.camera.again')")
	phone.screen("3-wrong-file")
	start := time.Now()
	phone.choose("#pick", photoDir+"foam-window.jpg")
	phone.wait("document.querySelector('.camera.good')")
	t.Logf("good after %s", time.Since(start).Round(10*time.Millisecond))
	phone.screen("4-good")
	assert.Empty(t, eval[[]string](phone, fingers))
	phone.choose("#take", writeGrey(t))
	phone.wait("document.querySelector('.camera.again')")
	assert.Contains(t, eval[string](phone, "document.getElementById('why').textContent"), "mark")
	assert.Contains(t, eval[string](phone, "document.getElementById('queue').textContent"), "is needed. Lay",
		"one sentence after another")
	phone.screen("5-again")
	assert.Empty(t, eval[[]string](phone, fingers))

	desk.open(fmt.Sprint(b.url, "/visits/", v.ID, "/imprint"))
	desk.wait("document.querySelectorAll('.tile:not(.add)').length == 2 && " +
		"!document.querySelector('.tiles[data-waiting]') && document.getElementById('stage')")
	desk.screen("12-from-phone")
	for i, page := range []string{"/", "", "/imprint", "/choice"} {
		small := phone
		small.name = "small"
		url := b.url + page
		if page != "/" {
			url = fmt.Sprint(b.url, "/visits/", v.ID, page)
		}
		small.open(url)
		small.screen(fmt.Sprint(i + 1))
		assert.LessOrEqual(t, eval[float64](small, "document.documentElement.scrollWidth"), 390.0,
			"%s is not wider than the screen", url)
	}
}

func writeGrey(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "grey.jpg")
	require.NoError(t, os.WriteFile(path, greyJPEG(t, 1200, 900), 0o644))
	return path
}
