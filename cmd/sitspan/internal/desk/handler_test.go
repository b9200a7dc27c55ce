package desk

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/bare"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/review"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/photo"
)

// TestPhotoBecomesARecordAndASheet goes the whole way without a browser.
func TestPhotoBecomesARecordAndASheet(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	r, _ := b.form("/visits", url.Values{"alias": {" Rider  17 "}})
	require.Equal(t, 303, r.StatusCode)
	require.Equal(t, "/visits/1", r.Header.Get("Location"))
	r, _ = b.form("/visits/1", url.Values{"version": {"1"}, "mass": {"78,5"}, "complaint": {"numbness"},
		"bike_name": {"winter", ""}, "bike_use": {"gravel", ""}, "bike_trunk": {"45", ""}, "bike_trunk_u": {"", ""},
		"bike_allowance": {"", ""}, "bike_basis": {"", ""}})
	require.Equal(t, "/visits/1/imprint", r.Header.Get("Location"))
	v, err := b.store.Visit(t.Context(), 1)
	require.NoError(t, err)
	assert.Equal(t, 78.5, v.MassKg)
	require.Len(t, v.Bikes, 1)
	assert.Equal(t, 3.0, v.Bikes[0].Posture.TrunkU, "degrees, where none is typed")

	answer, out := b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	require.Equal(t, 200, answer.StatusCode, "%v", out)
	s := b.settled(1)
	require.Len(t, s.Tiles, 1)
	require.Equal(t, record.Measured, s.Tiles[0].State)

	k, err := b.store.Record(t.Context(), s.Current)
	require.NoError(t, err)
	assert.Equal(t, "imprint.jpg", k.Record.Measurement.Photo, "named as it came, not by its hash")
	assert.Equal(t, "imprint.jpg", k.Record.Photos[0].Name)
	for _, kind := range []string{"view", "overlay", "thumb"} {
		r, body := b.get(fmt.Sprintf("/records/%d/%s.jpg", k.ID, kind))
		assert.Equal(t, 200, r.StatusCode)
		assert.True(t, strings.HasPrefix(body, "\xff\xd8\xff"))
		assert.NotContains(t, body, "Exif")
	}
	_, page := b.get("/visits/1/choice")
	assert.Contains(t, page, "winter")
	r, _ = b.form("/visits/1/sheet", url.Values{"language": {"de"}, "paper": {"a4"}})
	require.Equal(t, 303, r.StatusCode)
	r, pdf := b.get("/sheets/1.pdf")
	assert.Equal(t, "application/pdf", r.Header.Get("Content-Type"))
	assert.True(t, strings.HasPrefix(pdf, "%PDF-"))
}

func TestReviewIsKeptBesideTheAutomaticOne(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	id := b.settled(1).Current
	before, err := b.store.Record(t.Context(), id)
	require.NoError(t, err)
	m := before.Record.Measurement
	left := *m.LeftPx
	left[0] += 10
	path := fmt.Sprintf("/records/%d/", id)
	r, out := b.script(path+"preview", moved{Left: left, Right: *m.RightPx})
	require.Equal(t, 200, r.StatusCode, "%v", out)
	r, _ = b.script(path+"review", moved{Left: left, Right: *m.RightPx, Reviewer: " "})
	assert.Equal(t, 422, r.StatusCode, "nobody is named")
	r, _ = b.script(path+"review", moved{Left: *m.RightPx, Right: left, Reviewer: "Kim"})
	assert.Equal(t, 422, r.StatusCode, "exchanged")
	r, _ = b.script(path+"review", moved{Left: left, Right: *m.RightPx, Reviewer: "Kim", U: 1})
	require.Equal(t, 200, r.StatusCode)
	after, err := b.store.Record(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, m, after.Record.Measurement)
	require.Len(t, after.Record.Reviews, 1)
	assert.Equal(t, "Kim", after.Record.Reviews[0].Reviewer)
	assert.Equal(t, out["spacing"], words.English.Number(*after.Record.Reviews[0].Measurement.Spacing, 1))
	r, _ = b.script("/records/999/review", moved{Reviewer: "Kim"})
	assert.Equal(t, 404, r.StatusCode)
}

