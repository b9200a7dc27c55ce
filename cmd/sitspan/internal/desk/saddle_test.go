package desk

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/store"
	"sitspan/fit"
)

// TestTheChoiceIsDrawnAsTheSheetDrawsIt: the ladder of widths, and both candidates with what decides.
func TestTheChoiceIsDrawnAsTheSheetDrawsIt(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	p := newTab(t, "choice", 1366, 768)
	b.stageOf(p, "foam-window.jpg")
	p.open(b.url + "/visits/1/choice")
	p.wait("document.readyState == 'complete'")
	assert.Equal(t, []string{"130", "140", "150", "160"}, eval[[]string](p,
		"[...document.querySelectorAll('.ladder .width')].map(e => e.textContent)"), "those near the choice")
	assert.Equal(t, "150", eval[string](p, "document.querySelector('.ladder .width.chosen').textContent"))
	// The band is the interval of the width needed, to the scale of the widths: 10 mm from 140 to 150.
	per := eval[float64](p, "(c => +c[2].getAttribute('cx') - +c[1].getAttribute('cx'))"+
		"(document.querySelectorAll('.ladder .rung'))") / 10
	_, recs, err := b.chosenNow(1)
	require.NoError(t, err)
	u, _ := recs[0].Requirement.Required.Budget.Expanded(0.95)
	band := eval[float64](p, "+document.querySelector('.ladder .band').getAttribute('width')")
	assert.InDelta(t, 2*u, band/per, 0.01)
	assert.Equal(t, []string{"Siskin", "Wren 1"}, eval[[]string](p,
		"[...document.querySelectorAll('.versus thead b')].map(e => e.textContent)"+
			".filter(s => !s.includes('✓'))"))
	decides := eval[string](p, "document.querySelector('.versus .decides').innerText")
	assert.Contains(t, decides, "medium damper")
	assert.Contains(t, decides, "no dampers")
	assert.Contains(t, decides, "This decides")
	assert.Equal(t, 1, eval[int](p, "document.querySelectorAll('.versus .decides').length"))
	p.whole("versus")
	_, page := b.get("/visits/1/choice")
	assert.Contains(t, page, "74.50  ·\n  not in stock", "a model of which none is left")
}

// chosenNow is what is chosen for a visit.
func (b *bench) chosenNow(visit int64) (v store.Visit, recs []fit.Recommendation, err error) {
	if v, err = b.store.Visit(b.t.Context(), visit); err == nil {
		_, recs, err = b.chosen(b.request("GET", "/", nil), v)
	}
	return v, recs, err
}

// TestEqualSaddlesAreSaidToBeEqual, as on the sheet: nothing but their names puts them in order.
func TestEqualSaddlesAreSaidToBeEqual(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	stock := filepath.Join(dir, "stock.csv")
	require.NoError(t, os.WriteFile(stock, []byte("model,use,width_mm,qty\nTwin A,gravel,150,1\n"+
		"Twin B,gravel,150,1\nOther,road,150,1\nNarrow,gravel,140,1\n"), 0o600))
	file := filepath.Join(dir, "shop.yaml")
	require.NoError(t, os.WriteFile(file, []byte("name: Velo Invented\n"+
		"print: {scale_x: 0.998, scale_x_u: 0.0015}\nstock: stock.csv\n"), 0o600))
	b := open(t, options{shop: file})
	p := newTab(t, "equal", 1366, 768)
	b.stageOf(p, "foam-window.jpg")
	for lang, words := range map[string]string{"en": "Equal in every reason, in no order: Twin A, Twin B.",
		"de": "In allem gleich, ohne Rangfolge: Twin A, Twin B."} {
		b.inLanguage(p, lang)
		p.open(b.url + "/visits/1/choice")
		p.wait("document.readyState == 'complete'")
		assert.Equal(t, words, eval[string](p, "document.querySelector('.equal').textContent"))
		assert.Zero(t, eval[int](p, "document.querySelectorAll('.versus .decides').length"), "nothing decides")
	}
}

