package desk

import (
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

func pressTab(p *tab) {
	p.t.Helper()
	p.do(chromedp.KeyEvent(kb.Tab))
}
