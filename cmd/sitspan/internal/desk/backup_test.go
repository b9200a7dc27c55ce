package desk

import (
	"bytes"
	"fmt"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/shop"
)

// saved takes a back-up by the page's form, and lays it into a file.
func (b *bench) saved() string {
	b.t.Helper()
	r, content := b.form("/settings/backup", nil)
	require.Equal(b.t, 200, r.StatusCode)
	require.Equal(b.t, "application/zip", r.Header.Get("Content-Type"))
	path := filepath.Join(b.t.TempDir(), "backup.zip")
	require.NoError(b.t, os.WriteFile(path, []byte(content), 0o600))
	return path
}

// A back-up is taken, the data change, and the back-up is put back: by mouse, with the settings; and then
// what was there before once more.
func TestBackUpInABrowser(t *testing.T) {
	t.Parallel()
	b, path := ownShop(t, "name: Before # ours\n")
	b.visit("Robin")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(1)
	file := b.saved()
	require.NoError(t, shop.SaveIdentity(path, shop.Identity{Name: "After"}))
	_, err := b.store.Erase(t.Context(), 1)
	require.NoError(t, err)
	b.visit("Alex")
	secret := b.offer(1)

	p := newTab(t, "backup", 1366, 768)
	p.open(b.url + "/settings/backup")
	p.choose("#backup-file", path)
	p.wait("!document.querySelector('[data-fault]').hidden")
	p.whole("1-wrong-file")
	p.choose("#backup-file", file)
	p.arrive("location.pathname.includes('/check/')")
	p.whole("2-inside")
	_, text := b.get("/")
	assert.Contains(t, text, "Alex", "looking at it changes nothing")
	p.do(chromedp.Click("button.warn"))
	p.arrive("document.querySelector('.asked')?.textContent.includes('read back')")
	p.whole("3-done")
	_, text = b.get("/")
	assert.Contains(t, text, "Robin")
	assert.NotContains(t, text, "Alex")
	v, err := b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	r, _ := b.get(fmt.Sprintf("/records/%d/view.jpg", v.Current))
	assert.Equal(t, 200, r.StatusCode, "pictures, too")
	assert.Equal(t, "Before", b.shopNow().Name)
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "name: Before # ours\n", string(kept))
	assert.NotEqual(t, codeOpen, b.pairs.state(secret), "no code of before lets a phone in")

	t.Log("what was there before is put back")
	p.open(b.url + "/settings/backup")
	p.do(chromedp.Click("form[action$=again] button"))
	p.arrive("location.pathname.includes('/check/')")
	p.do(chromedp.Click("button.warn"))
	p.arrive("document.querySelector('.asked')?.textContent.includes('read back')")
	_, text = b.get("/")
	assert.Contains(t, text, "Alex")
	assert.Equal(t, "After", b.shopNow().Name)
}

// After a back-up is in place, a page that was open before may change nothing: the visit of that number may
// be another rider's.
func TestPagesOfBeforeAreTooOldAfterARestore(t *testing.T) {
	t.Parallel()
	b, _ := ownShop(t, "name: A\n")
	b.visit("Robin")
	file := b.saved()
	old := b.pageToken()
	unpacked := b.check(file)
	r, text := b.form("/settings/backup/restore", url.Values{"name": {unpacked}})
	require.Equal(t, 200, r.StatusCode, text)
	answer, err := b.http.PostForm(b.url+"/visits/1/sitting", url.Values{"token": {old}})
	require.NoError(t, err)
	defer answer.Body.Close()
	assert.Equal(t, 403, answer.StatusCode)
	r, _ = b.form("/settings/backup/restore", url.Values{"name": {unpacked}})
	assert.Equal(t, 404, r.StatusCode, "once")

	require.Len(t, b.keptBackUps(), 1)
	r, _ = b.form("/riders/1/delete", url.Values{"alias": {"Robin"}})
	require.Equal(t, 200, r.StatusCode)
	assert.Empty(t, b.keptBackUps(), "a rider who is deleted is in no copy that the desk made")
}

// check sends a back-up's file to be looked at.
func (b *bench) check(file string) (name string) {
	b.t.Helper()
	data, err := os.ReadFile(file)
	require.NoError(b.t, err)
	body, kind := upload(b.t, [2]string{"backup.zip", string(data)})
	r := b.request("POST", "/settings/backup/check", body)
	r.Header.Set("Content-Type", kind)
	answer, out := b.send(r)
	require.Equal(b.t, 200, answer.StatusCode, "%v", out)
	return filepath.Base(out["go"].(string))
}

// While a photo is measured, or sent, nothing is put in the data's place.
func TestRestoreWaitsForWhatIsUnderWay(t *testing.T) {
	t.Parallel()
	b, _ := ownShop(t, "name: A\n")
	b.visit("Robin")
	unpacked := b.check(b.saved())
	require.True(t, b.begin("shot 1"))
	done := make(chan int)
	go func() {
		r, _ := b.form("/settings/backup/restore", url.Values{"name": {unpacked}})
		done <- r.StatusCode
	}()
	select {
	case status := <-done:
		t.Fatalf("restored while a photo was measured: %d", status)
	case <-time.After(time.Second):
	}
	b.end("shot 1")
	assert.Equal(t, 200, <-done)
}

func TestBackUpsAreForTheDesksOwnComputer(t *testing.T) {
	b := open(t, options{withLAN: true})
	for _, path := range []string{"/settings/backup", "/settings/backup/check/x"} {
		r := httptest.NewRequest("GET", "https://desk"+path, nil)
		w := httptest.NewRecorder()
		b.routes().ServeHTTP(w, r)
		assert.Equal(t, 403, w.Code, path)
	}
	r, content := b.form("/settings/backup", nil)
	require.Equal(t, 200, r.StatusCode)
	_, err := b.store.ReadBackUp(t.Context(), bytes.NewReader([]byte(content)), int64(len(content)))
	assert.NoError(t, err, "what the page hands out reads back")
}
