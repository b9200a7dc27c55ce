package desk

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A photo that the visit has already is not measured once more: whoever sends it, the desk's page or a phone,
// is told where it is, and that it is as good as the one that is kept.
func TestAPhotoSentAgainIsSaidToBeThere(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	b.visit("Robin")
	content := readPhoto(t, "foam-window.jpg")
	b.upload(1, [2]string{"grey.jpg", string(greyJPEG(t, 1200, 900))})
	b.upload(1, [2]string{"first.jpg", content})
	b.settled(1)
	records, err := b.store.Records(t.Context(), 1)
	require.NoError(t, err)
	_, out := b.upload(1, [2]string{"second.jpg", content})
	sent := out["photos"].([]any)[0].(map[string]any)
	assert.Equal(t, 2.0, sent["id"])
	assert.Equal(t, true, sent["again"])

	phone, token := pairWith(t, b, mayPhotograph)
	require.NotEmpty(t, token)
	id := b.sendByPhone(phone, b.tokenOf(phone), "third.jpg", content)
	require.Equal(t, int64(2), id)
	ask := func(id int) (status int, said map[string]any) {
		r, err := phone.Get(fmt.Sprintf("%s/camera/photos/%d?again", b.lan, id))
		require.NoError(t, err)
		defer r.Body.Close()
		if r.StatusCode == http.StatusOK {
			require.NoError(t, json.NewDecoder(r.Body).Decode(&said))
		}
		return r.StatusCode, said
	}
	_, said := ask(2)
	assert.Equal(t, true, said["good"], "it came from the desk, and is as good for the phone")
	assert.Equal(t, "This photo is in this visit already: number 2 in the row, first.jpg.", said["text"])
	_, said = ask(1)
	assert.Equal(t, false, said["good"])
	assert.Contains(t, said["text"], "number 1 in the row, grey.jpg. ")
	b.form("/shots/2/leave-out", map[string][]string{"out": {"yes"}})
	_, said = ask(2)
	assert.Contains(t, said["text"], "It is left out there.")
	b.settled(1)
	after, err := b.store.Records(t.Context(), 1)
	require.NoError(t, err)
	assert.Len(t, after, len(records), "nothing was measured once more")
	b.visit("Alex")
	b.upload(2, [2]string{"other.jpg", content})
	status, _ := ask(3)
	assert.Equal(t, 404, status, "of another visit a phone knows nothing")
}

func TestAPhotoChosenAgainInABrowser(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	p := newTab(t, "again", 1366, 768)
	p.open(b.url + "/visits/1/imprint")
	other := filepath.Join(t.TempDir(), "other-name.jpg")
	require.NoError(t, os.WriteFile(other, []byte(readPhoto(t, "foam-window.jpg")), 0o600))
	p.choose("#files", photoDir+"foam-window.jpg")
	p.wait("document.querySelectorAll('.handle').length == 2")
	p.choose("#files", other)
	p.wait("/Good. This photo is in this visit already: number 1 in the row, foam-window.jpg/.test(" +
		"document.getElementById('queue').innerText)")
	assert.Equal(t, "2 of 2 good", eval[string](p, "document.getElementById('count').textContent"))
	assert.Equal(t, 1, eval[int](p, "document.querySelectorAll('.tile:not(.add)').length"))
	p.screen("said")
	p.do(chromedp.Click("#queue li button:not([hidden])"))
	p.wait("!document.querySelector('#queue li')")
}
