package desk

import (
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
)

// TestConfirmedIsSaidAndTakenBack: who confirmed and when; a second click does nothing; nobody "set" what
// nobody moved.
func TestConfirmedIsSaidAndTakenBack(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(1)
	p := newTab(t, "confirm", 1280, 800)
	p.open(b.url + "/visits/1/choice")
	p.wait("document.querySelector('.notice')?.textContent.includes('Nobody has confirmed')")
	p.open(b.url + "/visits/1/imprint")
	p.wait("document.querySelectorAll('.handle').length == 2")
	eval[any](p, "(document.getElementById('reviewer').value = 'Ruth', 1)")
	// impatient
	eval[any](p, "(document.getElementById('keep').click(), document.getElementById('keep').click(), 1)")
	p.wait("/confirmed by Ruth, \\d\\d:\\d\\d/.test(document.querySelector('.seen')?.textContent)")
	k, err := b.store.Record(t.Context(), 1)
	require.NoError(t, err)
	assert.Len(t, k.Record.Reviews, 1, "once")
	m := k.Record.Measurement
	again := moved{Left: *m.LeftPx, Right: *m.RightPx, Reviewer: "Ruth", U: 1.5}
	r, _ := b.script("/records/1/review", again) // a page that saw none of it
	assert.Equal(t, 200, r.StatusCode)
	k, err = b.store.Record(t.Context(), 1)
	require.NoError(t, err)
	assert.Len(t, k.Record.Reviews, 1, "the same once more is the same")
	assert.Equal(t, *k.Record.Measurement.Spacing, *k.Record.Reviews[0].Measurement.Spacing)
	p.open(b.url + "/visits/1/imprint")
	p.wait("document.querySelectorAll('.handle').length == 2")
	assert.False(t, eval[bool](p, "document.getElementById('keep').checkVisibility()"),
		"there is nothing left to confirm")
	p.screen("confirmed")
	p.open(b.url + "/visits/1/choice")
	p.wait("document.querySelector('.seen')?.textContent.includes('Ruth') && !document.querySelector('.from ~ " +
		".notice')")
	p.open(b.url + "/visits/1/choice")
	p.do(chromedp.Click(".seen button"))
	p.arrive("location.pathname == '/visits/1/choice' && document.querySelector('.notice')?.textContent." +
		"includes('Nobody has confirmed')") // undone where it was clicked
	r, _ = b.script("/records/1/review", again)
	require.Equal(t, 200, r.StatusCode)
	p.open(b.url + "/visits/1/imprint")
	p.do(chromedp.Click(".seen button"))
	p.arrive("!document.querySelector('.seen') && document.getElementById('keep')?.checkVisibility()")
	k, err = b.store.Record(t.Context(), 1)
	require.NoError(t, err)
	assert.Empty(t, k.Record.Reviews)
}

// TestSheetsAreVoidWhenTheNumberChanges, and cannot be printed any more.
func TestSheetsAreVoidWhenTheNumberChanges(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(1)
	b.upload(1, [2]string{"b.jpg", readPhoto(t, "foam-two-lamps.jpg")})
	b.settled(1)
	sheet := func() {
		r, _ := b.form("/visits/1/sheet", url.Values{"language": {"en"}, "paper": {"a4"}})
		require.Equal(t, 303, r.StatusCode)
	}
	p := newTab(t, "void", 1280, 800)
	holds := func(id int, want bool, why string) {
		t.Helper()
		r, _ := b.get(fmt.Sprintf("/sheets/%d.pdf", id))
		assert.Equal(t, map[bool]int{true: 200, false: 410}[want], r.StatusCode, why)
		p.open(b.url + "/visits/1/sheet")
		p.wait(fmt.Sprintf("document.querySelector('.sheets li').classList.contains('void') == %t && "+
			"!!document.getElementById('print') == %t", !want, want))
	}
	sheet()
	holds(1, true, "as it was made")
	b.form("/shots/2/leave-out", url.Values{"out": {"yes"}})
	v, err := b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	assert.Equal(t, int64(1), v.Current, "what counted rested on that photo")
	holds(1, false, "the photo is left out")
	p.screen("sheet")
	sheet()
	holds(2, true, "a new one")
	r, _ := b.script("/records/1/review", moved{Left: [2]float64{1, 1}, Right: [2]float64{2, 2},
		Reviewer: "Kim"})
	require.Equal(t, 422, r.StatusCode)
	k, err := b.store.Record(t.Context(), 1)
	require.NoError(t, err)
	left := *k.Record.Measurement.LeftPx
	left[0] += 20
	r, _ = b.script("/records/1/review", moved{Left: left, Right: *k.Record.Measurement.RightPx,
		Reviewer: "Kim"})
	require.Equal(t, 200, r.StatusCode)
	holds(2, false, "a centre was moved")
	sheet()
	holds(3, true, "with the moved centre")
	b.setUp(1, url.Values{"pad": {"foam"}, "left": {"15"}, "right": {"17"}})
	b.settled(1)
	holds(3, false, "the gauge was read")
	p.open(b.url + "/visits/1/imprint")
	p.wait("document.querySelector('.panel .notice')?.textContent.includes('Kim looked at the measurement " +
		"before this one')")
	p.screen("measured-anew")
}

