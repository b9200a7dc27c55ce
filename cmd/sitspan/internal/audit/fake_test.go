package audit

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"iter"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/report"
	"sitspan/cmd/sitspan/internal/fingerprint"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/worker"
	"sitspan/fit"
	"sitspan/imprint/photo"
)

// The tests' photos are files of JSON, and the measuring process is this test
// program: it finds in a photo what the photo says.
type fakePhoto struct {
	Status  string   `json:"status"`
	Spacing float64  `json:"spacing"`
	U       float64  `json:"u"`
	Code    string   `json:"code"`
	Print   string   `json:"print"`
	Shift   float64  `json:"shift"`  // of both centres, px
	Shared  float64  `json:"shared"` // contribution of the resolution, mm
	Act     string   `json:"act"`    // "crash", "hang" or "slow"
	Pad     []string `json:"pad"`    // makes contents differ
}

const fakeWorker = "AUDIT_TEST_WORKER"

func TestMain(m *testing.M) {
	if os.Getenv(fakeWorker) != "" {
		if err := worker.Serve(os.Stdin, os.Stdout, openFake); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func openFake(s worker.Settings) (worker.Measurer, error) {
	if s.Medium == "wood" {
		return nil, fmt.Errorf("nobody sits on %s", s.Medium)
	}
	return func(job worker.Job) worker.Answer {
		data, err := os.ReadFile(string(job.Path))
		if err != nil {
			return worker.Answer{Record: failedFake(job, "unreadable", err.Error())}
		}
		return fakeAnswer(job, data)
	}, nil
}

func fakeAnswer(job worker.Job, data []byte) worker.Answer {
	if bytes.HasPrefix(data, []byte("II*\x00")) {
		return fakePage(job, data)
	}
	var p fakePhoto
	if json.Unmarshal(data, &p) != nil {
		return worker.Answer{Record: failedFake(job, "not_a_photo", "the file holds text, not a picture")}
	}
	switch p.Act {
	case "crash":
		fmt.Fprintln(os.Stderr, "terminate called after throwing an instance of 'cv::Exception'")
		os.Exit(134)
	case "hang":
		time.Sleep(time.Hour)
	case "slow":
		time.Sleep(30 * time.Millisecond)
	case "undrawn":
		if _, err := os.Stat(filepath.Join(filepath.Dir(string(job.Path)), "there is space")); err != nil {
			return worker.Answer{
				Record:       fakeRecord(job, data, p),
				Fingerprint:  p.Print,
				OverlayError: "no space left",
			}
		}
	}
	leavePictures(job)
	return worker.Answer{
		Record:        fakeRecord(job, data, p),
		Fingerprint:   p.Print,
		Seconds:       0.5,
		DecodeSeconds: 0.1,
	}
}

func leavePictures(job worker.Job) {
	for _, path := range []string{job.Overlay, job.Thumbnail} {
		if err := os.WriteFile(path, []byte("picture"), 0o644); err != nil {
			panic(err)
		}
	}
}

// fakePage measures a page of a TIFF as 100 mm and its number.
func fakePage(job worker.Job, data []byte) worker.Answer {
	page := max(1, job.Page)
	a := worker.Answer{
		Record: fakeRecord(
			job, data, fakePhoto{Status: record.Measured, Spacing: 100 + float64(page), U: 1.2},
		),
	}
	if page > 1 {
		sum := photo.PageSHA256(sha256.Sum256(data), page)
		a.Record.Photos[0].SHA256 = hex.EncodeToString(sum[:])
	}
	leavePictures(job)
	return a
}

// failedFake is the record of a file that is no photo.
func failedFake(job worker.Job, code, seen string) record.Record {
	return record.Record{
		Schema: record.Schema, Tool: "sitspan", Version: "test", MadeAt: time.Now(), Photos: []record.Photo{},
		Measurement: record.Measurement{
			Photo: filepath.Base(
				string(job.Path),
			), Status: record.Failed, Coverage: 0.95, Budget: []record.BudgetLine{},
			Reasons: []record.Reason{{Code: code, Message: seen, Hint: "choose the photo itself"}},
		},
	}
}

func fakeRecord(job worker.Job, data []byte, p fakePhoto) record.Record {
	sum := sha256.Sum256(data)
	m := record.Measurement{
		Photo:       filepath.Base(string(job.Path)),
		Status:      p.Status,
		Coverage:    0.95,
		ScaleSource: "resolution",
		Medium:      "paper",
		Budget:      []record.BudgetLine{},
	}
	if p.Code != "" {
		m.Reasons = []record.Reason{
			{Code: p.Code, Message: "what was seen (needed: another)", Hint: "do better"},
		}
	}
	if p.Spacing > 0 {
		k, left, right := 1.96, [2]float64{
			500 - 5*p.Spacing/2 + p.Shift,
			380,
		}, [2]float64{
			500 + 5*p.Spacing/2 + p.Shift,
			372,
		}
		m.Spacing, m.U, m.CoverageFactor, m.LeftPx, m.RightPx = &p.Spacing, &p.U, &k, &left, &right
		m.Budget = append(
			m.Budget, record.BudgetLine{Source: "centres", U: p.U / k},
			record.BudgetLine{Code: "scan_resolution", U: p.Shared},
		)
	}
	return record.Record{
		Schema: record.Schema, Tool: "sitspan", Version: "test", MadeAt: time.Now(), Measurement: m,
		Photos: []record.Photo{{Name: m.Photo, SHA256: hex.EncodeToString(sum[:]), Width: 1000, Height: 750}},
	}
}

// fakeHand is a hand whose child is this test program.
func fakeHand(limit time.Duration, s worker.Settings) func() *worker.Hand {
	return func() *worker.Hand {
		return &worker.Hand{Limit: limit, Settings: s, Command: func() *exec.Cmd {
			cmd := exec.Command(os.Args[0])
			cmd.Env = append(os.Environ(), fakeWorker+"=1")
			return cmd
		}}
	}
}

// fakePlan audits folder into out.
func fakePlan(folder, out string) Plan {
	return Plan{
		Folder: folder, Out: out, Identity: archive.Identity{Version: "test", Model: "none",
			Settings: json.RawMessage(`{"medium": ""}`)},
		Bench:  archive.Bench{Workers: 2, NewHand: fakeHand(20*time.Second, worker.Settings{})},
		Review: Review{Advisor: fit.DefaultAdvisor()},
	}
}

// put writes a photo into a folder.
func put(t *testing.T, folder, name string, p fakePhoto) {
	t.Helper()
	data, err := json.Marshal(p)
	require.NoError(t, err)
	putText(t, folder, name, string(data))
}

func putText(t *testing.T, folder, name, text string) {
	t.Helper()
	path := filepath.Join(folder, filepath.FromSlash(name))
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
}

// measured is a photo that can be measured; n makes its print and its content.
func measured(n int, spacing float64) fakePhoto {
	sum := sha256.Sum256(fmt.Append(nil, n))
	var p fingerprint.Print
	for i := range p {
		for k := range 8 {
			p[i] |= uint64(sum[8*i+k]) << (8 * k)
		}
	}
	return fakePhoto{
		Status:  record.Measured,
		Spacing: spacing,
		U:       1.2,
		Print:   p.String(),
		Shared:  0.3,
		Pad:     []string{fmt.Sprint(n)},
	}
}

// all gathers what is read a value at a time.
func all[T any](t *testing.T, values iter.Seq2[T, error]) (out []T) {
	t.Helper()
	for v, err := range values {
		require.NoError(t, err)
		out = append(out, v)
	}
	return out
}

// rowsIn are the rows of a folder of results.
func rowsIn(t *testing.T, out string) []report.Row {
	t.Helper()
	return all(t, archive.ReadLines[report.Row](archive.Results{Dir: out}, "rows.jsonl"))
}

func rowOf(t *testing.T, rows []report.Row, file string) report.Row {
	t.Helper()
	for _, r := range rows {
		if r.File == file {
			return r
		}
	}
	require.Fail(t, "there is no row of "+file)
	return report.Row{}
}

func unixOnly(t *testing.T) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("there are no pipes in folders")
	}
}
