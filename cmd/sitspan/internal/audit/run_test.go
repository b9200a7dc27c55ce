package audit

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/report"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/worker"
)

// poisonedFolder holds one of everything that an archive may hold.
func poisonedFolder(t *testing.T) string {
	unixOnly(t)
	dir := t.TempDir()
	for i := range 12 {
		put(t, dir, fmt.Sprintf("2019/scan%02d.jpg", i), measured(i, 100+4*float64(i)))
	}
	put(t, dir, "copy/of-three.jpg", measured(3, 112)) // the same bytes
	again := measured(5, 120.2)
	again.Pad, again.U = []string{"saved again"}, 1.5
	put(t, dir, "copy/five.png", again)
	like := measured(6, 124)
	like.Pad, like.Shift = []string{"another imprint, much alike"}, 20
	put(t, dir, "2020/like-six.jpg", like)
	put(t, dir, "2020/unsure.jpg", fakePhoto{Status: record.Review, Spacing: 130, U: 6, Code: "one_dent"})
	put(t, dir, "2020/blurred.jpg", fakePhoto{Status: record.Refused, Code: "blurred"})
	put(t, dir, "2020/crash.jpg", fakePhoto{Act: "crash"})
	put(t, dir, "2020/hang.jpg", fakePhoto{Act: "hang"})
	putText(t, dir, "2020/text.jpg", "not a picture")
	putText(t, dir, "2020/empty.jpg", "")
	putText(t, dir, "notes.txt", "not a picture")
	putText(t, dir, "2020/line\nbreak\xff.txt", "some words")
	huge, err := os.Create(filepath.Join(dir, "huge.tif"))
	require.NoError(t, err)
	require.NoError(t, huge.Truncate(1<<33)) // sparse
	require.NoError(t, huge.Close())
	require.NoError(t, syscall.Mkfifo(filepath.Join(dir, "pipe.jpg"), 0o644))
	for link, to := range map[string]string{"loop.jpg": "loop.jpg", "up": ".", "gone.jpg": "nowhere.jpg",
		"linked.jpg": "2019/scan01.jpg"} {
		require.NoError(t, os.Symlink(to, filepath.Join(dir, link)))
	}
	return dir
}

func poisonedPlan(folder, out string) Plan {
	p := fakePlan(folder, out)
	p.Bench.NewHand = fakeHand(3*time.Second, worker.Settings{})
	return p
}

func TestEveryFileIsOneRow(t *testing.T) {
	dir, out := poisonedFolder(t), filepath.Join(t.TempDir(), "out")
	a, err := Run(context.Background(), poisonedPlan(dir, out))
	require.NoError(t, err)
	rows := rowsIn(t, out)
	for file, want := range map[string][2]string{ // status, code or why
		"2019/scan00.jpg":          {record.Measured, ""},
		"2020/like-six.jpg":        {record.Measured, ""},
		"copy/of-three.jpg":        {archive.Duplicate, archive.SameContent},
		"copy/five.png":            {archive.Duplicate, archive.SavedAgain},
		"linked.jpg":               {archive.Duplicate, archive.SameContent},
		"2020/unsure.jpg":          {record.Review, "one_dent"},
		"2020/blurred.jpg":         {record.Refused, "blurred"},
		"2020/crash.jpg":           {record.Failed, "lost"},
		"2020/hang.jpg":            {record.Failed, "lost"},
		"2020/text.jpg":            {record.Failed, "not_a_photo"},
		"2020/empty.jpg":           {record.Failed, "not_a_photo"},
		"huge.tif":                 {record.Failed, "too_large"},
		"pipe.jpg":                 {record.Failed, "unreadable"},
		"loop.jpg":                 {record.Failed, "link_loop"},
		"gone.jpg":                 {record.Failed, "broken_link"},
		"up":                       {archive.Ignored, "link_to_folder"},
		"notes.txt":                {archive.Ignored, "not_a_photo"},
		`2020/line\nbreak\xff.txt`: {archive.Ignored, "not_a_photo"},
	} {
		row := rowOf(t, rows, file)
		assert.Equal(t, want[0], row.Status, file)
		assert.Equal(t, want[1], row.Code+row.By, file)
	}
	assert.Contains(t, rowOf(t, rows, "2020/crash.jpg").Reason, "cv::Exception")
	assert.Contains(t, rowOf(t, rows, "2020/hang.jpg").Reason, "without an answer")
	tally := a.Statistics.Tally
	assert.Equal(
		t, report.Tally{Files: 29, Measured: 13, Review: 1, Refused: 1, Failed: 8, Duplicates: 3, Ignored: 3},
		tally,
	)
	assert.True(t, tally.Closes())
}

