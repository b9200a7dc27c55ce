package audit

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func chromium(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		path, err := exec.LookPath(name)
		if err == nil && exec.Command(path, "--version").Run() == nil { // a snap's stub has none
			return path
		}
	}
	t.Skip(
		"no chromium is installed: .ci/deps browser, or apt-get install chromium, to test the page in a " +
			"real browser",
	)
	return ""
}

// On a phone's screen the list of whom to call back shows the rider and the width to
// take now without scrolling sideways, and nothing of it is cut off.
func TestCallBacksFitAPhone(t *testing.T) {
	path := chromium(t)
	_, out, _ := reported(t)
	none := chromedp.DefaultExecAllocatorOptions
	options := append(
		none[:len(none):len(none)], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
	)
	alloc, stop := chromedp.NewExecAllocator(context.Background(), options...)
	defer stop()
	ctx, cancel := chromedp.NewContext(alloc)
	defer cancel()
	ctx, late := context.WithTimeout(ctx, 8*time.Minute)
	defer late()
	page, err := filepath.Abs(filepath.Join(out, "report.html"))
	require.NoError(t, err)
	require.NoError(
		t,
		chromedp.Do(ctx, chromedp.EmulateViewport(375, 800), chromedp.Navigate("file://"+page)),
	)
	seen, err := chromedp.Run(ctx, chromedp.Evaluate[map[string]any](`(() => {
		const cells = [...document.querySelectorAll('.cards tbody tr:first-child td')]
			.filter(c => c.getBoundingClientRect().width > 0)
		const boxes = cells.map(c => c.getBoundingClientRect())
		const take = cells.find(c => c.dataset.label == 'take now')
		return {
			cells: cells.length, left: Math.min(...boxes.map(b => b.left)),
			right: Math.max(...boxes.map(b => b.right)),
			over: cells.filter(c => c.scrollWidth > c.clientWidth + 1).length,
			take: take ? take.innerText : '', said: take ? getComputedStyle(take, '::before').content : '',
		}
	})()`))
	require.NoError(t, err)
	assert.Greater(t, seen["cells"], 8.0)
	assert.GreaterOrEqual(t, seen["left"], 0.0)
	assert.LessOrEqual(t, seen["right"], 375.0)
	assert.Equal(t, 0.0, seen["over"])
	assert.Regexp(t, `\d{3}`, seen["take"])
	assert.Contains(t, seen["said"], "take now")
	if shots := os.Getenv("SITSPAN_SHOTS"); shots != "" {
		_, err := chromedp.Run(
			ctx, chromedp.Evaluate[bool](`(document.querySelector('#call').scrollIntoView(), true)`),
		)
		require.NoError(t, err)
		png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(shots, "call-back-phone.png"), png, 0o644))
	}
}