func TestScaleByHand(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	b.upload(1, [2]string{"rule.jpg", string(greyJPEG(t, 1600, 1200))})
	s := b.settled(1)
	require.Equal(t, record.Refused, s.Tiles[0].State)
	_, page := b.get("/visits/1/imprint")
	assert.Contains(t, page, `name="length"`, "the page offers a scale by hand")
	hand := handScale{moved: moved{Left: [2]float64{500, 500}, Right: [2]float64{1100, 500}, Reviewer: "Kim",
		U: 2}, Points: [][2]float64{{300, 900}, {1300, 900}}, Length: "200", Medium: "paper", Source: "rule"}
	for name, spoil := range map[string]func(*handScale){
		"no length":   func(h *handScale) { h.Length = "long" },
		"no source":   func(h *handScale) { h.Source = "thumb" },
		"no reviewer": func(h *handScale) { h.Reviewer = "" },
		// where the page puts them
		"untouched":   func(h *handScale) { h.Left, h.Right = [2]float64{560, 600}, [2]float64{1040, 600} },
		"no points":   func(h *handScale) { h.Points = nil },
		"one place":   func(h *handScale) { h.Points[1] = [2]float64{310, 900} },
		"no length 2": func(h *handScale) { h.Length = "" },
		"no u":        func(h *handScale) { h.U = -1 },
	} {
		h := hand
		h.Points = slices.Clone(hand.Points)
		spoil(&h)
		r, out := b.script("/shots/1/by-hand", h)
		assert.Equal(t, 422, r.StatusCode, name)
		assert.NotEmpty(t, out["error"], name)
	}
	r, out := b.script("/shots/1/by-hand", hand)
	require.Equal(t, 200, r.StatusCode, "%v", out)
	k, err := b.store.Record(t.Context(), b.settled(1).Current)
	require.NoError(t, err)
	m, reviewer := k.Record.Current()
	assert.Equal(t, "Kim", reviewer)
	assert.InDelta(t, 120, *m.Spacing, 1e-9, "600 px at 200 mm per 1000 px")
	assert.Equal(t, "by hand", m.ScaleSource)
	assert.Equal(t, record.Refused, k.Record.Measurement.Status, "the automatic answer stays")
	require.NotNil(t, m.Geometry.Hand)
	assert.Equal(t, hand.Points, m.Geometry.Hand.Points, "the page shows the scale where it was set")
	_, page = b.get("/visits/1/imprint")
	assert.Contains(t, page, `value="200"`)

	t.Log("a surer eye, and the rule beside the dents: the interval is narrow enough, and somebody has looked")
	hand.U, hand.Points = 0.5, [][2]float64{{300, 560}, {1300, 560}}
	r, out = b.script("/shots/1/by-hand", hand)
	require.Equal(t, 200, r.StatusCode, "%v", out)
	k, err = b.store.Record(t.Context(), b.settled(1).Current)
	require.NoError(t, err)
	m, _ = k.Record.Current()
	assert.Less(t, *m.U, 6.0)
	assert.Equal(t, record.Measured, m.Status)
	assert.Equal(t, "by_hand", m.Warnings[0].Code, "what weakens it stays as a footnote")
}

// TestFurtherPhotosAndSittingsJoin uses one photo in files that say the same and
// differ by a byte behind the picture: each is a photo of its own to the store,
// also once the first has been kept without its place and owner.
func TestFurtherPhotosAndSittingsJoin(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	first := readPhoto(t, "foam-window.jpg")
	second, _, err := bare.Make([]byte(first), "x", photo.Limits{})
	require.NoError(t, err)
	r, _ := b.form("/visits/1/together", nil)
	assert.Equal(t, 422, r.StatusCode, "two are needed")
	b.upload(1, [2]string{"a.jpg", first}, [2]string{"b.jpg", string(second) + "\x02"})
	s := b.settled(1)
	require.Equal(t, 2, s.Joinable, "%+v", s.Tiles)
	r, _ = b.form("/visits/1/together", nil)
	require.Equal(t, 303, r.StatusCode)
	s = b.settled(1)
	require.Len(t, s.Tiles, 3)
	assert.Equal(t, store.OfTogether, s.Tiles[2].Kind)
	assert.True(t, s.Tiles[2].Counts)

	b.form("/visits/1/sitting", nil)
	b.upload(1, [2]string{"c.jpg", string(second) + "\x01"})
	s = b.settled(1)
	require.Equal(t, 2, s.Sittings)
	b.form("/visits/1/sittings", nil)
	s = b.settled(1)
	last := s.Tiles[len(s.Tiles)-1]
	require.Equal(t, store.OfSittings, last.Kind)
	k, err := b.store.Record(t.Context(), last.Record)
	require.NoError(t, err)
	assert.Len(t, k.Record.Measurement.Sittings, 2)

	b.form("/shots/1/leave-out", url.Values{"out": {"yes"}})
	shot, err := b.store.Shot(t.Context(), 1)
	require.NoError(t, err)
	assert.True(t, shot.LeftOut)
}

