package desk

import (
	"bytes"
	"encoding/json"
	"fmt"
	"mime/multipart"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/store"
)

// dotted is an imprint of a known distance, by the truth beside it, and its photos.
func dotted(t *testing.T) (photos []string, mm float64) {
	t.Helper()
	text, err := os.ReadFile(photoDir + "dotted/truth.jsonl")
	require.NoError(t, err)
	for d := json.NewDecoder(bytes.NewReader(text)); d.More(); {
		var line struct {
			Name    string  `json:"name"`
			Spacing float64 `json:"spacing_mm"`
		}
		require.NoError(t, d.Decode(&line))
		photos, mm = append(photos, photoDir+"dotted/"+line.Name), line.Spacing
	}
	require.Len(t, photos, 3)
	return photos, mm
}

// sendCheck sends the form of a check.
func (b *bench) sendCheck(values map[string]string, photos ...string) (int, map[string]any) {
	b.t.Helper()
	body := &bytes.Buffer{}
	w := multipart.NewWriter(body)
	for name, v := range values {
		require.NoError(b.t, w.WriteField(name, v))
	}
	for _, path := range photos {
		data, err := os.ReadFile(path)
		require.NoError(b.t, err)
		part, err := w.CreateFormFile("photo", filepath.Base(path))
		require.NoError(b.t, err)
		_, err = part.Write(data)
		require.NoError(b.t, err)
	}
	require.NoError(b.t, w.Close())
	r := b.request("POST", "/proof", body)
	r.Header.Set("Content-Type", w.FormDataContentType())
	answer, out := b.send(r)
	return answer.StatusCode, out
}

func TestWrongChecksAreRefusedInOneLine(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	grey := writeGrey(t)
	for want, values := range map[string]map[string]string{
		"centimetres":     {"distance": "12"},
		"is needed":       {"distance": ""},
		"70 to 200 mm":    {"distance": "300"},
		"do not fit":      {"distance": "80", "diameter": "85"},
		"Give or take":    {"distance": "120", "u": "99"},
		"at least one ph": {"distance": "120", "none": "yes"},
	} {
		photos := []string{grey}
		if values["none"] != "" {
			photos = nil
		}
		status, out := b.sendCheck(values, photos...)
		assert.Equal(t, 422, status, want)
		assert.Contains(t, out["error"], want)
	}
	list, err := b.store.Checks(t.Context())
	require.NoError(t, err)
	assert.Empty(t, list)
	left, err := os.ReadDir(filepath.Join(b.store.Dir(), "incoming"))
	require.NoError(t, err)
	assert.Empty(t, left, "no photo is left behind")

	status, out := b.sendCheck(map[string]string{"distance": "120"}, grey)
	require.Equal(t, 200, status, "%v", out)
	_, text := b.get(fmt.Sprint(out["go"]))
	assert.Contains(t, text, "This proves nothing yet", "without a frame there is no number; the check is kept")
	status, out = b.sendCheck(map[string]string{"distance": "121"}, grey)
	assert.Equal(t, 409, status)
	assert.Contains(t, out["error"], "in check 1 already")
}

func TestAPhotoOfACheckCountsOnce(t *testing.T) {
	a := sentPhoto{Name: "a.jpg", SHA256: "1", BareSHA256: "2"}
	b := sentPhoto{Name: "b.jpg", SHA256: "3", BareSHA256: "4"}
	again := sentPhoto{Name: "c.jpg", SHA256: "1"}
	stripped := sentPhoto{Name: "d.jpg", SHA256: "2", BareSHA256: "2"}
	noPicture, nor := sentPhoto{Name: "e.jpg", SHA256: "5"}, sentPhoto{Name: "f.jpg", SHA256: "6"}
	assert.Equal(t, []sentPhoto{a, b, noPicture, nor},
		eachOnce([]sentPhoto{a, b, again, stripped, noPicture, nor}))
}