// A text beside the pictures is no failure while the run tells how far it is, no more than in the tally.
func TestProgressCountsNoTextAsAFailure(t *testing.T) {
	dir, out := poisonedFolder(t), filepath.Join(t.TempDir(), "out")
	p := poisonedPlan(dir, out)
	var measuring archive.Progress
	p.Watch = func(g archive.Progress) {
		if g.Stage == "measuring" {
			measuring = g
		}
	}
	_, err := Run(context.Background(), p)
	require.NoError(t, err)
	first := measuring
	assert.Equal(t, 1, first.Ignored, "two texts of one content; a link to a folder has none")
	p.Resume, measuring = true, archive.Progress{}
	_, err = Run(context.Background(), p)
	require.NoError(t, err)
	assert.Equal(t, first, measuring, "as the journal of the first run has it")
}

// Everything that a row names is there, and a file whose content is another's
// has no record of its own.
func TestRecordsAndOverlaysAreThere(t *testing.T) {
	dir, out := poisonedFolder(t), filepath.Join(t.TempDir(), "out")
	_, err := Run(context.Background(), poisonedPlan(dir, out))
	require.NoError(t, err)
	rows := rowsIn(t, out)
	for _, r := range rows {
		rec, err := record.Load(filepath.Join(out, r.Record))
		require.NoError(t, err, r.File)
		if r.Spacing != nil {
			assert.InDelta(t, *rec.Measurement.Spacing, *r.Spacing, 0.0005, r.File) // a row has thousandths
			assert.FileExists(t, filepath.Join(out, r.Overlay))
		}
	}
	assert.Equal(t, rowOf(t, rows, "2019/scan03.jpg").Record, rowOf(t, rows, "copy/of-three.jpg").Record)
}

// files that must be the same bytes whatever the workers, the order or the kills.
var lasting = []string{"rows.csv", "rows.jsonl", "statistics.json", "files.jsonl"}

func assertSameResults(t *testing.T, want, got string) {
	t.Helper()
	for _, name := range lasting {
		a, err := os.ReadFile(filepath.Join(want, name))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(got, name))
		require.NoError(t, err)
		assert.NotEmpty(t, a)
		assert.Equal(t, string(a), string(b), name)
	}
}

func TestNumberOfWorkersDoesNotShow(t *testing.T) {
	dir, one, three := poisonedFolder(
		t,
	), filepath.Join(
		t.TempDir(), "one",
	), filepath.Join(
		t.TempDir(), "three",
	)
	p := poisonedPlan(dir, one)
	p.Bench.Workers = 1
	_, err := Run(context.Background(), p)
	require.NoError(t, err)
	p.Out, p.Bench.Workers = three, 3
	_, err = Run(context.Background(), p)
	require.NoError(t, err)
	assertSameResults(t, one, three)
}

// cleanFolder has nothing that costs time.
func cleanFolder(t *testing.T, n int) string {
	dir := t.TempDir()
	for i := range n {
		p := measured(i, 90+float64(i))
		p.Act = "slow"
		put(t, dir, fmt.Sprintf("%02d.jpg", i), p)
	}
	return dir
}

func TestStoppedAndResumed(t *testing.T) {
	dir, whole, out := cleanFolder(
		t, 20,
	), filepath.Join(
		t.TempDir(), "whole",
	), filepath.Join(
		t.TempDir(), "out",
	)
	_, err := Run(context.Background(), fakePlan(dir, whole))
	require.NoError(t, err)

	ctx, stop := context.WithCancel(context.Background())
	p := fakePlan(dir, out)
	p.Watch = func(g archive.Progress) {
		if g.Stage == "measuring" && g.Done == 7 {
			stop()
		}
	}
	_, err = Run(ctx, p)
	var stopped *archive.Interrupted
	require.ErrorAs(t, err, &stopped)
	assert.GreaterOrEqual(t, stopped.Done, 7)
	assert.LessOrEqual(t, stopped.Done, 7+p.Bench.Workers, "what was in hand is finished, no more is begun")
	assert.Equal(t, stopped.Done, journalLines(t, out), "and kept")
	assert.NoFileExists(t, filepath.Join(out, "report.html"))

	// A kill may cut the journal's last line short.
	f, err := os.OpenFile(filepath.Join(out, "journal.jsonl"), os.O_APPEND|os.O_WRONLY, 0o644)
	require.NoError(t, err)
	_, err = f.WriteString(`{"sha256":"ab`)
	require.NoError(t, err)
	require.NoError(t, f.Close())

	p = fakePlan(dir, out)
	_, err = Run(context.Background(), p)
	require.ErrorIs(t, err, archive.ErrThere)
	p.Resume = true
	first := -1
	p.Watch = func(g archive.Progress) {
		if g.Stage == "measuring" && first < 0 {
			first = g.Done
		}
	}
	_, err = Run(context.Background(), p)
	require.NoError(t, err)
	assert.Equal(t, stopped.Done, first, "what is done is not measured again")
	assert.Equal(t, 20, journalLines(t, out))
	assertSameResults(t, whole, out)
}

