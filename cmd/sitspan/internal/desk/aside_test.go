package desk

import (
	"fmt"
	"net/url"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/store"
)

// A photo, a sheet and a visit are deleted where they stand, and taken back there: nobody has to look for
// the rider's page, and the way back does what it says.
func TestDeletingWhereTheThingStands(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg"} {
		b.upload(1, [2]string{name, readPhoto(t, name)})
		b.settled(1)
	}
	r, _ := b.form("/visits/1/sheet", url.Values{"language": {"en"}, "paper": {"a4"}})
	require.Equal(t, 303, r.StatusCode)
	p := newTab(t, "aside", 1366, 768)

	t.Log("a photo, while it is in view")
	p.open(b.url + "/visits/1/imprint?record=2")
	p.wait("document.querySelectorAll('.handle').length == 2")
	p.do(chromedp.SendKeys("#reviewer", "Ruth"), chromedp.Click("form[action='/shots/2/delete'] button"))
	p.wait("document.querySelector('#strip form[action=\"/shots/2/undelete\"]') && " +
		"document.querySelectorAll('.tile:not(.add)').length == 1 && document.getElementById('imprint').dataset." +
		"shown == '1'")
	assert.Equal(t, "/visits/1/imprint", eval[string](p, "location.pathname"))
	p.screen("photo")
	p.do(chromedp.Click("form[action='/shots/2/undelete'] button"))
	p.wait("document.querySelectorAll('.tile:not(.add)').length == 2 && " +
		"!document.querySelector('form[action$=undelete]')")
	_, err := b.store.Shot(t.Context(), 2)
	require.NoError(t, err)

	t.Log("a sheet")
	p.open(b.url + "/visits/1/sheet")
	p.do(chromedp.Click("form[action='/sheets/1/delete'] button"))
	p.arrive("document.querySelector('form[action=\"/sheets/1/undelete\"]')")
	assert.Equal(t, "/visits/1/sheet", eval[string](p, "location.pathname"))
	p.screen("sheet")
	p.do(chromedp.Click("form[action='/sheets/1/undelete'] button"))
	p.arrive("document.querySelector('.sheets li')")
	assert.Equal(t, "/visits/1/sheet", eval[string](p, "location.pathname"))

	t.Log("a visit, which leaves the rider's page")
	p.open(b.url + "/visits/1")
	eval[any](p, "(scrollTo(0, document.body.scrollHeight), 1)") // it lies at the page's end
	p.do(chromedp.Click("button[form=delete]"))
	p.arrive("location.pathname == '/riders/1'")
	p.do(chromedp.Click("main [role=status] button")) // what is said to be the way back is it
	p.arrive("document.querySelector('.saved')")
	_, err = b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
}

// A second click deletes nothing more, and takes nothing more back: it leads where the first one led.
func TestASecondClickOnDeleteDoesNothing(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	b.upload(1, [2]string{"grey.jpg", string(greyJPEG(t, 1200, 900))})
	b.settled(1)
	for _, action := range []string{"/shots/1/delete", "/shots/1/undelete"} {
		for range 2 {
			r, _ := b.form(action, url.Values{"at": {"imprint"}})
			assert.Equal(t, 303, r.StatusCode, action)
			assert.Equal(t, "/visits/1/imprint", r.Header.Get("Location"), action)
		}
	}
	r, _ := b.form("/shots/9/delete", nil)
	assert.Equal(t, 404, r.StatusCode)
	_, text := b.get("/visits/1/imprint?record=1")
	assert.Contains(t, text, `href="/settings/frame"`, "where a frame is asked for, it can be printed")
	b.visit("Alex")
	_, text = b.get("/visits/2/imprint")
	assert.Contains(t, text, `href="/settings/frame"`)
}

// Wherever something is deleted, "Take it back" takes it back: it leads nowhere else.
func TestTakingBackIsNoLink(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	b.visit("Robin")
	for _, lang := range []string{"en", "de", "fr"} {
		b.form("/language", url.Values{"language": {lang}, "back": {"/"}})
		b.form("/visits/1/delete", nil)
		_, text := b.get("/riders/1?deleted")
		assert.NotContains(t, text, `href="#bin"`)
		assert.Contains(t, text, fmt.Sprintf(`action="/visits/%d/undelete"`, 1))
		b.form("/visits/1/undelete", nil)
	}
}

// Taking a photo back brings what counted with it: what was joined counts again, and its sheet holds.
func TestTakingBackBringsWhatCounted(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	for _, name := range three {
		b.upload(1, [2]string{name, readPhoto(t, name)})
		b.settled(1)
	}
	joined := b.counted(1, store.OfTogether).ID
	r, _ := b.form("/visits/1/sheet", url.Values{"language": {"en"}, "paper": {"a4"}})
	require.Equal(t, 303, r.StatusCode)
	b.form("/shots/2/delete", url.Values{"at": {"imprint"}})
	require.Eventually(t, func() bool {
		v, err := b.store.Visit(t.Context(), 1)
		return err == nil && v.Current != 0 && v.Current != joined
	}, time.Minute, 50*time.Millisecond, "something else counts meanwhile")
	b.settled(1)
	r, _ = b.get("/sheets/1.pdf")
	assert.Equal(t, 410, r.StatusCode)
	b.form("/shots/2/undelete", url.Values{"at": {"imprint"}})
	assert.Equal(t, joined, b.settled(1).Current)
	r, _ = b.get("/sheets/1.pdf")
	assert.Equal(t, 200, r.StatusCode)

	t.Log("but not over what somebody has confirmed since")
	b.form("/shots/2/delete", nil)
	b.settled(1)
	k, err := b.store.Record(t.Context(), 1)
	require.NoError(t, err)
	r, _ = b.script("/records/1/review", moved{Left: *k.Record.Measurement.LeftPx,
		Right: *k.Record.Measurement.RightPx, Reviewer: "Ruth", U: 1.5})
	require.Equal(t, 200, r.StatusCode)
	b.form("/shots/2/undelete", nil)
	assert.Equal(t, int64(1), b.settled(1).Current)
}