func TestExportHasNoPlace(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	b.visit("Robin")
	original := readPhoto(t, "foam-window.jpg")
	secret := "\xff\xd8\xff\xfe\x00\x12GPS-AND-OWNER-XX" + original[2:]
	b.upload(1, [2]string{"a.jpg", secret}, [2]string{"b.jpg", "\xff\xd8\xff broken"})
	b.settled(1)
	r, body := b.get("/riders/1/export.zip")
	require.Equal(t, 200, r.StatusCode)
	archive, err := zip.NewReader(strings.NewReader(body), int64(len(body)))
	require.NoError(t, err)
	var list string
	jpegs := 0
	for _, f := range archive.File {
		in, err := f.Open()
		require.NoError(t, err)
		content, err := io.ReadAll(in)
		require.NoError(t, err)
		assert.NotContains(t, string(content), "GPS-AND-OWNER")
		if f.Name == "rider.json" {
			list = string(content)
		}
		if strings.HasSuffix(f.Name, ".jpg") {
			jpegs++
			before, err := photo.Decode([]byte(secret), "x", photo.Limits{})
			require.NoError(t, err)
			after, err := photo.Decode(content, "x", photo.Limits{})
			require.NoError(t, err)
			assert.Equal(t, before.Focal35, after.Focal35)
			assert.Equal(t, before.Orientation, after.Orientation)
		}
	}
	assert.Equal(t, 1, jpegs, "what cannot be read is listed, and not handed out")
	assert.Equal(t, 4, strings.Count(list, `"original_sha256": `), "two photos, two records")
	assert.Contains(t, list, `"sha256": ""`, "the broken one has no file")
	left, err := os.ReadDir(filepath.Join(b.store.Dir(), "incoming"))
	require.NoError(t, err)
	assert.Empty(t, left, "no copy of it stays")
}

func TestRiderIsComparedAndDeleted(t *testing.T) {
	t.Parallel()
	b := open(t, options{})
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg"} {
		v := b.visit("Robin")
		b.upload(v.ID, [2]string{name, readPhoto(t, name)})
		b.settled(v.ID)
	}
	_, page := b.get("/riders/1/compare?a=1&b=2")
	assert.Contains(t, page, say("en", "compare.agree"))
	assert.NotContains(t, page, "ISO", "no standard's number on a page")
	b.visit("Sasha")
	r, _ := b.get("/riders/1/compare?a=1&b=3")
	assert.Equal(t, 404, r.StatusCode, "another rider's visit")
	r, _ = b.form("/riders/1/delete", url.Values{"alias": {"somebody"}})
	assert.Equal(t, 422, r.StatusCode)
	_, page = b.form("/riders/1/delete", url.Values{"alias": {"Robin"}})
	assert.Contains(t, page, "2 visits, 2 measurements, 2 photos")
	r, _ = b.get("/visits/1/imprint")
	assert.Equal(t, 404, r.StatusCode)
}

func TestWhatWasTypedIsChecked(t *testing.T) {
	b := open(t, options{})
	b.visit("Robin")
	for field, text := range map[string]string{"mass": "heavy", "bike_trunk": "200", "bike_trunk_u": "-1",
		"bike_allowance": "1e9"} {
		values := url.Values{"version": {"2"}, "bike_name": {"x"}, "bike_use": {""}, "bike_trunk": {""},
			"bike_trunk_u": {""}, "bike_allowance": {""}, "bike_basis": {""}}
		if field == "bike_trunk_u" {
			values.Set("bike_trunk", "45")
		}
		values.Set(field, text)
		r, page := b.form("/visits/1", values)
		assert.Equal(t, 422, r.StatusCode, field)
		assert.Contains(t, page, "is needed", field)
		assert.Contains(t, page, text, "what was typed is not lost")
		assert.NotContains(t, page, " °", field)
	}
}

func TestDeadAndSlowChildrenCostOnePhoto(t *testing.T) {
	for mood, says := range map[string]string{"dies": "cv::Exception", "hangs": "without an answer"} {
		b := open(t, options{mood: mood})
		if mood == "hangs" { // one that dies is to be heard first, however busy the machine is
			b.queue.limit = 300 * time.Millisecond
		}
		b.visit("Robin")
		r, _ := b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
		assert.Equal(t, 200, r.StatusCode, "the photo is kept")
		s := b.settled(1)
		assert.Equal(t, record.Failed, s.Tiles[0].State, mood)
		assert.Contains(t, s.Tiles[0].Reasons[0].Message, says)
		r, _ = b.get("/visits/1/imprint")
		assert.Equal(t, 200, r.StatusCode, "the desk lives")
	}
}

