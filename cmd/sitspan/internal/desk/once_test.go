package desk

import (
	"net/http"
	"net/url"
	"os"
	"regexp"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var onceIn = regexp.MustCompile(`name="once" value="([0-9a-f]{32})"`)

// clickTwice sends a page's form as a double click does: two at once. It gives where both led.
func (b *bench) clickTwice(page, path string, values url.Values) (to [2]string) {
	b.t.Helper()
	_, text := b.get(page)
	once := onceIn.FindStringSubmatch(text)
	require.NotNil(b.t, once, page)
	values.Set("once", once[1])
	values.Set("token", b.pageToken())
	var both sync.WaitGroup
	for i := range to {
		both.Go(func() {
			if r, err := b.http.PostForm(b.url+path, values); assert.NoError(b.t, err) {
				r.Body.Close()
				assert.Equal(b.t, http.StatusSeeOther, r.StatusCode)
				to[i] = r.Header.Get("Location")
			}
		})
	}
	both.Wait()
	return to
}

// A double click makes one rider with one visit, one further visit, and one sheet; the next click on a page
// that was opened anew makes another.
func TestADoubleClickMakesOne(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	visits := func() int {
		all, err := b.store.Visits(t.Context(), 1)
		require.NoError(t, err)
		return len(all)
	}
	to := b.clickTwice("/", "/visits", url.Values{"alias": {"Robin"}})
	assert.Equal(t, [2]string{"/visits/1", "/visits/1"}, to)
	assert.Equal(t, 1, visits())
	to = b.clickTwice("/riders/1", "/visits", url.Values{"rider": {"1"}})
	assert.Equal(t, [2]string{"/visits/2", "/visits/2"}, to)
	assert.Equal(t, 2, visits())
	b.clickTwice("/riders/1", "/visits", url.Values{"rider": {"1"}})
	assert.Equal(t, 3, visits(), "a page that was opened anew makes another")

	v := b.visit("Alex")
	b.upload(v.ID, [2]string{"a.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(v.ID)
	for i, page := range []string{"/visits/4/choice", "/visits/4/sheet"} {
		b.clickTwice(page, "/visits/4/sheet", url.Values{"language": {"en"}, "paper": {"a4"}})
		sheets, err := b.store.Sheets(t.Context(), v.ID)
		require.NoError(t, err)
		assert.Len(t, sheets, i+1, page)
	}
}

// Two windows show the name's page; the logo that the second one sends, or takes away, does not go over what
// the first one kept.
func TestTwoWindowsDoNotOverwriteTheLogo(t *testing.T) {
	t.Parallel()
	b, _ := ownShop(t, "name: Rad\n")
	_, text := b.get("/settings/name")
	was := wasIn.FindStringSubmatch(text)[1]
	drawn, err := os.ReadFile(drawnLogo(t))
	require.NoError(t, err)
	send := func(was string) int {
		body, kind := upload(t, [2]string{"logo.png", string(drawn)})
		r := b.request("POST", "/settings/logo?was="+was, body)
		r.Header.Set("Content-Type", kind)
		answer, out := b.send(r)
		if answer.StatusCode != http.StatusOK {
			assert.Contains(t, out["error"], "Another window")
		}
		return answer.StatusCode
	}
	require.Equal(t, http.StatusOK, send(was))
	assert.Equal(t, http.StatusConflict, send(was), "a second window that saw no logo")
	r, text := b.form("/settings/logo/remove", url.Values{"was": {was}})
	assert.Equal(t, http.StatusConflict, r.StatusCode)
	assert.Contains(t, text, "Another window")
	assert.NotNil(t, b.logo(), "the first one's stays")
	_, text = b.get("/settings/name")
	r, _ = b.form("/settings/logo/remove", url.Values{"was": {wasIn.FindStringSubmatch(text)[1]}})
	assert.Equal(t, http.StatusSeeOther, r.StatusCode)
	assert.Nil(t, b.logo())
}
