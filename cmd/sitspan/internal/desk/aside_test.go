package desk

import (
	"fmt"
	"net/url"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A photo, a sheet and a visit are deleted where they stand, and taken back there: nobody has to look for
// the rider's page, and the way back does what it says.
func TestDeletingWhereTheThingStands(t *testing.T) {
	chromium(t)
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

// Wherever something is deleted, "Take it back" takes it back: it leads nowhere else.
func TestTakingBackIsNoLink(t *testing.T) {
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
