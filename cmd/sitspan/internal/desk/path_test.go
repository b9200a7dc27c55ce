package desk

import (
	"fmt"
	"image/jpeg"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
)

// three are photos of one imprint: from above, and from either side.
var three = []string{"together/above.jpg", "together/side-1.jpg", "together/side-2.jpg"}

// counted waits until the record that counts is of a kind.
func (b *bench) counted(visit int64, kind string) store.Kept {
	b.t.Helper()
	var k store.Kept
	require.Eventually(b.t, func() bool {
		v, err := b.store.Visit(b.t.Context(), visit)
		if err != nil || v.Current == 0 {
			return false
		}
		k, err = b.store.Record(b.t.Context(), v.Current)
		return err == nil && k.Kind == kind
	}, 2*time.Minute, 50*time.Millisecond, kind)
	return k
}

// TestThreeGoodPhotosAreJoinedByThemselves, but not over what a person has confirmed or chosen.
func TestThreeGoodPhotosAreJoinedByThemselves(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	for i, name := range three {
		b.upload(1, [2]string{name, readPhoto(t, name)})
		s := b.settled(1)
		require.Equal(t, i+1, s.Good, "each is good by itself")
	}
	k := b.counted(1, store.OfTogether)
	require.NotNil(t, k.Record.Measurement.Spacing)
	assert.Len(t, k.Record.Photos, 3)
	assert.Equal(t, 3, b.settled(1).Joined)

	t.Log("a person who chooses one photo instead has the last word")
	b.form("/visits/1/current", url.Values{"record": {"1"}})
	b.upload(1, [2]string{"again.jpg", readPhoto(t, three[0]) + "\x00"})
	b.settled(1)
	time.Sleep(300 * time.Millisecond) // what would be joined by itself would be under way
	s := b.settled(1)
	assert.Equal(t, 4, s.Good)
	chosen, err := b.store.Record(t.Context(), s.Current)
	require.NoError(t, err)
	assert.Equal(t, store.OfPhoto, chosen.Kind)

	t.Log("nor is joined what somebody has confirmed")
	v := b.visit("Rider 18")
	for i, name := range three {
		b.upload(v.ID, [2]string{name, readPhoto(t, name)})
		s := b.settled(v.ID)
		if i == 1 {
			k, err := b.store.Record(t.Context(), s.Current)
			require.NoError(t, err)
			m := k.Record.Measurement
			r, _ := b.script(fmt.Sprintf("/records/%d/review", k.ID), moved{Left: *m.LeftPx, Right: *m.RightPx,
				Reviewer: "Ruth", U: 1.5})
			require.Equal(t, 200, r.StatusCode)
		}
	}
	time.Sleep(300 * time.Millisecond)
	for _, tile := range b.settled(v.ID).Tiles {
		assert.Equal(t, store.OfPhoto, tile.Kind)
	}
}

// What of several photos was not used is told beside the number, and not counted with the others.
func TestAPhotoThatIsNotUsedIsTold(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	v := b.visit("Rider 17")
	picture, err := jpeg.Decode(strings.NewReader(readPhoto(t, three[0])))
	require.NoError(t, err)
	var again strings.Builder
	require.NoError(t, jpeg.Encode(&again, picture, &jpeg.Options{Quality: 80}))
	for name, content := range map[string]string{"above.jpg": readPhoto(t, three[0]),
		"side.jpg": readPhoto(t, three[1]), "sent.jpg": again.String()} {
		b.upload(v.ID, [2]string{name, content})
		b.settled(v.ID)
	}
	k := b.counted(v.ID, store.OfTogether)
	require.Len(t, k.Record.Measurement.Photos, 3)
	_, page := b.get(fmt.Sprintf("/visits/%d/imprint", v.ID))
	assert.Contains(t, page, "3 photos, 1 of them not used.")
	assert.NotContains(t, page, "3 photos, measured together.")
	assert.Regexp(t, `(above|sent)\.jpg is not used</b><br>It shows what an earlier photo shows`, page)
}

