package desk

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// pairedPhone is a phone in a browser that photographs for a visit.
func (b *bench) pairedPhone(t *testing.T, name string, visit int64) *tab {
	t.Helper()
	phone := newTab(t, name, 390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	phone.open(b.lan + "/pair/" + b.offer(visit))
	phone.do(chromedp.Click("button"))
	phone.arrive("location.pathname == '/camera'")
	return phone
}

const tiles = "document.querySelectorAll('.tile:not(.add)').length == %d && " +
	"!document.querySelector('.tiles[data-waiting]')"

// TestAPhonesPhotosStayWithItsVisit: another rider's visit is opened on the desk, and the phone neither
// sees it nor sends there, until the desk asks it and it says yes.
func TestAPhonesPhotosStayWithItsVisit(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	first, second := b.visit("Rider 17"), b.visit("Rider 18")
	phone := b.pairedPhone(t, "bound", first.ID)
	assert.Contains(t, eval[string](phone, "document.getElementById('place').textContent"), "Rider 17")
	desk := newTab(t, "bound-desk", 1280, 800)
	desk.open(fmt.Sprint(b.url, "/visits/", second.ID, "/imprint"))
	phone.choose("#pick", photoDir+"foam-window.jpg")
	phone.wait("document.querySelector('.camera.good')")
	shots, err := b.store.Shots(t.Context(), second.ID)
	require.NoError(t, err)
	assert.Empty(t, shots, "the visit that was opened last gets nothing")
	shots, err = b.store.Shots(t.Context(), first.ID)
	require.NoError(t, err)
	require.Len(t, shots, 1)
	assert.NotContains(t, eval[string](phone, "document.documentElement.outerHTML"), "Rider 18",
		"nor does the phone know of it")

	status, err := chromedp.Run(phone.ctx, chromedp.Evaluate[int](fmt.Sprintf(`(async () => {
		const f = new FormData(); f.append("photo", new Blob(["\xff\xd8\xff x"]), "x.jpg");
		return (await fetch("/camera/visits/%d/photos", {method: "POST", body: f,
			headers: {"X-Sitspan-Token": document.querySelector("meta[name=token]").content}})).status })()`,
		second.ID), chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	assert.Equal(t, 409, status, "whatever a phone names, its photos go to its own visit")

	t.Log("the desk asks, and the phone says yes")
	desk.do(chromedp.Click("#drop button.go"))
	desk.arrive("document.querySelector('#drop')?.textContent.includes('was asked')")
	phone.wait("!document.getElementById('asked').hidden")
	phone.screen("asked")
	assert.Contains(t, eval[string](phone, "document.getElementById('asked').textContent"), "Rider 18")
	phone.do(chromedp.Click("#come"))
	phone.wait("document.getElementById('place').textContent.includes('Rider 18')")
	phone.choose("#pick", photoDir+"paper-1.jpg")
	phone.wait("document.getElementById('count').textContent.startsWith('1 of 1')")
	shots, err = b.store.Shots(t.Context(), second.ID)
	require.NoError(t, err)
	assert.Len(t, shots, 1)
	desk.wait(fmt.Sprintf(tiles, 1))
	desk.screen("here")

	t.Log("one phone is sent away, the other stays, and is told nothing")
	other := b.pairedPhone(t, "bound-other", first.ID)
	desk.open(fmt.Sprint(b.url, "/phone?visit=", second.ID))
	desk.screen("phones")
	desk.do(chromedp.Click(".devices button[value='1']"))
	desk.wait("document.querySelectorAll('.devices li').length == 1")
	phone.wait("document.getElementById('verdict').textContent.includes('No longer')")
	phone.screen("gone")
	assert.True(t, eval[bool](phone, "document.querySelector('.bottom').hidden"))
	other.choose("#pick", photoDir+"paper-2.jpg")
	other.wait("document.getElementById('count').textContent.startsWith('1 of 1')")
}

// TestCodesThatNoLongerHoldSayWhy: used, too late, replaced, and of a desk that was opened anew since.
func TestCodesThatNoLongerHoldSayWhy(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	b := open(t, options{withLAN: true, dir: dir})
	v := b.visit("Rider 17")
	p := newTab(t, "codes", 390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	says := func(lan, secret, words string) {
		t.Helper()
		p.open(lan + "/pair/" + secret)
		p.wait(fmt.Sprintf("document.querySelector('main')?.textContent.includes(%q)", words))
		assert.Empty(t, eval[[]string](p, accessibility))
	}
	used := b.offer(v.ID)
	_, _, state, err := b.pairs.admit(used)
	require.NoError(t, err)
	require.Equal(t, codeOpen, state)
	says(b.lan, used, "used already")
	old, newer := b.offer(v.ID), b.offer(v.ID)
	says(b.lan, old, "newer code")
	b.pairs.mu.Lock()
	for _, c := range b.pairs.codes {
		c.until = c.until.Add(-codeLasts)
	}
	b.pairs.mu.Unlock()
	says(b.lan, newer, "too long ago")
	p.screen("late")
	last := b.offer(v.ID)
	again, err := newPairing(dir, b.key)
	require.NoError(t, err)
	b.pairs.mu.Lock()
	b.pairs.codes = again.codes // as after a restart: the codes are gone, the devices are kept
	b.pairs.mu.Unlock()
	says(b.lan, last, "opened anew")
	assert.Len(t, again.list(), 1, "who was paired stays paired")
}

// TestPhotosGoUpInPlace: three photos, one of them refused, and what is typed meanwhile stays; the page
// is never loaded anew.
func TestPhotosGoUpInPlace(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	p := newTab(t, "inplace", 1366, 768)
	p.open(b.url + "/visits/1/imprint")
	eval[any](p, "(window.before = 'the same page', document.querySelector('.setup').open = true, "+
		"document.getElementById('dl').value = '14,5', 1)")
	p.choose("#files", photoDir+"foam-window.jpg", "testdata/shop.yaml", photoDir+"foam-two-lamps.jpg")
	p.wait("document.getElementById('count').textContent.startsWith('2 of 3')")
	p.wait(fmt.Sprintf(tiles, 2) + " && document.querySelectorAll('#stage .handle').length == 2")
	assert.Equal(t, "the same page", eval[string](p, "String(window.before)"), "not loaded anew")
	assert.Equal(t, "14,5", eval[string](p, "document.getElementById('dl').value"),
		"what was typed is still there")
	assert.Contains(t, eval[string](p, "document.getElementById('queue').textContent"), "no photo")
	p.screen("two-of-three")
}

// TestLostLineLosesNoPhoto: the line breaks while a photo goes up; it goes on by itself, once.
func TestLostLineLosesNoPhoto(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	p := newTab(t, "line", 1280, 800)
	p.open(b.url + "/visits/1/imprint")
	eval[any](p, `(() => { const real = XMLHttpRequest.prototype.send; let n = 0;
		XMLHttpRequest.prototype.send = function (x) {
			if (n++ < 2) { setTimeout(() => this.onerror(), 50); return; }
			real.call(this, x); };
		return 1 })()`)
	p.choose("#files", photoDir+"foam-window.jpg", photoDir+"paper-1.jpg")
	p.wait("document.getElementById('queue').textContent.includes('No connection')")
	p.screen("paused")
	p.wait("document.getElementById('count').textContent.startsWith('2 of 2')")
	shots, err := b.store.Shots(t.Context(), 1)
	require.NoError(t, err)
	assert.Len(t, shots, 2)
}