// Marking paper has a print of its own, and which medium it is the photo says.
func TestACheckOnThePageKeepsThePrintOfItsMedium(t *testing.T) {
	b, _ := ownShop(t, "print: {scale_x: 0.998, scale_x_u: 0.001}\n"+
		"print_paper: {scale_x: 1.004, scale_x_u: 0.001}\n")
	status, out := b.sendCheck(map[string]string{"distance": "120"}, photoDir+"paper-1.jpg")
	require.Equal(t, 200, status, "%v", out)
	list, err := b.store.Checks(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, "paper", list[0].Medium)
	assert.Equal(t, "1.0040 x 1.0040", list[0].Print)
}

// A check is made on the desk as a person makes it: the form, three photos, the verdict.
func TestCheckInABrowser(t *testing.T) {
	t.Parallel()
	photos, mm := dotted(t)
	b, _ := ownShop(t, "name: A\n")
	p := newTab(t, "proof", 1366, 768)
	p.open(b.url + "/proof")
	p.whole("1-empty")
	p.do(chromedp.SendKeys("#distance", "12,1"), chromedp.Click("#check .go"))
	p.wait("!document.querySelector('[data-fault]').hidden")
	p.choose("#proof-photos", photos...)
	p.do(chromedp.SetValue("#distance", fmt.Sprintf("%.1f", mm)), chromedp.SendKeys("#diameter", "40"),
		chromedp.SetValue("#pad", "foam"), chromedp.SendKeys("#light", "lamp, left"), chromedp.Click("#check .go"))
	p.arrive("document.querySelector('.verdict-said.passed')")
	p.whole("2-verdict")
	list, err := b.store.Checks(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, string(proof.Passed), list[0].Verdict)
	assert.Equal(t, "foam", list[0].Pad)
	assert.Equal(t, "lamp, left", list[0].Light)
	assert.Len(t, list[0].Photos, 3)
	assert.InDelta(t, mm, *list[0].MeasuredMM, *list[0].MeasuredU)

	t.Log("left out with a reason, and counted again")
	p.do(chromedp.Click(".danger summary"), chromedp.Click(".danger .warn"))
	p.arrive("document.getElementById('why-fault')")
	p.do(chromedp.SendKeys("#why", "the rule slipped"), chromedp.Click(".danger .warn"))
	p.arrive("location.pathname == '/proof' && document.querySelector('.void')")
	p.do(chromedp.Click(".void a"))
	p.arrive("document.querySelector('button[value=again]')")
	p.do(chromedp.Click("button[value=again]"))
	p.arrive("location.pathname == '/proof' && !document.querySelector('.void')")
}

// addChecks keeps checks of these deviations from 120 mm.
func (b *bench) addChecks(of store.Check, deviations ...float64) {
	b.t.Helper()
	for _, d := range deviations {
		c := of
		mm, u := 120+d, 1.0
		c.DistanceMM, c.DistanceU, c.MeasuredMM, c.MeasuredU, c.Accepted = 120, 0.3, &mm, &u, true
		c.Verdict = string(c.Kept().Check.Verdict())
		_, err := b.store.AddCheck(b.t.Context(), c, nil)
		require.NoError(b.t, err)
	}
}

func TestChartShowsLimitsSignsAndChanges(t *testing.T) {
	b := open(t, options{})
	of := store.Check{Medium: "foam", Pad: "foam", Phone: "P1", Print: "0.9980 x 0.9980", Light: "left"}
	b.addChecks(of, 0.1, -0.2, 0.2, -0.1)
	_, shop := b.get("/settings")
	assert.Contains(t, shop, `<li class="done"><a href="/proof">`, "proved")
	_, text := b.get("/proof")
	assert.Contains(t, text, "4 of 5 checks")
	assert.NotContains(t, text, `class="limit"`)
	of.Phone = "P2"
	b.addChecks(of, 0.1, -0.2, 3.4)
	_, shop = b.get("/settings")
	assert.Contains(t, shop, `<li class="open"><a href="/proof">`, "the last check did not pass")
	_, text = b.get("/proof")
	assert.Equal(t, 2, strings.Count(text, `class="limit"`))
	assert.Equal(t, 1, strings.Count(text, "point sign"))
	assert.Contains(t, text, "Check 7 lies beyond the limits")
	_, text = b.get("/proof/7")
	assert.Contains(t, text, "<td>&#43;3.4 mm</td>")
	_, text = b.get("/proof")
	assert.Equal(t, 1, strings.Count(text, ">other phone<"))
	require.NoError(t, b.store.LeaveOutCheck(t.Context(), 7, "the rule slipped"))
	_, text = b.get("/proof")
	assert.NotContains(t, text, "point sign")
	assert.Contains(t, text, "No sign of a change")
	of.Print = "0.9990 x 0.9990"
	b.addChecks(of, 0.3)
	_, text = b.get("/proof")
	assert.Contains(t, text, ">new print<")
	assert.Contains(t, text, "1 of 5 checks", "a new print begins anew")
}