// TestMeasuringAnewJoinsAnew: what was joined is joined again under the other pad or gauge.
func TestMeasuringAnewJoinsAnew(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg"} {
		b.upload(1, [2]string{name, readPhoto(t, name)})
	}
	b.settled(1)
	b.form("/visits/1/together", nil)
	b.settled(1)
	b.setUp(1, url.Values{"pad": {"foam"}, "left": {"15"}, "right": {"17"}})
	require.Eventually(t, func() bool {
		v, err := b.store.Visit(t.Context(), 1)
		if err != nil || v.Current == 0 {
			return false
		}
		k, err := b.store.Record(t.Context(), v.Current)
		return err == nil && joint(k) && len(k.Record.Settings.DepthMM) == 2
	}, time.Minute, 50*time.Millisecond)
	b.form("/shots/1/leave-out", url.Values{"out": {"yes"}})
	v, err := b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	k, err := b.store.Record(t.Context(), v.Current)
	require.NoError(t, err)
	assert.Equal(t, int64(2), k.ShotID, "one photo is left, so nothing is joined")
}

// TestTwoWindowsShowBothValues: whoever comes second sees both, and chooses.
func TestTwoWindowsShowBothValues(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(1)
	one, two := newTab(t, "window-1", 1280, 800), newTab(t, "window-2", 1280, 800)
	for _, p := range []*tab{one, two} {
		p.open(b.url + "/visits/1")
	}
	one.do(chromedp.SetValue("#mass", "80"), chromedp.Click(".ahead button[value=next]"))
	one.arrive("location.pathname.endsWith('/imprint')")
	two.do(chromedp.SetValue("#mass", "75"), chromedp.Click(".ahead button[value=next]"))
	two.arrive("document.querySelector('[role=alert] table')")
	assert.Contains(t, eval[string](two, "document.querySelector('[role=alert]').textContent"), "75 kg")
	assert.Contains(t, eval[string](two, "document.querySelector('[role=alert]').textContent"), "80 kg")
	two.screen("conflict")
	v, err := b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	assert.Equal(t, 80.0, v.MassKg, "not overwritten in silence")
	two.do(chromedp.Click("[role=alert] button"))
	two.arrive("location.pathname.endsWith('/imprint')")
	v, err = b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	assert.Equal(t, 75.0, v.MassKg)

	t.Log("and the centres")
	for _, p := range []*tab{one, two} {
		p.open(b.url + "/visits/1/imprint")
		p.wait("document.querySelectorAll('.handle').length == 2")
	}
	eval[any](two, "(document.getElementById('reviewer').value = 'Kim', "+
		"document.getElementById('reviewer').dispatchEvent(new Event('input', {bubbles: true})), 1)")
	x, y := two.middle(".handle[data-handle=left]")
	two.do(chromedp.DragAndDropXY(x, y, x-12, y, 4))
	eval[any](one, "(document.getElementById('reviewer').value = 'Ruth', "+
		"document.getElementById('keep').click(), 1)")
	one.wait("document.querySelector('.seen')?.textContent.includes('Ruth')")
	two.wait("!document.getElementById('newer').hidden")
	two.do(chromedp.Click("#keep"))
	two.wait("!document.getElementById('conflict').hidden && " +
		"document.getElementById('review-fault').textContent.includes('Ruth')")
	two.screen("conflict-centres")
	two.do(chromedp.Click("#mine"))
	two.wait("document.querySelector('.seen')?.textContent.includes('set by Kim')")
}

