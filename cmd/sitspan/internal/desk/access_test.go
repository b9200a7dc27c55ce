package desk

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// accessibility is our own set of rules: names for all that can be used,
// contrast (WCAG 2.1, 1.4.3: 4.5, or 3 for large text; the formulas are those of
// "relative luminance" and "contrast ratio" there), order of focus, one main
// heading, unique ids, targets of 24 px (WCAG 2.2, 2.5.8).
const accessibility = `(() => {
  const wrong = [], seen = e => { const r = e.getBoundingClientRect(), s = getComputedStyle(e);
    return r.width > 1 && r.height > 1 && s.visibility !== 'hidden' && !e.closest('[hidden]') &&
    (!e.closest('details:not([open])') || e.closest('summary')) };
  const say = (e, what) => wrong.push(what + ': ' + e.outerHTML.slice(0, 110));
  const name = e => (e.getAttribute('aria-label') || (e.getAttribute('aria-labelledby') &&
    document.getElementById(e.getAttribute('aria-labelledby'))?.textContent) ||
    [...(e.labels || [])].map(l => l.textContent).join('') || e.textContent || e.title || '').trim();
  if (!document.documentElement.lang) wrong.push('no language');
  if (!document.title) wrong.push('no title');
  const ids = {}; for (const e of document.querySelectorAll('[id]')) { if (ids[e.id]) say(e, 'id twice');
    ids[e.id] = 1 }
  for (const e of document.querySelectorAll('img')) if (!e.hasAttribute('alt')) say(e, 'picture without alt');
  for (const e of document.querySelectorAll('input:not([type=hidden]), select, textarea, button, a[href], ' +
    'summary, [tabindex="0"]'))
    if (!name(e)) say(e, 'no name');
  for (const e of document.querySelectorAll('svg[role=img], svg[role=group], iframe'))
    if (!(e.getAttribute('aria-label') || e.title)) say(e, 'no name');
  for (const e of document.querySelectorAll('[tabindex]')) if (e.tabIndex > 0) say(e, 'order of focus bent');
  for (const e of document.querySelectorAll('[aria-describedby]'))
    for (const i of e.getAttribute('aria-describedby').split(' '))
      if (!document.getElementById(i)) say(e, 'described by nothing');
  const rgb = s => { const m = s.match(/[\d.]+/g).map(Number); return [m[0], m[1], m[2], m[3] ?? 1] };
  const over = (a, b) => [0, 1, 2].map(i => a[i] * a[3] + b[i] * (1 - a[3])).concat(1);
  const ground = e => {
    const stack = [];
    for (let n = e; n; n = n.parentElement) {
      const c = rgb(getComputedStyle(n).backgroundColor);
      if (c[3]) stack.push(c);
      if (c[3] === 1) break;
    }
    let g = [255, 255, 255, 1];
    while (stack.length) g = over(stack.pop(), g);
    return g;
  };
  const lum = c => { const f = v => (v /= 255) <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
    return 0.2126 * f(c[0]) + 0.7152 * f(c[1]) + 0.0722 * f(c[2]) };
  let measured = 0;
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; n = walker.nextNode();) {
    const e = n.parentElement;
    if (!n.textContent.trim() || !seen(e) ||
      e.closest('svg, script, template, .away, option, :disabled, dialog:not([open])')) continue;
    const s = getComputedStyle(e), bg = ground(e), fg = over(rgb(s.color), bg), a = lum(fg), b = lum(bg),
      ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    const size = parseFloat(s.fontSize), large = size >= 24 || size >= 18.66 && parseInt(s.fontWeight) >= 700;
    measured++;
    if (ratio < (large ? 3 : 4.5)) say(e, 'contrast ' + ratio.toFixed(2));
  }
  if (!measured) wrong.push('no text measured');
  for (const e of document.querySelectorAll('button, input:not([type=hidden]), select, summary'))
    if (seen(e) && !e.closest('.away') && !e.classList.contains('away')) {
      const r = e.getBoundingClientRect();
      if (r.height < 24 && !(e.labels && e.labels.length) && !/radio|checkbox/.test(e.type))
        say(e, 'target of ' + r.height.toFixed(0) + ' px');
    }
  if (!document.querySelector('h1')) wrong.push('no main heading');
  return wrong;
})()`

// accessible checks the page against the rules, and the order of focus.
func (p *tab) accessible(name string) {
	p.t.Helper()
	assert.Empty(p.t, eval[[]string](p, accessibility), "%s %s", p.name, name)
}

