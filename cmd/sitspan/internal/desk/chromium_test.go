package desk

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// errNoChromium is the error where no browser is installed.
var errNoChromium = errors.New("no chromium is installed: .ci/deps browser, or apt-get install chromium, " +
	"to test the pages in a real browser")

// chromiumPath finds a browser that runs.
var chromiumPath = sync.OnceValues(func() (string, error) {
	got, err := filepath.Abs("../../../../.cache/chromium/chromium") // by .ci/chromium
	if err != nil {
		return "", err
	}
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", got} {
		path, err := exec.LookPath(name)
		if err == nil && exec.Command(path, "--version").Run() == nil { // a snap's stub has none
			return path, nil
		}
	}
	return "", errNoChromium
})

// browser is the one Chromium of all tests, and what ends it.
var browser struct {
	start sync.Once
	ctx   context.Context
	end   func()
	err   error
}

// openBrowser starts the one Chromium, once.
func openBrowser(path string) (context.Context, error) {
	browser.start.Do(func() {
		o := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]),
			chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.IgnoreCertErrors,
			chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
			chromedp.Flag("lang", "en"))
		alloc, stop := chromedp.NewExecAllocator(context.Background(), o...)
		ctx, cancel := chromedp.NewContext(alloc)
		browser.ctx, browser.end = ctx, func() { cancel(); stop() }
		browser.err = chromedp.Do(ctx)
	})
	return browser.ctx, browser.err
}

// closeBrowser ends it, where it was started.
func closeBrowser() {
	if browser.end != nil {
		browser.end()
	}
}

// newTab is a window in the one Chromium, with cookies and a storage of its own, as in a browser of its own.
func newTab(t *testing.T, name string, width, height int64, opts ...chromedp.EmulateViewportOption) *tab {
	t.Helper()
	path, err := chromiumPath()
	if errors.Is(err, errNoChromium) {
		t.Skip(err)
	}
	require.NoError(t, err)
	of, err := openBrowser(path)
	require.NoError(t, err)
	ctx, cancel := chromedp.NewContext(of, chromedp.WithNewBrowserContext())
	ctx, late := context.WithTimeout(ctx, 8*time.Minute)
	t.Cleanup(func() { late(); cancel() })
	p := &tab{ctx, t, name}
	// Each window believes that it lies before the others.
	p.do(chromedp.EmulateViewport(width, height, opts...),
		chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, emulation.SetFocusEmulationEnabled,
				emulation.SetFocusEmulationEnabledParams{Enabled: true})
			return err
		}))
	require.NoError(t, os.MkdirAll(shots, 0o755))
	return p
}

// photograph keeps what the tab shows as a picture; all of the page, scrolled to or not, where whole.
func (p *tab) photograph(name string, whole bool) {
	p.t.Helper()
	yes := true
	png, err := chromedp.Run(p.ctx, func(ctx context.Context, t *chromedp.Target) ([]byte, error) {
		r, err := cdp.Call(ctx, t, page.CaptureScreenshot, page.CaptureScreenshotParams{
			FromSurface: &yes, CaptureBeyondViewport: &whole, OptimizeForSpeed: &yes})
		if err != nil {
			return nil, err
		}
		return r.Data, nil
	})
	require.NoError(p.t, err)
	require.NoError(p.t, os.WriteFile(filepath.Join(shots, p.name+"-"+name+".png"), png, 0o644))
}
