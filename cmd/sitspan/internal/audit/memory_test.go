package audit

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"runtime/metrics"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/worker"
)

// mostBytesAFile is what a file may add to the memory of the audit's own process:
// 300 MB are allowed, the program without files takes 40 MB, and two million
// files must fit into the rest.
const mostBytesAFile = (300e6 - 40e6) / 2e6

// mostBytesAReading is likewise for a reading, of which statistics.MostReadings are
// taken: 40 MB are left for the tables, and a fifth more than what is in use for
// garbage, as the program asks for.
const mostBytesAReading = (300e6 - 40e6 - 40e6) / 1.2 / statistics.MostReadings

// The audit's own process, measured on stand-ins that were "measured before": the
// walk, the hashes, the journal, duplicates, rows and report. The table that lies
// in memory is small here, so that small folders show what large ones do.
// SITSPAN_AUDIT_FILES sets other sizes, such as 20000,200000, with tables as a
// shop's; both must be well above archive.HeldLooks.
func TestMemoryDoesNotGrowWithTheFiles(t *testing.T) {
	sizes := []int{1000, 3000}
	if given := os.Getenv("SITSPAN_AUDIT_FILES"); given != "" {
		_, err := fmt.Sscanf(given, "%d,%d", &sizes[0], &sizes[1])
		require.NoError(t, err)
	} else {
		holdFew(t, 100)
	}
	for _, c := range []struct {
		name    string
		prepare func(t *testing.T, n int) (run func(watch func(archive.Progress)) error)
		most    float64 // bytes a file
	}{
		{"run", storedRun, mostBytesAFile},
		{"merge", storedMerge, mostBytesAFile},
		{"readings", storedReadings, mostBytesAReading},
	} {
		t.Run(c.name, func(t *testing.T) {
			var peaks []float64
			for _, n := range sizes {
				before := liveHeap()
				run := c.prepare(t, n)
				begun := time.Now()
				var peak float64
				require.NoError(t, run(func(p archive.Progress) {
					if p.Done%(n/20) == 0 {
						peak = max(peak, liveHeap()-before)
					}
				}))
				peaks = append(peaks, peak)
				t.Logf(
					"%d files: %.1f MB of heap at most, in %.1f s; the whole process at most %.0f MB", n,
					peak/1e6, time.Since(begun).Seconds(), residentMB(),
				)
			}
			growth := (peaks[1] - peaks[0]) / float64(sizes[1]-sizes[0])
			t.Logf("%.1f B a file", growth)
			assert.Less(t, growth, c.most)
		})
	}
}

// storedRun goes over a folder again of which everything is measured.
func storedRun(t *testing.T, n int) func(func(archive.Progress)) error {
	p := fakePlan(t.TempDir(), filepath.Join(t.TempDir(), "out"))
	p.Resume = true
	s := store(t, p.Out, archive.Shard{Number: 1, Of: 1}, n)
	for i := range n {
		putText(t, p.Folder, s.name(i), s.text(i))
	}
	return func(watch func(archive.Progress)) error {
		p.Watch = watch
		_, err := Run(context.Background(), p)
		return err
	}
}

// storedMerge joins three shards.
func storedMerge(t *testing.T, n int) func(func(archive.Progress)) error {
	var dirs []string
	for i := range 3 {
		dirs = append(dirs, filepath.Join(t.TempDir(), "shard"))
		store(t, dirs[i], archive.Shard{Number: i + 1, Of: 3}, n)
	}
	out := filepath.Join(t.TempDir(), "out")
	return func(watch func(archive.Progress)) error {
		v := fakePlan("", "").Review
		v.Watch = watch
		_, err := Merge(context.Background(), dirs, out, v)
		return err
	}
}

// storedReadings explains a folder each file of which has a reading.
func storedReadings(t *testing.T, n int) func(func(archive.Progress)) error {
	r := archive.Results{Dir: filepath.Join(t.TempDir(), "out")}
	s := store(t, r.Dir, archive.Shard{Number: 1, Of: 1}, n)
	v := fakePlan("", "").Review
	rows := []byte("file,spacing_mm,rider,width_sold_mm,date,fitter\n")
	for i := range n {
		rows = fmt.Appendf(
			rows, "%s,%.1f,R-%d,%d,20%d-05-04,F%d\n", s.name(i), s.photo(i).Spacing+2, i/2, 130+i%60, 10+i%9,
			i%5,
		)
	}
	var err error
	v.Readings, err = statistics.ReadReadings(bytes.NewReader(rows), "cards.csv")
	require.NoError(t, err)
	return func(watch func(archive.Progress)) error {
		spilled, err := archive.NewScratch(r)
		if err != nil {
			return err
		}
		defer spilled.Remove()
		v.Watch = watch
		_, err = v.write(r, spilled, archive.Identity{Shard: "1/1"})
		return err
	}
}

