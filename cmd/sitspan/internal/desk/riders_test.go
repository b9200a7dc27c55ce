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

// Two people of one alias are never made one in silence: the desk asks.
func TestSameAliasIsAsked(t *testing.T) {
	b := open(t, options{})
	b.visit("Müller")
	for _, alias := range []string{"Müller", " müller ", "Mueller", "MULLER"} {
		r, text := b.form("/visits", url.Values{"alias": {alias}})
		assert.Equal(t, 409, r.StatusCode, alias)
		assert.Contains(t, text, `name="rider" value="1"`, alias)
	}
	visits, err := b.store.Visits(t.Context(), 1)
	require.NoError(t, err)
	assert.Len(t, visits, 1, "nothing was made before the answer")
	r, _ := b.form("/visits", url.Values{"rider": {"1"}})
	require.Equal(t, 303, r.StatusCode)
	v, err := b.store.Visit(t.Context(), 2)
	require.NoError(t, err)
	assert.Equal(t, int64(1), v.RiderID)
	r, _ = b.form("/visits", url.Values{"alias": {"Müller"}, "another": {"yes"}})
	assert.Equal(t, 409, r.StatusCode, "the very alias is taken")
	r, _ = b.form("/visits", url.Values{"alias": {"Muller"}, "another": {"yes"}})
	require.Equal(t, 303, r.StatusCode)
	v, err = b.store.Visit(t.Context(), 3)
	require.NoError(t, err)
	assert.NotEqual(t, int64(1), v.RiderID)
	_, text := b.get("/?q=MULL")
	assert.Contains(t, text, "<b>Müller</b>")
	assert.Contains(t, text, "<b>Muller</b>")
	_, text = b.get("/?q=muell")
	assert.Contains(t, text, "<b>Müller</b>", "an umlaut is found by either spelling")
}

func TestRiderIsRenamedAndItsSheetsAreVoid(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	b.visit("Alex")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(1)
	r, _ := b.form("/visits/1/sheet", url.Values{"language": {"en"}, "paper": {"a4"}})
	require.Equal(t, 303, r.StatusCode)
	r, text := b.form("/riders/1/rename", url.Values{"alias": {"alex"}})
	assert.Equal(t, 409, r.StatusCode)
	assert.Contains(t, text, "Somebody else is called alex")
	r, _ = b.form("/riders/1/rename", url.Values{"alias": {" "}})
	assert.Equal(t, 422, r.StatusCode)
	r, _ = b.form("/riders/1/rename", url.Values{"alias": {"Rob"}})
	require.Equal(t, 303, r.StatusCode)
	_, text = b.get("/visits/1/sheet")
	assert.Contains(t, text, "void", "the sheet says another alias")
}

func TestRidersAreMergedOnPurposeOnly(t *testing.T) {
	b := open(t, options{})
	b.visit("Robin")
	b.visit("Robin Hill")
	r, text := b.get("/riders/1/merge?into=2")
	assert.Equal(t, 200, r.StatusCode)
	assert.Contains(t, text, "cannot be taken back")
	_, err := b.store.Rider(t.Context(), 1)
	require.NoError(t, err, "looking changes nothing")
	r, _ = b.form("/riders/1/merge", nil)
	assert.Equal(t, 404, r.StatusCode)
	r, _ = b.form("/riders/1/merge", url.Values{"into": {"2"}})
	require.Equal(t, "/riders/2?saved", r.Header.Get("Location"))
	visits, err := b.store.Visits(t.Context(), 2)
	require.NoError(t, err)
	assert.Len(t, visits, 2)
}

// A photo, a sheet and a visit are deleted and taken back, by mouse; what counts follows.
func TestDeletingInABrowserIsUndone(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(1)
	r, _ := b.form("/visits/1/sheet", url.Values{"language": {"en"}, "paper": {"a4"}})
	require.Equal(t, 303, r.StatusCode)
	current := func() int64 {
		v, err := b.store.Visit(t.Context(), 1)
		require.NoError(t, err)
		return v.Current
	}
	before := current()
	require.NotZero(t, before)
	p := newTab(t, "rider", 1366, 768)
	for i, action := range []string{"/shots/1/", "/sheets/1/", "/visits/1/"} {
		p.open(b.url + "/riders/1")
		p.do(chromedp.Click(".keptof summary"), chromedp.Click(fmt.Sprintf("form[action='%sdelete'] button",
			action)))
		p.arrive(fmt.Sprintf("document.querySelector('form[action=\"%sundelete\"]')", action))
		p.whole(fmt.Sprintf("%d-deleted", i+1))
		switch i {
		case 0:
			assert.Zero(t, current(), "nothing counts that rests on a photo that is gone")
			r, _ := b.get(fmt.Sprintf("/records/%d/view.jpg", before))
			assert.Equal(t, 404, r.StatusCode)
		case 1:
			r, _ := b.get("/sheets/1.pdf")
			assert.Equal(t, 404, r.StatusCode)
		case 2:
			r, _ := b.get("/visits/1")
			assert.Equal(t, 404, r.StatusCode)
		}
		p.do(chromedp.Click(fmt.Sprintf("form[action='%sundelete'] button", action)))
		p.arrive("document.querySelector('.saved') && !document.getElementById('bin')")
		assert.Equal(t, before, current())
	}
}

func TestDeletedIsPurgedAfterAWeekOrAtOnce(t *testing.T) {
	b := open(t, options{})
	b.visit("Robin")
	b.visit("Robin")
	r, _ := b.form("/visits/1/delete", nil)
	require.Equal(t, 303, r.StatusCode)
	was := now
	defer func() { now = was }()
	now = func() time.Time { return was().Add(6 * 24 * time.Hour) }
	b.purge()
	require.NoError(t, b.store.TakeBack(t.Context(), store.AVisit, 1), "six days later it is still there")
	require.NoError(t, b.store.PutAside(t.Context(), store.AVisit, 1))
	now = func() time.Time { return was().Add(8 * 24 * time.Hour) }
	b.purge()
	assert.ErrorIs(t, b.store.TakeBack(t.Context(), store.AVisit, 1), store.ErrNotFound)
	now = was
	b.form("/visits/2/delete", nil)
	r, _ = b.form("/riders/1/empty", nil)
	require.Equal(t, 303, r.StatusCode)
	aside, err := b.store.AsideOf(t.Context(), 1)
	require.NoError(t, err)
	assert.Empty(t, aside)
}