// The chart's limits are package proof's, at their place: by hand, five points with moving ranges of 0.3 mm
// have sigma = 0.3 / 1.128 = 0.266 mm, and limits 0.798 mm to either side of the mean of 0.12 mm.
func TestChartDrawsTheLimitsAtTheirPlace(t *testing.T) {
	b := open(t, options{})
	b.addChecks(store.Check{Pad: "foam"}, 0, 0.3, 0, 0.3, 0)
	list, err := b.store.Checks(t.Context())
	require.NoError(t, err)
	c, texts := chartOf("en", list)
	require.Len(t, c.Limits, 1)
	mm := func(y float64) float64 { // by the ticks, the first and the last
		first, last := c.Ticks[0], c.Ticks[len(c.Ticks)-1]
		var low, high float64
		fmt.Sscan(strings.Replace(first.Text, "−", "-", 1), &low)
		fmt.Sscan(strings.Replace(last.Text, "−", "-", 1), &high)
		return low + (y-first.Y)/(last.Y-first.Y)*(high-low)
	}
	assert.InDelta(t, 0.12, mm(c.Limits[0].Centre), 1e-6)
	assert.InDelta(t, 0.12+0.798, mm(c.Limits[0].High), 1e-3)
	assert.InDelta(t, 0.12-0.798, mm(c.Limits[0].Low), 1e-3)
	assert.InDelta(t, 0.3, mm(c.Points[1].Y), 1e-6)
	assert.InDelta(t, 0, mm(c.Zero), 1e-6)
	assert.Contains(t, strings.Join(texts, " "), "limits −0.7 to +0.9 mm")
}

func TestReminderAfterAChange(t *testing.T) {
	b, _ := ownShop(t, "name: A\n")
	_, text := b.get("/")
	assert.NotContains(t, text, "Check it now", "a shop that never checked is told where it sets itself up")
	b.addChecks(store.Check{Medium: "foam", Pad: "foam", Phone: "P1"}, 0.1)
	_, text = b.get("/")
	assert.NotContains(t, text, "Check it now")
	status, _ := b.settle("/settings/frame", url.Values{"bar_x": {"199"}, "bar_y": {"149"}})
	require.Equal(t, 303, status)
	_, text = b.get("/")
	assert.Contains(t, text, "There is a new print of the frame")
	b.addChecks(store.Check{Medium: "foam", Pad: "foam", Phone: "P1", Print: b.shopNow().PrintKey("foam")}, 0.1)
	_, text = b.get("/")
	assert.NotContains(t, text, "Check it now")
	today = func() time.Time { return now().AddDate(0, 7, 0) }
	defer func() { today = now }()
	_, text = b.get("/")
	assert.Contains(t, text, "over six months old")
	b.visit("Robin")
	b.upload(1, [2]string{"a.jpg", readPhoto(t, "paper-1.jpg")})
	b.settled(1)
	_, text = b.get("/")
	assert.Contains(t, text, "There is a new pad")
}

func TestCorrectionIsChosenOnThePage(t *testing.T) {
	b, _ := ownShop(t, "checks: {correct: false} # wait\n")
	b.form("/proof/correct", url.Values{"correct": {"yes"}})
	assert.True(t, b.shopNow().CorrectByChecks)
	b.form("/proof/correct", nil)
	assert.False(t, b.shopNow().CorrectByChecks)
}