func journalLines(t *testing.T, out string) int {
	data, err := os.ReadFile(filepath.Join(out, "journal.jsonl"))
	require.NoError(t, err)
	return bytes.Count(data, []byte("\n"))
}

func TestResumeMeasuresAgainWhatChanged(t *testing.T) {
	dir, out := cleanFolder(t, 6), filepath.Join(t.TempDir(), "out")
	p := fakePlan(dir, out)
	again := func() (fresh int) {
		p.Resume = true
		first := -1
		p.Watch = func(g archive.Progress) {
			if g.Stage == "measuring" && first < 0 {
				first = g.Done
			}
		}
		_, err := Run(context.Background(), p)
		require.NoError(t, err)
		return 6 - first
	}
	assert.Equal(t, 6, again())
	assert.Equal(t, 0, again(), "nothing changed")
	put(t, dir, "03.jpg", measured(33, 111))
	assert.Equal(t, 1, again(), "a file")
	require.NoError(t, os.Remove(filepath.Join(out, archive.OverlayPath(recordNameOf(t, dir, "04.jpg")))))
	assert.Equal(t, 1, again(), "an overlay is gone")
	p.Identity.Settings = json.RawMessage(`{"medium": "paper"}`)
	assert.Equal(t, 6, again(), "the settings")
	p.Identity.Version = "test-2"
	assert.Equal(t, 6, again(), "the version")
	p.Bench.Workers = 1
	assert.Equal(t, 0, again(), "the workers are no setting")
}

func recordNameOf(t *testing.T, dir, file string) string {
	data, err := os.ReadFile(filepath.Join(dir, file))
	require.NoError(t, err)
	sum := sha256.Sum256(data)
	return archive.RecordName(file, hex.EncodeToString(sum[:]))
}

// A reviewer's word on a picture holds, and survives a new version.
func TestReviewsAreKept(t *testing.T) {
	dir, out := cleanFolder(t, 3), filepath.Join(t.TempDir(), "out")
	p := fakePlan(dir, out)
	_, err := Run(context.Background(), p)
	require.NoError(t, err)
	first := rowsIn(t, out)[0]
	name := strings.TrimSuffix(filepath.Base(first.Record), ".json")
	rec, err := record.Load(filepath.Join(out, first.Record))
	require.NoError(t, err)
	m := rec.Measurement
	moved := 99.5
	m.Spacing = &moved
	rec.Reviews = append(rec.Reviews, record.Revision{Reviewer: "Ada", Measurement: m})
	_, err = record.Save(filepath.Join(out, "records"), name, rec)
	require.NoError(t, err)
	for _, version := range []string{"test", "test-2"} {
		p.Resume, p.Identity.Version = true, version
		_, err = Run(context.Background(), p)
		require.NoError(t, err)
		first := rowsIn(t, out)[0]
		assert.Equal(t, 99.5, *first.Spacing)
		assert.Equal(t, "Ada", first.Reviewer)
	}
}

func TestRunRefuses(t *testing.T) {
	dir := cleanFolder(t, 2)
	full := t.TempDir()
	putText(t, full, "holiday.txt", "mine")
	wood := fakePlan(dir, filepath.Join(t.TempDir(), "out"))
	wood.Bench.NewHand = fakeHand(time.Minute, worker.Settings{Medium: "wood"})
	for name, c := range map[string]struct {
		plan Plan
		want string
	}{
		"results into the folder itself": {fakePlan(dir, dir), "needed: another one"},
		"a folder that is in use":        {fakePlan(dir, full), "holds other files"},
		"no folder": {fakePlan(filepath.Join(dir, "none"), filepath.Join(t.TempDir(), "out")),
			"cannot be listed"},
		"settings that no worker takes": {wood, "nobody sits on wood"},
	} {
		_, err := Run(context.Background(), c.plan)
		assert.ErrorContains(t, err, c.want, name)
	}
}

