package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/store"
)

// slow limits what a page sends and gets, bytes a second.
func (p *tab) slow(perSecond float64) {
	p.t.Helper()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		if _, err := cdp.Call(ctx, t, network.Enable, network.EnableParams{}); err != nil {
			return err
		}
		_, err := cdp.Call(ctx, t, network.EmulateNetworkConditionsByRule,
			network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: []*network.Conditions{{
				Latency: 80, DownloadThroughput: perSecond, UploadThroughput: perSecond}}})
		return err
	}))
}

// The whole visit's bounds.
const (
	mostClicks = 6
	slowLine   = 60e3 // bytes a second
)

// TestAWholeVisitWithAPhone: a rider comes in, the shop's phone sends three photos over a slow line, the desk
// is opened anew in between, and the sheet is printed. It takes six clicks on the desk, and nothing is lost.
func TestAWholeVisitWithAPhone(t *testing.T) {
	t.Parallel()
	b := open(t, options{withLAN: true})
	before := b.visit("Rider 16") // the rider before, whose visit is done, and whose phone is paired
	b.upload(before.ID, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	k, err := b.store.Record(t.Context(), b.settled(before.ID).Current)
	require.NoError(t, err)
	r, _ := b.script(fmt.Sprintf("/records/%d/review", k.ID), moved{Left: *k.Record.Measurement.LeftPx,
		Right: *k.Record.Measurement.RightPx, Reviewer: "Ruth", U: 1.5})
	require.Equal(t, 200, r.StatusCode)
	phone := b.pairedPhone(t, "visit-phone", before.ID)
	desk := newTab(t, "visit-desk", 1366, 768)
	desk.open(b.url)
	clicks := 0
	click := func(sel string) {
		t.Helper()
		clicks++
		desk.do(chromedp.Click(sel))
	}

	desk.do(chromedp.SendKeys("#alias", "Rider 17"))
	click("main button.go")
	desk.arrive("location.pathname.match(/visits.[0-9]+$/)")
	desk.do(chromedp.SendKeys("#name0", "winter"), chromedp.SetValue("#use0", "gravel"),
		chromedp.SendKeys("#trunk0", "45"), chromedp.SendKeys("#mass", "78"))
	click(".ahead button[value=next]")
	desk.arrive("location.pathname.endsWith('/imprint') && document.querySelector('.drop')")
	desk.screen("1-asked")

	t.Log("the phone is asked by itself, and says yes")
	phone.wait("!document.getElementById('asked').hidden")
	phone.slow(slowLine)
	x, y := phone.middle("#come")
	phone.swipe(x, y, x, y, nil) // a tap
	phone.wait("document.getElementById('place').textContent.includes('Rider 17')")
	start, v := time.Now(), before.ID+1
	phone.choose("#pick", photoDir+three[0], photoDir+three[1], photoDir+three[2])
	eval[any](phone, `(window.said = new Set(), new MutationObserver(() => window.said.add(
		document.getElementById('queue').textContent)).observe(document.getElementById('queue'),
		{subtree: true, childList: true, characterData: true}), 1)`)
	require.Eventually(t, func() bool {
		shots, err := b.store.Shots(t.Context(), v)
		return err == nil && len(shots) == 1
	}, time.Minute, 20*time.Millisecond)

	t.Log("the desk is opened anew while the second photo is on its way")
	time.Sleep(time.Second) // a quarter of it has gone
	b.restart(1500 * time.Millisecond)
	phone.wait("document.getElementById('count').textContent.startsWith('3 of 3')")
	assert.True(t, eval[bool](phone, "[...window.said].some(s => s.includes('No connection'))"), "it broke")
	sent := 0
	var hashes []string
	for _, name := range three {
		content := readPhoto(t, name)
		sum := sha256.Sum256([]byte(content))
		hashes, sent = append(hashes, hex.EncodeToString(sum[:])), sent+len(content)
	}
	assert.Greater(t, time.Since(start).Seconds(), 0.8*float64(sent)/slowLine, "the line was slow")
	phone.screen("2-sent")

	joined := b.counted(v, store.OfTogether)
	assert.Len(t, joined.Record.Photos, 3)
	desk.wait("document.querySelector('.course.done') && document.querySelectorAll('.handle').length == 2")
	desk.screen("3-joined")
	desk.do(chromedp.SendKeys("#reviewer", "Ruth"))
	click("#keep")
	desk.arrive("location.pathname.endsWith('/choice') && document.querySelector('.versus')")
	desk.screen("4-choice")
	click(".versus .take button")
	desk.arrive("document.querySelector('.versus th.taken')")
	click(".primary button")
	desk.arrive("location.pathname.endsWith('/sheet') && document.getElementById('print')")
	desk.screen("5-sheet")
	eval[any](desk, "(window.open = () => 1, 1)") // a printer is not here
	click("#print")
	assert.LessOrEqual(t, clicks, mostClicks)

	shots, err := b.store.Shots(t.Context(), v)
	require.NoError(t, err)
	var kept []string
	for _, s := range shots {
		kept = append(kept, s.Original)
	}
	assert.Equal(t, hashes, kept, "each photo, once, in its order")
	rider, err := b.store.Visit(t.Context(), v)
	require.NoError(t, err)
	assert.Equal(t, "Siskin", rider.Bikes[0].Saddle.Taken.Name)
	assert.Equal(t, 78.0, rider.MassKg)
	sheets, err := b.store.Sheets(t.Context(), v)
	require.NoError(t, err)
	require.Len(t, sheets, 1)
	_, reviewer := sheets[0].Record.Current()
	assert.Equal(t, "Ruth", reviewer)
}