// TestWhatIsTypedOutlivesAStepAndALanguage, and Enter does what the main button does.
func TestWhatIsTypedOutlivesAStepAndALanguage(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(1)
	p := newTab(t, "drafts", 1280, 800)
	p.open(b.url + "/visits/1")
	eval[any](p, "(document.getElementById('note').value = '', document.getElementById('name0').value = '', 1)")
	p.do(chromedp.SendKeys("#note", "sits to the left"), chromedp.SendKeys("#name0", "summer"))
	p.do(chromedp.Click("button[value=de]"))
	p.arrive("document.documentElement.lang == 'de'")
	assert.Equal(t, "sits to the left", eval[string](p, "document.getElementById('note').value"))
	p.do(chromedp.Click(".steps a[href$=imprint]"))
	p.arrive("location.pathname.endsWith('/imprint') && document.querySelectorAll('.handle').length == 2")
	before := p.number("#spacing")
	x, y := p.middle(".handle[data-handle=left]")
	p.do(chromedp.DragAndDropXY(x, y, x-14, y, 4))
	p.wait(fmt.Sprintf("Math.abs(parseFloat(document.getElementById('spacing').textContent.replace(',', '.')) "+
		"- %g) > 1", before))
	p.do(chromedp.SendKeys("#reviewer", "Ruth"))
	p.do(chromedp.Click("button[value=en]"))
	p.arrive("document.documentElement.lang == 'en' && document.querySelectorAll('.handle').length == 2")
	assert.Equal(t, "Ruth", eval[string](p, "document.getElementById('reviewer').value"))
	p.wait(fmt.Sprintf("Math.abs(parseFloat(document.getElementById('spacing').textContent) - %g) > 1", before))
	p.do(chromedp.Click(".steps a[href='/visits/1']"))
	p.arrive("location.pathname == '/visits/1'")
	assert.Equal(t, "sits to the left", eval[string](p, "document.getElementById('note').value"))
	assert.Equal(t, "summer", eval[string](p, "document.getElementById('name0').value"))
	p.do(chromedp.SendKeys("#mass", "\r"))
	p.arrive("location.pathname.endsWith('/imprint')") // not a further bike
	v, err := b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	assert.Equal(t, "sits to the left", v.Note)
	p.open(b.url + "/visits/1")
	assert.Equal(t, "summer", eval[string](p, "document.getElementById('name0').value"))
	assert.Empty(t, eval[string](p, "sessionStorage.getItem('draft visit-1') ?? ''"), "what is kept is no draft")
}

// TestAScaleThatIsTypedOutlivesALanguage, its kind and the medium, too.
func TestAScaleThatIsTypedOutlivesALanguage(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	b.upload(1, [2]string{"grey.jpg", string(greyJPEG(t, 1200, 900))})
	b.settled(1)
	p := newTab(t, "drafts-hand", 1280, 800)
	p.open(b.url + "/visits/1/imprint")
	p.arrive("document.querySelectorAll('.handle').length == 4")
	p.do(chromedp.SendKeys("#length", "250"), chromedp.SetValue("#medium", "paper"))
	eval[any](p, "(document.getElementById('medium').dispatchEvent(new Event('input', {bubbles: true})), 1)")
	p.do(chromedp.Click("button[value=de]"))
	p.arrive("document.documentElement.lang == 'de' && document.querySelectorAll('.handle').length == 4")
	assert.Equal(t, "250", eval[string](p, "document.getElementById('length').value"))
	assert.Equal(t, "paper", eval[string](p, "document.getElementById('medium').value"))
	p.do(chromedp.SetValue("#source", "card"))
	eval[any](p, "['input', 'change'].forEach(n => document.getElementById('source').dispatchEvent("+
		"new Event(n, {bubbles: true}))), 1")
	p.do(chromedp.Click(".steps a[href='/visits/1']"))
	p.arrive("location.pathname == '/visits/1'")
	p.do(chromedp.Click(".steps a[href$=imprint]"))
	p.arrive("document.querySelectorAll('.handle').length == 6")
	assert.Equal(t, "card", eval[string](p, "document.getElementById('source').value"))
}