// TestTheRiderTakesOneAndComesBack: what is taken, how it rode, and the next visit that begins with it.
func TestTheRiderTakesOneAndComesBack(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	p := newTab(t, "takes", 1366, 768)
	b.stageOf(p, "foam-window.jpg")
	p.open(b.url + "/visits/1")
	p.do(chromedp.SendKeys("#ridden0", "an old one of 130 mm"), chromedp.SendKeys("#rode0", "it pinched"),
		chromedp.Click(".ahead button[value=next]"))
	p.arrive("location.pathname.endsWith('/imprint')")
	p.open(b.url + "/visits/1/choice")
	p.wait("document.querySelector('.ridden')?.textContent.includes('it pinched')")
	p.do(chromedp.Click(".versus th:nth-child(2) .take button"))
	p.arrive("document.querySelector('.versus th.taken')?.textContent.includes('Wren 1')")
	p.do(chromedp.SendKeys("#said1", "an hour, and nothing hurt"), chromedp.Click(".ride button"))
	p.arrive("document.querySelector('#said1')?.textContent.includes('nothing hurt')")
	p.whole("taken")
	p.open(b.url + "/visits/1") // saved anew, the saddle stays with its bike
	p.do(chromedp.SetValue("#name0", "winter bike"), chromedp.Click(".ahead button[value=next]"))
	p.arrive("location.pathname.endsWith('/imprint')")
	v, err := b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	assert.Equal(t, store.Saddle{Ridden: "an old one of 130 mm", Rode: "it pinched",
		Taken: &store.Taken{Name: "Wren 1", WidthMM: 150}, Test: "an hour, and nothing hurt"}, v.Bikes[0].Saddle)

	r, _ := b.form("/visits/1/bikes/1/saddle", map[string][]string{"name": {"Nobody's"}, "width": {"150"}})
	assert.Equal(t, 409, r.StatusCode, "only what the page offers")
	r, _ = b.form("/visits/1/bikes/2/saddle", map[string][]string{"name": {"Siskin"}, "width": {"150"}})
	assert.Equal(t, 404, r.StatusCode)

	t.Log("the second visit begins with the first's data and date")
	next, err := b.store.NewVisit(t.Context(), "Rider 17")
	require.NoError(t, err)
	p.open(fmt.Sprint(b.url, "/visits/", next.ID))
	p.wait("document.querySelector('.last')")
	last := eval[string](p, "document.querySelector('.last').innerText")
	assert.Contains(t, last, "Wren 1, 150 mm – an hour, and nothing hurt")
	assert.Contains(t, last, "120.6 ± 2.1 mm")
	assert.Contains(t, last, now().Local().Format("2006"))
	assert.Contains(t, eval[string](p, "document.querySelector('.calm').innerText"), "Filled in from")
	assert.Equal(t, "winter bike", eval[string](p, "document.getElementById('name0').value"))
	assert.Equal(t, "45", eval[string](p, "document.getElementById('trunk0').value"))
	assert.Equal(t, "Wren 1, 150 mm", eval[string](p, "document.getElementById('ridden0').value"))
	assert.Equal(t, "an hour, and nothing hurt", eval[string](p, "document.getElementById('rode0').value"))
	p.whole("second")
}

// TestTheTrunkIsReadByKeyboard: four points are put and moved without a mouse.
func TestTheTrunkIsReadByKeyboard(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	p := newTab(t, "keys", 1366, 768)
	p.open(b.url + "/visits/1")
	p.do(chromedp.Focus("[data-read='0']"), chromedp.KeyEvent(kb.Enter))
	path := filepath.Join(t.TempDir(), "side.png")
	require.NoError(t, os.WriteFile(path, drawnSide(t), 0o644))
	p.choose("#trunk-file", path)
	p.wait("document.getElementById('trunk-place').checkVisibility()")
	p.do(chromedp.Focus("#trunk-place"), chromedp.KeyEvent(kb.Enter))
	p.wait("!document.getElementById('trunk-take').disabled")
	assert.Equal(t, "rear axle", eval[string](p, "document.activeElement.getAttribute('aria-label')"))
	before := p.number("#trunk-figure")
	p.do(chromedp.Focus("#trunk-stage .handle:last-of-type"))
	for range 6 { // the shoulder up by 10 px of the screen each
		p.do(chromedp.KeyEvent(kb.ArrowUp, chromedp.KeyModifiers(kb.ModifierShift)))
	}
	p.wait(fmt.Sprintf("parseFloat(document.getElementById('trunk-figure').textContent) > %g + 3", before))
	p.screen("moved")
	p.do(chromedp.Focus("#trunk-take"), chromedp.KeyEvent(kb.Enter))
	p.wait("!document.getElementById('trunk-tool').open")
	assert.Greater(t, eval[float64](p, "parseFloat(document.getElementById('trunk0').value)"), before)
}
