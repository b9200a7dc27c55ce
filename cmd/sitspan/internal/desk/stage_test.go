package desk

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/store"
)

// touch sends fingers to the page.
func (p *tab) touch(kind input.DispatchTouchEventType, points ...*input.TouchPoint) {
	p.t.Helper()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind,
			TouchPoints: points})
		return err
	}))
}

func (p *tab) wheel(x, y, delta float64) {
	p.t.Helper()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, input.DispatchMouseEvent, input.DispatchMouseEventParams{
			Type: input.DispatchMouseEventTypeMouseWheel, X: x, Y: y, DeltaX: 0.001, DeltaY: delta})
		return err
	}))
}

// apart is how far both crosses lie apart on the screen, px. Both are asked for at once: a page that scrolls
// after a wheel's step would move between two questions.
func (p *tab) apart() float64 {
	p.t.Helper()
	return eval[float64](p, "(() => { const [a, b] = ['left', 'right'].map(k => "+
		"document.querySelector(`.handle[data-handle=${k}] .ring`).getBoundingClientRect()); "+
		"return Math.hypot(a.x + a.width / 2 - b.x - b.width / 2, a.y + a.height / 2 - b.y - b.height / 2) })()")
}

// stageOf opens a visit with one photo.
func (b *bench) stageOf(p *tab, photo string) {
	b.t.Helper()
	b.visit("Rider 17")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(b.t, photo)})
	b.settled(1)
	p.open(b.url + "/visits/1/imprint")
	p.arrive("document.querySelectorAll('.handle').length == 2")
}

// TestThePhotoIsZoomedAndShifted by wheel, mouse, buttons and keys: what lies under the pointer stays there.
func TestThePhotoIsZoomedAndShifted(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	p := newTab(t, "zoom", 1366, 768)
	b.stageOf(p, "foam-window.jpg")
	whole := p.apart()
	x, y := p.middle(".handle[data-handle=left] .ring")
	x, y = math.Round(x), math.Round(y) // as a browser tells a wheel's place
	before := p.number("#spacing")
	p.wheel(x, y, -400)
	p.wait("document.getElementById('stage').classList.contains('near')")
	near := p.apart()
	assert.InDelta(t, math.E, near/whole, 0.05, "a wheel's 400 px are a factor of e")
	nx, ny := p.middle(".handle[data-handle=left] .ring")
	assert.InDelta(t, x, nx, 1.5, "it stays under the pointer") // e - 1 times the rounding, at most
	assert.InDelta(t, y, ny, 1.5)
	p.screen("near")

	p.do(chromedp.DragAndDropXY(x+60, y+90, x+100, y+60, 4)) // on the photo, beside the cross
	mx, my := p.middle(".handle[data-handle=left] .ring")
	assert.InDelta(t, x+40, mx, 2, "the photo follows the mouse")
	assert.InDelta(t, y-30, my, 2)
	assert.Equal(t, before, p.number("#spacing"), "no cross was moved")

	p.do(chromedp.DragAndDropXY(mx, my, mx-20, my, 4))
	ax, _ := p.middle(".handle[data-handle=left] .ring")
	assert.InDelta(t, mx-20, ax, 1.5, "a cross is dragged in a zoomed photo as in a whole one")
	p.do(chromedp.Click("#undo"))

	p.do(chromedp.Focus(".handle[data-handle=left]"), chromedp.KeyEvent("0"))
	p.wait("!document.getElementById('stage').classList.contains('near')")
	assert.InDelta(t, whole, p.apart(), 1)
	p.do(chromedp.Click("#larger"), chromedp.Click("#larger"))
	assert.InDelta(t, 2.25*whole, p.apart(), 3)
	p.do(chromedp.Click("#zoom")) // which shows all again
	assert.InDelta(t, whole, p.apart(), 1)
	p.wheel(x, y, 400)
	assert.InDelta(t, whole, p.apart(), 1, "no smaller than the whole")
}

