package desk

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/shop"
)

// readBars types readings of the frame's bars on the shop's page.
func (b *bench) readBars(x string) {
	b.t.Helper()
	status, _ := b.settle("/settings/frame", url.Values{"bar_x": {x}, "bar_y": {""}, "sure": {"yes"}})
	require.Equal(b.t, 303, status)
}

// A number that was made before the bars were read anew says so everywhere, its sheet is void, and measuring
// anew makes it count again.
func TestANumberBeforeTheBarsWereReadAnewIsOld(t *testing.T) {
	t.Parallel()
	b, _ := ownShop(t, "")
	v := b.visit("Robin")
	b.readBars("198.6")
	b.upload(v.ID, [2]string{"a.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(v.ID)
	sheet := func() int {
		r, _ := b.form("/visits/1/sheet", url.Values{"language": {"en"}, "paper": {"a4"}})
		return r.StatusCode
	}
	require.Equal(t, 303, sheet())
	counts := func() (id int64, spacing float64) {
		v, err := b.store.Visit(t.Context(), v.ID)
		require.NoError(t, err)
		k, err := b.store.Record(t.Context(), v.Current)
		require.NoError(t, err)
		m, _ := k.Record.Current()
		return k.ID, *m.Spacing
	}
	was, before := counts()
	pages := []string{"/visits/1", "/visits/1/imprint", "/visits/1/choice", "/visits/1/sheet"}
	old := func(want bool, why string) {
		t.Helper()
		for _, page := range pages {
			_, text := b.get(page)
			if want {
				assert.Contains(t, text, "measured anew after this number", "%s: %s", page, why)
				assert.Equal(t, 1, strings.Count(text, `action="/visits/1/anew"`), "%s: %s", page, why)
			} else {
				assert.NotContains(t, text, "measured anew after this number", "%s: %s", page, why)
			}
		}
		r, _ := b.get("/sheets/1.pdf")
		assert.Equal(t, map[bool]int{true: 410, false: 200}[want], r.StatusCode, why)
	}
	old(false, "as it was measured")
	b.readBars("198.6")
	old(false, "the same readings change no number")
	b.readBars("200.6")
	old(true, "other readings")
	assert.Equal(t, 409, sheet(), "no sheet says an old number")
	b.readBars("198.6")
	old(false, "what was typed wrongly, and put right")

	b.readBars("200.6")
	r, _ := b.form("/visits/1/anew", nil)
	require.Equal(t, 303, r.StatusCode)
	b.settled(v.ID)
	now, after := counts()
	assert.NotEqual(t, was, now)
	assert.InDelta(t, before*200.6/198.6, after, 0.3, "the scale of the bars as they were read last")
	_, text := b.get("/visits/1/sheet")
	assert.NotContains(t, text, "measured anew after this number")
	assert.Contains(t, text, "void", "the sheet before says another number")
	assert.Equal(t, 303, sheet())

	require.NoError(t, shop.SavePrint(b.shopAt, shop.OnPaper, shop.Print{ScaleX: 0.98, ScaleXU: 0.001}))
	_, text = b.get("/visits/1/choice")
	assert.NotContains(t, text, "measured anew after this number", "marking paper's print is another")
}

// What was joined under the bars before is old, too, and joined anew.
func TestWhatWasJoinedBeforeTheBarsWereReadAnewIsOld(t *testing.T) {
	t.Parallel()
	b, _ := ownShop(t, "")
	b.visit("Robin")
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg"} {
		b.upload(1, [2]string{name, readPhoto(t, name)})
		b.settled(1)
	}
	r, _ := b.form("/visits/1/together", nil)
	require.Equal(t, 303, r.StatusCode)
	joined := b.settled(1).Current
	k, err := b.store.Record(t.Context(), joined)
	require.NoError(t, err)
	require.True(t, joint(k))
	b.readBars("198.6")
	_, text := b.get("/visits/1/imprint")
	assert.Contains(t, text, "measured anew after this number")
	b.form("/visits/1/anew", nil)
	require.Eventually(t, func() bool {
		v, err := b.store.Visit(t.Context(), 1)
		if err != nil || v.Current == joined || v.Current == 0 {
			return false
		}
		k, err := b.store.Record(t.Context(), v.Current)
		return err == nil && joint(k) && k.Record.Measurement.Print.Verified
	}, time.Minute, 50*time.Millisecond, "joined anew")
}