func TestAccessibilityRulesFindFaults(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	p := newTab(t, "rules", 800, 600)
	p.open(b.url)
	require.Empty(t, eval[[]string](p, accessibility))
	for _, fault := range []struct{ js, want string }{
		{"document.querySelector('label[for=alias]').remove()", "no name"},
		{"document.querySelector('.lead').className = 'x'", ""},
		{"document.querySelector('h1').remove()", "no main heading"},
		{"document.body.append(new Image())", "picture without alt"},
		{"document.querySelector('#q').id = 'alias'", "id twice"},
		{"document.querySelector('.mark').tabIndex = 3", "order of focus bent"},
		{"document.querySelector('main p').style.color = '#999'", "contrast"},
		{"document.querySelector('button.go').style.cssText = 'min-height:0;height:9px;padding:0'", "target"},
	} {
		p.open(b.url)
		eval[any](p, "("+fault.js+", 1)")
		found := strings.Join(eval[[]string](p, accessibility), "\n")
		if fault.want == "" {
			assert.Empty(t, found, fault.js)
			continue
		}
		assert.Contains(t, found, fault.want, fault.js)
	}
}

// TestTabReachesEverything walks through a page by the Tab key: each stop is
// later in the page than the one before, and shows that it has the focus.
func TestTabReachesEverything(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Rider 17")
	p := newTab(t, "tab", 1280, 800)
	for _, page := range []string{"/", "/visits/1", "/visits/1/imprint"} {
		p.open(b.url + page)
		// the first stop; an autofocus may begin elsewhere
		eval[any](p, "(document.querySelector('.skip').focus(), 1)")
		want := eval[int](p, "[...document.querySelectorAll('a[href], button:not(:disabled), "+
			"input:not([type=hidden]), select, textarea, summary')].filter(e => e.checkVisibility() && "+
			"!e.closest('dialog')).filter(e => !e.closest('details:not([open])') || e.tagName === 'SUMMARY').length")
		stops := 1 + walk(p, want)
		assert.GreaterOrEqual(t, stops, want-1, page) // a group of radio buttons is one stop
	}
}

func walk(p *tab, most int) (stops int) {
	p.t.Helper()
	eval[any](p, "(window.before = document.activeElement, window.first = document.activeElement, 1)")
	for range most + 3 {
		pressTab(p)
		state := eval[string](p, `(() => { const e = document.activeElement;
			if (!e || e === document.body) return 'end'; const s = getComputedStyle(e);
			const ok = !window.before || (window.before.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING);
				const first = e === window.first; window.first ??= e; window.before = e;
			if (first) return 'end'; const r = e.getBoundingClientRect(),
				over = document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2);
			if (over?.closest('.primary') && !e.closest('.primary')) return 'covered ' + e.outerHTML.slice(0, 80);
			const label = e.classList.contains('away') && e.labels?.[0];
				const shown = s.outlineStyle !== 'none' || label && getComputedStyle(label).outlineStyle !== 'none';
			return !ok ? 'back to ' + e.outerHTML.slice(0, 80) : !shown ? 'not shown ' + e.outerHTML.slice(0, 80) :
				'ok' })()`)
		if state == "end" {
			break
		}
		require.Equal(p.t, "ok", state)
		stops++
	}
	return stops
}

func greyJPEG(t *testing.T, w, h int) []byte {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		m.Pix[i] = byte(120 + i%7)
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	return b.Bytes()
}

// drawnSide is a rider of lines on a bike of circles.
func drawnSide(t *testing.T) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 900, 640))
	for i := range m.Pix {
		m.Pix[i] = 0xe8
	}
	dot := func(cx, cy, r int, c color.Color) {
		for y := cy - r; y <= cy+r; y++ {
			for x := cx - r; x <= cx+r; x++ {
				if (x-cx)*(x-cx)+(y-cy)*(y-cy) <= r*r {
					m.Set(x, y, c)
				}
			}
		}
	}
	dark, grey := color.RGBA{40, 50, 60, 255}, color.RGBA{205, 205, 205, 255}
	for _, x := range []int{200, 700} {
		dot(x, 500, 110, dark)
		dot(x, 500, 100, grey)
		dot(x, 500, 8, dark)
	}
	for i := range 200 {
		dot(400+i, 300-i, 26, color.RGBA{90, 110, 130, 255})
	}
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, m))
	return b.Bytes()
}
