package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"testing"

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
