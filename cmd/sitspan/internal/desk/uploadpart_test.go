package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestABrokenPhotoGoesOnWhereItBroke: the line breaks in a photo, the desk is opened anew, and what has
// arrived is not sent twice.
func TestABrokenPhotoGoesOnWhereItBroke(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	p := newTab(t, "resume", 1280, 800)
	p.open(b.url + "/visits/1/imprint")
	content := readPhoto(t, "foam-window.jpg") + string(make([]byte, 1<<20)) // of a phone's size
	path := filepath.Join(t.TempDir(), "large.jpg")
	require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
	// three parts go up, then nobody answers until the desk is open anew
	eval[any](p, `(() => { const real = XMLHttpRequest.prototype.send; let n = 0; window.sent = 0;
		window.away = true; XMLHttpRequest.prototype.send = function (x) {
			if (++n > 3 && window.away) { setTimeout(() => this.onerror(), 50); return; }
			window.sent += x.size; real.call(this, x); }; return 1 })()`)
	p.choose("#files", path)
	p.wait("document.getElementById('queue').textContent.includes('No connection')")
	assert.Equal(t, 3*256<<10, eval[int](p, "window.sent"))
	b.restart(0)
	eval[any](p, "(window.away = false, 1)")
	p.wait(fmt.Sprintf(tiles, 1))
	assert.Equal(t, len(content), eval[int](p, "window.sent"), "each byte once")
	shots, err := b.store.Shots(t.Context(), 1)
	require.NoError(t, err)
	require.Len(t, shots, 1)
	sum := sha256.Sum256([]byte(content))
	assert.Equal(t, hex.EncodeToString(sum[:]), shots[0].Original, "and in its order")
	assert.Equal(t, "large.jpg", shots[0].Name)
	left, err := filepath.Glob(filepath.Join(b.store.Dir(), "incoming", "*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

// A file that was deleted or moved after it was chosen is told, and holds up no other.
func TestAFileThatIsGoneIsTold(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	p := newTab(t, "gone", 1280, 800)
	p.open(b.url + "/visits/1/imprint")
	path := filepath.Join(t.TempDir(), "gone.jpg")
	require.NoError(t, os.WriteFile(path, []byte(readPhoto(t, "foam-window.jpg")), 0o600))
	eval[any](p, `(() => { const real = XMLHttpRequest.prototype.send; window.away = true;
		XMLHttpRequest.prototype.send = function (x) {
			if (window.away) { setTimeout(() => this.onerror(), 50); return; }
			real.call(this, x); }; return 1 })()`)
	p.choose("#files", path)
	p.wait("document.getElementById('queue').textContent.includes('No connection')")
	require.NoError(t, os.Remove(path))
	eval[any](p, "(window.away = false, 1)")
	p.wait("document.getElementById('queue').textContent.includes('cannot be read any more')")
	p.choose("#files", photoDir+"foam-window.jpg")
	p.wait(fmt.Sprintf(tiles, 1))
}

// What is done while the desk does not answer is told on the page that did it.
func TestADeskThatIsAwayIsTold(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	v := b.visit("Rider 17")
	b.upload(v.ID, [2]string{"a.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(v.ID)
	p := newTab(t, "away", 1280, 800)
	const nobody = "(window.fetch = () => Promise.reject(new TypeError('away')), 1)"
	p.open(b.url + "/visits/1/imprint")
	p.arrive("document.querySelector('#strip form[data-in-place] button')")
	eval[any](p, nobody)
	p.do(chromedp.Click("#strip form[data-in-place] button"))
	p.wait("document.getElementById('count').textContent.includes('does not answer')")
	p.open(b.url + "/visits/1")
	p.arrive("document.querySelector('[data-read]')")
	p.do(chromedp.Click("[data-read='0']"))
	path := filepath.Join(t.TempDir(), "side.png")
	require.NoError(t, os.WriteFile(path, drawnSide(t), 0o600))
	p.choose("#trunk-file", path)
	p.wait("document.querySelector('#trunk-stage.on image')")
	eval[any](p, nobody)
	p.do(chromedp.Click("#trunk-place"))
	p.wait("document.getElementById('trunk-ask').textContent.includes('does not answer')")
}

// An angle that was read off a photo and not kept yet is there after another language, as what was typed is.
func TestAnAngleThatWasReadOutlivesALanguage(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	v, err := b.store.NewVisit(t.Context(), "Rider 17")
	require.NoError(t, err)
	p := newTab(t, "read-off", 1280, 800)
	p.open(fmt.Sprint(b.url, "/visits/", v.ID))
	p.arrive("document.querySelector('[data-read]')")
	p.readTrunk()
	read := eval[string](p, "document.getElementById('trunk0').value")
	require.NotEmpty(t, read)
	p.do(chromedp.Click("button[value=de]"))
	p.arrive("document.documentElement.lang == 'de'")
	assert.Equal(t, read, eval[string](p, "document.getElementById('trunk0').value"))
	assert.NotEmpty(t, eval[string](p, "document.getElementById('trunku0').value"))
}

func TestWhatIsNoPhotoIsToldAsWhatItIs(t *testing.T) {
	b := open(t, options{})
	v := b.visit("Rider 17")
	for content, said := range map[string]string{"": "is empty", "%PDF-1.4": "a PDF", "hello": "no photo"} {
		_, out := b.upload(v.ID, [2]string{"a.jpg", content})
		assert.Contains(t, fmt.Sprint(out), said)
	}
	r := b.request("POST", fmt.Sprintf("/visits/%d/photos", v.ID), nil)
	for name, value := range map[string]string{partKey: "1", partName: "a.jpg", partSize: "0", partAt: "0",
		"Content-Type": "application/octet-stream"} {
		r.Header.Set(name, value)
	}
	_, out := b.send(r)
	assert.Contains(t, fmt.Sprint(out), "is empty")
}