// primaries are the main buttons that a page shows, and whether all of each is on the screen.
const primaries = `[...document.querySelectorAll('main .go')].filter(e => e.checkVisibility() &&
	!e.closest('dialog:not([open])')).map(e => { const r = e.getBoundingClientRect();
	const on = r.top >= 0 && r.bottom <= innerHeight && r.left >= 0 && r.right <= innerWidth;
	return (on ? '' : 'off the screen: ') + e.textContent.trim() })`

// TestOnePrimaryButtonOnTheFirstScreen: whatever the state, one button is the main one, and nobody scrolls
// for it on a small laptop.
func TestOnePrimaryButtonOnTheFirstScreen(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	p := newTab(t, "primary", 1366, 768)
	is := func(page, name string) {
		t.Helper()
		p.open(b.url + page)
		p.arrive("!document.getElementById('stage') || document.querySelectorAll('.handle').length >= 2")
		assert.Equal(t, []string{name}, eval[[]string](p, primaries), page)
		p.screen(strings.Join(strings.Fields(strings.ToLower(name)), "-"))
	}
	is("/visits/1", "Keep, and on to the imprint")
	is("/visits/1/imprint", "Choose photos")
	is("/visits/1/choice", "To the imprint")
	is("/visits/1/sheet", "To the imprint")
	b.upload(1, [2]string{"grey.jpg", string(greyJPEG(t, 1200, 900))})
	b.settled(1)
	is("/visits/1/imprint", "Keep scale and centres")
	b.upload(1, [2]string{"damaged.jpg", "\xff\xd8\xff no more"})
	s := b.settled(1)
	is(fmt.Sprint("/visits/1/imprint?record=", s.Tiles[1].Record), "Further photo")
	b.upload(1, [2]string{"card.jpg", readPhoto(t, "card-1.jpg")})
	b.settled(1)
	is("/visits/1/imprint", "Confirm, and on to the choice")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	b.settled(1)
	is("/visits/1/imprint", "Confirm, and on to the choice")
	x, y := p.middle(".handle[data-handle=left]")
	p.do(chromedp.DragAndDropXY(x, y, x-12, y, 4))
	p.wait("document.getElementById('keep').textContent == 'Keep my centres'")
	assert.Equal(t, []string{"Keep my centres"}, eval[[]string](p, primaries))
	p.do(chromedp.Click("#undo"))
	is("/visits/1/choice", "Make the sheet")

	p.open(b.url + "/visits/1/imprint")
	p.wait("document.querySelectorAll('.handle').length == 2")
	eval[any](p, "(document.getElementById('reviewer').value = 'Ruth', 1)")
	p.do(chromedp.Click("#keep"))
	p.arrive("location.pathname.endsWith('/choice')")
	is("/visits/1/imprint", "On to the choice")
	p.wait("document.querySelectorAll('.handle').length == 2")
	x, y = p.middle(".handle[data-handle=left]")
	p.do(chromedp.DragAndDropXY(x, y, x-12, y, 4))
	p.wait("document.getElementById('keep').checkVisibility()")
	assert.Equal(t, []string{"Keep my centres"}, eval[[]string](p, primaries))
	p.do(chromedp.Click("#undo"))
	p.wait("!document.getElementById('keep').checkVisibility()")
	assert.Equal(t, []string{"On to the choice"}, eval[[]string](p, primaries))
	is("/visits/1/sheet", "Make the sheet")
	b.form("/visits/1/sheet", url.Values{"language": {"en"}, "paper": {"a4"}})
	is("/visits/1/choice", "On to the sheet")
	is("/visits/1/sheet", "Print")

	path := filepath.Join(t.TempDir(), "shop.yaml") // the frame's bars are read anew
	require.NoError(t, shop.SavePrint(path, shop.OnCard, shop.Print{ScaleX: 0.99, ScaleXU: 0.001}))
	b.shopAt = path
	is("/visits/1/imprint", "Measure anew")
	is("/visits/1/choice", "Measure anew")
}