// TestTwoFingersZoom, and one shifts what is zoomed; on a whole photo one finger scrolls the page.
func TestTwoFingersZoom(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	p := newTab(t, "pinch", 390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	b.stageOf(p, "foam-window.jpg")
	whole := p.apart()
	lx, ly := p.middle(".handle[data-handle=left] .ring")
	rx, ry := p.middle(".handle[data-handle=right] .ring")
	x, y := (lx+rx)/2, (ly+ry)/2+40
	at := func(d float64) []*input.TouchPoint {
		return []*input.TouchPoint{{X: x - d, Y: y}, {X: x + d, Y: y}}
	}
	p.touch(input.DispatchTouchEventTypeTouchStart, at(20)...)
	for d := 24.0; d <= 60; d += 4 {
		p.touch(input.DispatchTouchEventTypeTouchMove, at(d)...)
	}
	p.touch(input.DispatchTouchEventTypeTouchEnd)
	assert.InDelta(t, 3*whole, p.apart(), 0.15*whole, "three times as far apart as at first")
	assert.Equal(t, 1.0, eval[float64](p, "visualViewport.scale"), "the page itself is not zoomed")
	p.screen("near")

	mx, my := p.middle(".handle[data-handle=left] .ring")
	p.swipe(x, y, x+30, y-20, nil)
	nx, ny := p.middle(".handle[data-handle=left] .ring")
	assert.InDelta(t, mx+30, nx, 3)
	assert.InDelta(t, my-20, ny, 3)
	assert.Zero(t, eval[float64](p, "scrollY"))
}

// overlapping says whether two elements share any place of the screen.
const overlapping = `((a, b) => { const p = document.querySelector(a).getBoundingClientRect(),
	q = document.querySelector(b).getBoundingClientRect();
	return p.left < q.right && q.left < p.right && p.top < q.bottom && q.top < p.bottom })`

// spread is how many greys the magnifier's middle 80 % take, its cross left out.
const spread = `(() => { const c = document.getElementById('loupe'), g = c.getContext('2d'),
	d = g.getImageData(0, 0, c.width, c.height).data, v = [];
	for (let i = 0; i < d.length; i += 4) if (d[i] === d[i + 1] && d[i] === d[i + 2]) v.push(d[i]);
	v.sort((a, b) => a - b); return v[Math.floor(.9 * v.length)] - v[Math.floor(.1 * v.length)] })()`

// TestTheMagnifierShowsRelief with its contrast spread, at any cross, off the buttons and off the cross.
func TestTheMagnifierShowsRelief(t *testing.T) {
	t.Parallel()
	for _, size := range screenSizes {
		b := open(t, options{})
		p := size.tab(t, "loupe")
		b.stageOf(p, "foam-window.jpg")
		for _, side := range []string{"left", "right"} {
			p.do(chromedp.Focus(".handle[data-handle="+side+"]"), chromedp.KeyEvent(kb.ArrowUp))
			p.wait("document.getElementById('loupe').classList.contains('on') && " + spread + " > 0")
			assert.False(t, eval[bool](p, overlapping+"('#loupe', '.tools')"), "%s %s", size.name, side)
			assert.False(t, eval[bool](p, overlapping+"('#loupe', '.handle[data-handle="+side+"] .ring')"),
				"%s %s: it hides what it enlarges", size.name, side)
			// The photo itself has some 60 greys there; spread, they take most of 255.
			assert.Greater(t, eval[float64](p, spread), 120.0, "%s %s", size.name, side)
			p.screen(side)
		}
	}
}

// TestContourLinesLieOnTheirDents: of photos that gave a surface, the deepest lines go round the centres,
// and the page draws them.
func TestContourLinesLieOnTheirDents(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	v := b.visit("Rider 17")
	for _, name := range []string{"dotted/above.jpg", "dotted/side-1.jpg", "dotted/side-2.jpg"} {
		b.upload(v.ID, [2]string{name, readPhoto(t, name)})
	}
	b.settled(v.ID)
	k := b.counted(v.ID, store.OfTogether)
	lines := contoursOf(k.Record)
	require.NotEmpty(t, lines)
	m, _ := k.Record.Current()
	perMM := math.Hypot(m.LeftPx[0]-m.RightPx[0], m.LeftPx[1]-m.RightPx[1]) / *m.Spacing
	for side, centre := range map[string][2]float64{"left": *m.LeftPx, "right": *m.RightPx} {
		deepest, at := 0, [2]float64{}
		for _, l := range lines {
			x, y := middleOf(l.Px)
			if math.Hypot(x-centre[0], y-centre[1]) < 25*perMM && l.MM > deepest {
				deepest, at = l.MM, [2]float64{x, y}
			}
		}
		assert.Greater(t, deepest, 3, "%s: a thin pad's dents are 4 to 5 mm deep", side)
		// A bottom is flat over some mm: within 1 mm of its depth its middle wanders by no more than that.
		assert.Less(t, math.Hypot(at[0]-centre[0], at[1]-centre[1])/perMM, 5.0, side)
	}
	p := newTab(t, "contours", 1366, 768)
	p.open(b.url + "/visits/1/imprint")
	p.arrive("document.querySelectorAll('.handle').length == 2")
	p.do(chromedp.Click("#contours"))
	p.wait(fmt.Sprintf("document.querySelectorAll('.contour').length == %d", len(lines)))
	p.do(chromedp.Focus(".handle[data-handle=left]"), chromedp.KeyEvent(kb.ArrowUp))
	p.wait("document.getElementById('loupe').classList.contains('on')")
	p.screen("drawn")
}

func middleOf(line [][2]float64) (x, y float64) {
	for _, p := range line {
		x, y = x+p[0]/float64(len(line)), y+p[1]/float64(len(line))
	}
	return x, y
}