func TestUnmeasuredPhotosAreTakenUpAgain(t *testing.T) {
	dir := t.TempDir()
	s, err := store.Open(dir, "")
	require.NoError(t, err)
	v, err := s.NewVisit(t.Context(), "Robin")
	require.NoError(t, err)
	_, err = s.AddPhoto(t.Context(), v.ID, "a.jpg", "phone", ".jpg",
		strings.NewReader(readPhoto(t, "foam-window.jpg")), 1<<30)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	b := open(t, options{dir: dir})
	assert.Equal(t, record.Measured, b.settled(1).Tiles[0].State)
}

// Every text that a page names is there; words' own tests hold that each is
// there in all languages.
func TestPagesHaveTheirWords(t *testing.T) {
	used := map[string]bool{}
	entries, err := files.ReadDir("pages")
	require.NoError(t, err)
	for _, e := range entries {
		text, err := files.ReadFile("pages/" + e.Name())
		require.NoError(t, err)
		for _, part := range strings.Split(string(text), `t "`)[1:] {
			key, _, _ := strings.Cut(part, `"`)
			used["desk."+key] = true
		}
	}
	require.Greater(t, len(used), 100)
	all := words.Keys(words.English)
	for key := range used {
		if strings.HasSuffix(key, ".") { // the beginning of keys that are put together
			family := slices.DeleteFunc(slices.Clone(all), func(k string) bool { return !strings.HasPrefix(k, key) })
			assert.Greater(t, len(family), 1, key)
			continue
		}
		assert.Contains(t, all, key)
	}
	for _, code := range review.FaultCodes() {
		assert.Contains(t, all, "desk.move."+code)
	}
}

// What stands on a counter's screen needs no manual: no flag, no command, no
// standard's number.
func TestScreensSpeakPlainly(t *testing.T) {
	foreign := regexp.MustCompile(notForTheCounter.String() + `|--[a-z]|\b(DIN|GUM|JSON)\b`)
	for _, lang := range words.Langs() {
		for _, key := range words.Keys(lang) {
			family, _, _ := strings.Cut(key, ".")
			if key == "reason.changed.do" { // an audit's, which no page of the desk shows
				continue
			}
			if slices.Contains([]string{"desk", "note", "reason", "warning", "influence", "term"}, family) {
				assert.NotRegexp(t, foreign, lang.Text(key), "%s: %s", lang, key)
			}
		}
	}
}

func TestTrunkAngle(t *testing.T) {
	for name, c := range map[string]struct {
		s   sidePhoto
		deg float64
	}{
		"forward right": {sidePhoto{Rear: [2]float64{0, 500}, Front: [2]float64{500, 500},
			Hip: [2]float64{200, 300}, Shoulder: [2]float64{400, 100}}, 45},
		"forward left": {sidePhoto{Rear: [2]float64{500, 500}, Front: [2]float64{0, 500},
			Hip: [2]float64{300, 300}, Shoulder: [2]float64{100, 100}}, 45},
		"camera turned": {sidePhoto{Rear: [2]float64{0, 500}, Front: [2]float64{500, 0}, Hip: [2]float64{0, 300},
			Shoulder: [2]float64{0, 100}}, 45},
		"upright": {sidePhoto{Rear: [2]float64{0, 500}, Front: [2]float64{500, 500},
			Hip: [2]float64{200, 300}, Shoulder: [2]float64{200, 50}}, 90},
	} {
		deg, u, err := c.s.trunk()
		require.NoError(t, err, name)
		assert.InDelta(t, c.deg, deg, 1e-9, name)
		assert.Greater(t, u, 1.5, name)
	}
	_, _, err := sidePhoto{}.trunk()
	assert.Error(t, err)
	_, _, err = sidePhoto{Rear: [2]float64{0, 0}, Front: [2]float64{500, 0}, Hip: [2]float64{300, 0},
		Shoulder: [2]float64{100, 10}}.trunk()
	assert.Error(t, err, "a rider who looks backward")
	b := open(t, options{})
	r, out := b.script("/trunk", sidePhoto{Rear: [2]float64{0, 500}, Front: [2]float64{500, 500},
		Hip: [2]float64{200, 300}, Shoulder: [2]float64{400, 100}})
	require.Equal(t, 200, r.StatusCode)
	assert.Equal(t, "45", out["deg"])
}

func TestRecordsOfTheDeskAreRecords(t *testing.T) {
	t.Parallel()
	b := open(t, options{mood: "dies"})
	b.visit("Robin")
	b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	k, err := b.store.Record(t.Context(), b.settled(1).Tiles[0].Record)
	require.NoError(t, err)
	text, err := json.Marshal(k.Record)
	require.NoError(t, err)
	_, err = record.Parse(text)
	assert.NoError(t, err)
	assert.False(t, bytes.Contains(text, []byte(b.store.Dir())), "no path of this computer")
}