// holdFew makes the table small that lies in memory.
func holdFew(t *testing.T, n int) {
	looks := archive.HeldLooks
	archive.HeldLooks = n
	t.Cleanup(func() { archive.HeldLooks = looks })
}

// liveHeap is the heap in bytes that is in use, without garbage. What runs beside
// it would be counted too, so it is asked where the audit waits.
func liveHeap() float64 {
	m := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	runtime.GC()
	metrics.Read(m)
	return float64(m[0].Value.Uint64())
}

// residentMB is the most memory that this process had, where the system tells.
func residentMB() float64 {
	data, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	found := regexp.MustCompile(`VmHWM:\s*(\d+) kB`).FindSubmatch(data)
	if found == nil {
		return 0
	}
	kB, err := strconv.ParseFloat(string(found[1]), 64)
	if err != nil {
		return 0
	}
	return kB / 1000
}

// stored are results as an audit of n stand-ins leaves them before it explains:
// one in fifty is a copy of another, one in fifty another one saved again. Those
// of the same numbers share a record, since writing it takes longest.
type stored struct{}

func (stored) name(i int) string { return fmt.Sprintf("%05d/scan-%07d.jpg", i/500, i) }

// of is the file that a copy is of.
func (stored) of(i int) int {
	if i%50 == 7 {
		return i / 2
	}
	return i
}

func (s stored) text(i int) string {
	if k := s.of(i); k != i {
		return s.text(k)
	}
	return fmt.Sprintf("stand-in %d", i)
}

func (s stored) photo(i int) fakePhoto {
	if i%50 == 13 {
		p := s.photo(i - 13)
		p.Shift = 0.1
		return p
	}
	return measured(i, 80+float64(i*7%100)/2)
}

// store writes the results of a shard into out.
func store(t *testing.T, out string, shard archive.Shard, n int) (s stored) {
	t.Helper()
	r := archive.Results{Dir: out}
	unlock, err := r.Open(false)
	require.NoError(t, err)
	defer unlock()
	id := fakePlan("", "").identity()
	id.Folder, id.Shard = "folder", shard.String()
	require.NoError(t, r.WriteIdentity(id))
	require.NoError(t, archive.WriteLines(r, "files.jsonl", s.entries(shard, n)))
	require.NoError(t, archive.WriteLines(r, "journal.jsonl", func(yield func(archive.Done, error) bool) {
		seen := map[string]bool{}
		for e, err := range s.entries(shard, n) {
			if err == nil && seen[e.SHA256] {
				continue
			}
			seen[e.SHA256] = true
			i, err := strconv.Atoi(strings.TrimSuffix(e.Path[strings.LastIndex(e.Path, "-")+1:], ".jpg"))
			p := s.photo(s.of(i))
			d := archive.Done{
				SHA256:      e.SHA256,
				Key:         id.Key(),
				Status:      record.Measured,
				Record:      fmt.Sprint(p.Spacing, p.Shift),
				Fingerprint: p.Print,
				Seconds:     1,
			}
			if err == nil {
				err = s.record(r, d.Record, p)
			}
			if err == nil && shard.Of > 1 { // what is joined has a name of its own
				one := r.Path(archive.RecordPath(d.Record))
				d.Record = archive.RecordName(e.Path, e.SHA256)
				err = os.Link(one, r.Path(archive.RecordPath(d.Record)))
			}
			if !yield(d, err) {
				return
			}
		}
	}))
	return s
}

// record writes a record unless it is there.
func (stored) record(r archive.Results, name string, p fakePhoto) error {
	if r.Has(archive.RecordPath(name)) {
		return nil
	}
	data, err := json.Marshal(fakeRecord(worker.Job{Path: []byte(name)}, nil, p))
	if err != nil {
		return err
	}
	return os.WriteFile(r.Path(archive.RecordPath(name)), data, 0o644)
}

func (s stored) entries(shard archive.Shard, n int) iter.Seq2[archive.Entry, error] {
	return func(yield func(archive.Entry, error) bool) {
		for i := range n {
			e := archive.Entry{Path: s.name(i), SHA256: hashOf(s.text(i)), Size: int64(len(s.text(i)))}
			if shard.Holds(e.Path) && !yield(e, nil) {
				return
			}
		}
	}
}

func hashOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}