// TestLookingChangesNothing asks for every page, by another site's word, too: the data folder stays byte
// for byte.
func TestLookingChangesNothing(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	b.fillForScreens()
	open := b.offer(1)
	pages := []string{"/", "/?q=rider", "/visits/1", "/visits/1?more", "/visits/1/imprint",
		"/visits/1/imprint?record=2&hand", "/visits/1/strip",
		"/visits/1/choice", "/visits/1/sheet", "/riders/1", "/riders/1/compare?a=1&b=2", "/riders/1/export.zip",
		"/phone", "/phone?visit=1",
		"/phone/code/1", "/records/1/view.jpg", "/shots/1/verdict", "/sheets/1.pdf", "/phone/authority.pem"}
	before := b.content(t)
	for _, page := range pages {
		r, _ := b.get(page)
		assert.Equal(t, 200, r.StatusCode, page)
		for mode, want := range map[string]int{"no-cors": 403, "navigate": 200} {
			req := b.request("GET", page, nil)
			req.Header.Del("Accept")
			req.Header.Set("Sec-Fetch-Site", "cross-site")
			req.Header.Set("Sec-Fetch-Mode", mode)
			req.Header.Set("Sec-Fetch-Dest", map[string]string{"no-cors": "image", "navigate": "document"}[mode])
			r, err := b.http.Do(req)
			require.NoError(t, err)
			r.Body.Close()
			assert.Equal(t, want, r.StatusCode, "%s %s", mode, page)
		}
	}
	assert.Equal(t, before, b.content(t))
	assert.Equal(t, codeOpen, b.pairs.state(open), "the code on the screen still holds")
}

// content is what the data folder holds, by name; the database's log is a part of it.
func (b *bench) content(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(b.store.Dir(), func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() || strings.HasSuffix(path, "-shm") {
			return err
		}
		text, err := os.ReadFile(path)
		out[filepath.Base(path)] = string(text)
		return err
	})
	require.NoError(t, err)
	return out
}

// TestAPhotoWithACardIsMeasuredAgain, joined and scaled by hand, though its face is painted over.
func TestAPhotoWithACardIsMeasuredAgain(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	b.upload(1, [2]string{"a.jpg", readPhoto(t, "card-1.jpg")})
	b.settled(1)
	first, err := b.store.Record(t.Context(), 1)
	require.NoError(t, err)
	b.setUp(1, url.Values{"pad": {"paper"}})
	b.settled(1)
	v, err := b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	again, err := b.store.Record(t.Context(), v.Current)
	require.NoError(t, err)
	require.NotEqual(t, first.ID, again.ID, "made anew")
	require.Equal(t, record.Measured, again.Record.Measurement.Status, "%v", again.Record.Measurement.Reasons)
	u := *first.Record.Measurement.U
	assert.InDelta(t, *first.Record.Measurement.Spacing, *again.Record.Measurement.Spacing, u/4,
		"the same card, the same scale")

	truth := truthOf(t, "card-1.jpg")
	p := newTab(t, "card", 1280, 800)
	p.open(fmt.Sprintf("%s/visits/1/imprint?record=%d&hand", b.url, again.ID))
	p.wait("document.querySelectorAll('.handle').length == 6")
	corners := again.Record.Photos[0].Card.Corners
	for i, c := range corners {
		near := false
		for _, want := range truth.Corners {
			near = near || abs(c[0]-want[0])+abs(c[1]-want[1]) < 8
		}
		assert.True(t, near, "corner %d begins where the card's is", i+1)
	}
	p.screen("by-hand")

	b.upload(1, [2]string{"b.jpg", readPhoto(t, "paper-1.jpg")})
	b.settled(1)
	r, _ := b.form("/visits/1/together", nil)
	require.Equal(t, 303, r.StatusCode)
	s := b.settled(1)
	last := s.Tiles[len(s.Tiles)-1]
	k, err := b.store.Record(t.Context(), last.Record)
	require.NoError(t, err)
	require.Len(t, k.Record.Measurement.Photos, 2)
	assert.True(t, k.Record.Measurement.Photos[0].Used, "the painted photo takes part: %s",
		k.Record.Measurement.Photos[0].Why)
}

func abs(v float64) float64 { return max(v, -v) }
