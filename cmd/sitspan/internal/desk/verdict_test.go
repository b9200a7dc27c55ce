package desk

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// How long a phone may wait for "good, or take it again" after its upload, on a
// machine that has nothing else to do.
const (
	jpegVerdict = 2 * time.Second
	heicVerdict = 6 * time.Second
)

// TestLoadVerdict times what a phone waits for, a photo of 12 megapixels at a
// time: make load-desk. On a busy machine the processor time of the child is the
// figure to look at; two cores do the rest of the machine's work meanwhile.
func TestLoadVerdict(t *testing.T) {
	if os.Getenv("SITSPAN_LOAD") == "" {
		t.Skip("timings are of use on a quiet machine only: make load-desk")
	}
	b := open(t, options{withLAN: true})
	v := b.visit("Robin")
	phone, _ := pairWith(t, b, mayPhotograph)
	token := b.tokenOf(phone)
	jpeg := twelveMegapixels(t)
	for _, c := range []struct {
		name, file string
		content    []byte
		limit      time.Duration
	}{{"JPEG", "a.jpg", jpeg, jpegVerdict}, {"HEIC", "a.heic", asHEIC(t, jpeg), heicVerdict}} {
		var waits, work []time.Duration
		for i := range 7 {
			if c.content == nil {
				t.Log("HEIC: no heif-enc is installed (Debian: libheif-examples)")
				break
			}
			content := string(c.content) + fmt.Sprint(i) // behind the picture's end: another file, the same picture
			before := childTime(t)
			start := time.Now()
			id := b.sendByPhone(phone, token, c.file, content)
			for {
				r, err := phone.Get(fmt.Sprintf("%s/camera/photos/%d", b.lan, id))
				require.NoError(t, err)
				var said struct {
					State string
					Good  bool
				}
				require.NoError(t, json.NewDecoder(r.Body).Decode(&said))
				r.Body.Close()
				if said.State != "waiting" {
					assert.True(t, said.Good, "%s: %+v", c.name, said)
					break
				}
				time.Sleep(200 * time.Millisecond) // as the phone's page does
			}
			waits = append(waits, time.Since(start))
			b.settled(v.ID)
			work = append(work, childTime(t)-before)
		}
		if len(waits) == 0 {
			continue
		}
		slices.Sort(waits)
		slices.Sort(work)
		load, _ := os.ReadFile("/proc/loadavg") // Linux; empty elsewhere
		t.Logf("%s of %.1f MB: verdict after %s (median of %d, %s to %s); the child's processor time, drawing "+
			"included, %s; load %s", c.name, float64(len(c.content))/(1<<20),
			waits[len(waits)/2].Round(10*time.Millisecond), len(waits), waits[0].Round(10*time.Millisecond),
			waits[len(waits)-1].Round(10*time.Millisecond),
			work[len(work)/2].Round(10*time.Millisecond), bytes.TrimSpace(load))
		assert.Less(t, waits[len(waits)/2], c.limit, c.name)
	}
}

// childTime is the processor time of all children that have ended.
func childTime(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_CHILDREN, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// asHEIC makes a phone's HEIC of a JPEG; nil where nothing can.
func asHEIC(t *testing.T, jpeg []byte) []byte {
	t.Helper()
	path, err := exec.LookPath("heif-enc")
	if err != nil {
		return nil
	}
	dir := t.TempDir()
	from, to := filepath.Join(dir, "a.jpg"), filepath.Join(dir, "a.heic")
	require.NoError(t, os.WriteFile(from, jpeg, 0o600))
	out, err := exec.Command(path, "-q", "60", "-p", "preset=superfast", "-o", to, from).CombinedOutput()
	require.NoError(t, err, "%s", out)
	data, err := os.ReadFile(to)
	require.NoError(t, err)
	return data
}

// tokenOf is the token of a phone's page.
func (b *bench) tokenOf(phone *http.Client) string {
	b.t.Helper()
	r, err := phone.Get(b.lan + "/camera")
	require.NoError(b.t, err)
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	require.NoError(b.t, err)
	m := tokenIn.FindSubmatch(text)
	require.NotNil(b.t, m)
	return string(m[1])
}

// sendByPhone uploads a photo as a phone's page does, and gives its number.
func (b *bench) sendByPhone(phone *http.Client, token, name, content string) int64 {
	b.t.Helper()
	body, kind := upload(b.t, [2]string{name, content})
	r, err := http.NewRequest("POST", fmt.Sprintf("%s/camera/visits/%d/photos", b.lan, 1), body)
	require.NoError(b.t, err)
	r.Header.Set("Content-Type", kind)
	r.Header.Set(tokenHeader, token)
	answer, err := phone.Do(r)
	require.NoError(b.t, err)
	defer answer.Body.Close()
	var said struct{ Photos []received }
	require.NoError(b.t, json.NewDecoder(answer.Body).Decode(&said))
	require.Len(b.t, said.Photos, 1)
	require.Empty(b.t, said.Photos[0].Error)
	return said.Photos[0].ID
}