func TestShardsJoinedAreTheWhole(t *testing.T) {
	dir, whole := poisonedFolder(t), filepath.Join(t.TempDir(), "whole")
	readings := "file,spacing_mm,rider,trunk_deg,width_sold_mm,date,fitter\n"
	for i := range 12 {
		readings += fmt.Sprintf(
			"2019/scan%02d.jpg,%d,rider %d,45,%d,2019-0%d-11,%s\n", i, 103+4*i+i%3, i/2, 120+4*i, 1+i%9,
			[]string{"A", "B"}[i%2],
		)
	}
	r, err := statistics.ReadReadings(strings.NewReader(readings), "cards.csv")
	require.NoError(t, err)
	p := poisonedPlan(dir, whole)
	p.Review.Readings = r
	a, err := Run(context.Background(), p)
	require.NoError(t, err)
	require.NotNil(t, a.Statistics.All)

	var dirs []string
	const of = 3
	for n := range of {
		out := filepath.Join(t.TempDir(), "shard")
		p := poisonedPlan(dir, out)
		p.Shard = archive.Shard{Number: n + 1, Of: of}
		part, err := Run(context.Background(), p)
		require.NoError(t, err)
		assert.Less(t, part.Statistics.Tally.Files, a.Statistics.Tally.Files)
		dirs = append(dirs, out)
	}
	three, copyOf := shardOf("2019/scan03.jpg", of), shardOf("copy/of-three.jpg", of)
	require.NotEqual(t, three, copyOf, "the copy is in another shard, or the test proves nothing")

	joined := filepath.Join(t.TempDir(), "joined")
	_, err = Merge(context.Background(), []string{dirs[2], dirs[0], dirs[1]}, joined, p.Review)
	require.NoError(t, err)
	assertSameResults(t, whole, joined)
	for _, out := range append(dirs, whole, joined) {
		assert.NoDirExists(t, filepath.Join(out, ".sorting"))
	}

	// A shard that is not finished is told before anything is written.
	unfinished := filepath.Join(t.TempDir(), "out")
	require.NoError(t, os.Rename(filepath.Join(dirs[1], "journal.jsonl"), filepath.Join(dirs[1], "kept")))
	putText(t, dirs[1], "journal.jsonl", "")
	_, err = Merge(context.Background(), dirs, unfinished, p.Review)
	require.ErrorContains(t, err, "is not measured yet; finish that shard by --resume")
	assert.NoDirExists(t, unfinished)
	require.NoError(t, os.Remove(filepath.Join(dirs[1], "journal.jsonl")))
	_, err = Merge(context.Background(), dirs, unfinished, p.Review)
	require.ErrorContains(t, err, "its files are not listed yet; finish that shard by --resume")
	require.NoError(t, os.Rename(filepath.Join(dirs[1], "kept"), filepath.Join(dirs[1], "journal.jsonl")))

	for name, c := range map[string]struct {
		dirs []string
		want string
	}{
		"one missing": {dirs[:2], "shard 3/3 is missing"},
		"one twice":   {[]string{dirs[0], dirs[0]}, "both hold shard 1/3"},
		"no audit":    {[]string{dir}, "holds no audit"},
		"the whole":   {[]string{dirs[0], whole}, "needed: shards of one audit"},
	} {
		_, err := Merge(context.Background(), c.dirs, filepath.Join(t.TempDir(), "out"), p.Review)
		assert.ErrorContains(t, err, c.want, name)
	}
}

func shardOf(path string, of int) int {
	for n := 1; n <= of; n++ {
		if (archive.Shard{Number: n, Of: of}).Holds(path) {
			return n
		}
	}
	return 0
}

// Of a picture saved again, the file that was read counts, and copies of either
// name it.
func TestTheFileThatWasReadCounts(t *testing.T) {
	dir := t.TempDir()
	for name, u := range map[string]float64{"original.jpg": 1.5, "copy-of-original.jpg": 1.5, "again.jpg": 1.1} {
		p := measured(1, 120)
		p.U = u
		put(t, dir, name, p)
	}
	for readings, want := range map[string]string{"": "again.jpg",
		"file,spacing_mm\noriginal.jpg,121\n": "original.jpg"} {
		p := fakePlan(dir, filepath.Join(t.TempDir(), "out"))
		if readings != "" {
			var err error
			p.Review.Readings, err = statistics.ReadReadings(strings.NewReader(readings), "cards.csv")
			require.NoError(t, err)
		}
		a, err := Run(context.Background(), p)
		require.NoError(t, err)
		for _, r := range rowsIn(t, p.Out) {
			if r.Status == archive.Duplicate {
				assert.Equal(t, want, r.Of, r.File)
			} else {
				assert.Equal(t, want, r.File)
			}
		}
		assert.Equal(t, 2, a.Statistics.Tally.Duplicates)
	}
}

// An umlaut may be one sign or two; a reading finds its file either way.
func TestReadingsFindNamesInEitherForm(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "Mu\u0308ller.jpg", measured(1, 120))
	put(t, dir, "J\u00f6rg.jpg", measured(2, 130))
	p := fakePlan(dir, filepath.Join(t.TempDir(), "out"))
	var err error
	p.Review.Readings, err = statistics.ReadReadings(
		strings.NewReader("file;spacing_mm\nM\u00fcller.jpg;121,5\nJo\u0308rg.jpg;132\n"), "cards.csv",
	)
	require.NoError(t, err)
	a, err := Run(context.Background(), p)
	require.NoError(t, err)
	assert.Empty(t, a.Readings.Faults)
	assert.Equal(t, 2, a.Statistics.Readings.Compared)
}
