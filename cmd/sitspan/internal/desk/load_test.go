package desk

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/draw"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/imprint/photo"
)

// What the desk must stand: make load-desk.
const (
	loadPhotos  = 50
	loadClients = 8
	loadMemory  = 1536 << 20 // bytes, the desk, its children and this test's clients together
)

// TestLoad sends 50 photos of 12 megapixels by 8 clients on the loopback
// address, and looks at the memory of this process, which is the desk and the
// clients, and of all its children meanwhile.
func TestLoad(t *testing.T) {
	if os.Getenv("SITSPAN_LOAD") == "" {
		t.Skip("a load test of minutes: make load-desk")
	}
	b := open(t, options{})
	v := b.visit("Robin")
	big := twelveMegapixels(t)
	token := b.pageToken()
	var most atomic.Int64
	stop := make(chan struct{})
	go watchMemory(&most, stop)
	start := time.Now()
	var slowest atomic.Int64
	var work sync.WaitGroup
	numbers := make(chan int, loadPhotos)
	for i := range loadPhotos {
		numbers <- i
	}
	close(numbers)
	for range loadClients {
		work.Go(func() {
			for i := range numbers {
				content := string(big) + fmt.Sprint(i) // behind the picture's end: another file, the same picture
				body, kind := upload(t, [2]string{fmt.Sprintf("%d.jpg", i), content})
				r := b.request("POST", fmt.Sprintf("/visits/%d/photos", v.ID), body)
				r.Header.Set(tokenHeader, token)
				r.Header.Set("Content-Type", kind)
				began := time.Now()
				answer, out := b.send(r)
				slowest.Store(max(slowest.Load(), int64(time.Since(began))))
				assert.Equal(t, 200, answer.StatusCode, "%v", out)
			}
		})
	}
	work.Wait()
	taken := time.Since(start)
	require.Eventually(t, func() bool {
		records, err := b.store.Records(t.Context(), v.ID)
		return err == nil && len(records) == loadPhotos
	}, 15*time.Minute, 200*time.Millisecond)
	close(stop)
	s := b.settled(v.ID)
	require.Len(t, s.Tiles, loadPhotos)
	for _, tile := range s.Tiles {
		assert.Equal(t, record.Measured, tile.State, tile.Name)
	}
	assert.Less(t, most.Load(), int64(loadMemory))
	t.Logf("%d photos of %d MB: taken in %s (slowest %s), measured after %s; at most %d MB",
		loadPhotos, len(big)>>20, taken.Round(time.Millisecond),
		time.Duration(slowest.Load()).Round(time.Millisecond), time.Since(start).Round(time.Second),
		most.Load()>>20)
}

// twelveMegapixels is a bundled photo enlarged to a phone's 4032 x 3024 px, with
// a sensor's grain, so that its file is as large, and as slow to decode, as a
// phone's.
func twelveMegapixels(t *testing.T) []byte {
	t.Helper()
	small := readPhoto(t, "foam-window.jpg")
	p, err := photo.Decode([]byte(small), "x", photo.Limits{})
	require.NoError(t, err)
	from := p.Colour(1 << 20)
	w, h := 4032, 3024
	if p.Height > p.Width {
		w, h = h, w
	}
	to := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.BiLinear.Scale(to, to.Bounds(), from, from.Bounds(), draw.Src, nil)
	grain := rand.New(rand.NewPCG(1, 2))
	for i := range to.Pix {
		if i%4 != 3 {
			to.Pix[i] = uint8(min(255, max(0, float64(to.Pix[i])+3*grain.NormFloat64())))
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, to, &jpeg.Options{Quality: 92}))
	return b.Bytes()
}

// watchMemory keeps the largest sum of resident memory of this process and its
// children (Linux, /proc).
func watchMemory(most *atomic.Int64, stop <-chan struct{}) {
	for {
		select {
		case <-stop:
			return
		case <-time.After(40 * time.Millisecond):
		}
		sum := resident("self")
		if text, err := os.ReadFile(fmt.Sprintf("/proc/self/task/%d/children", os.Getpid())); err == nil {
			for _, pid := range strings.Fields(string(text)) {
				sum += resident(pid)
			}
		}
		for _, dir := range tasks() {
			if text, err := os.ReadFile(filepath.Join(dir, "children")); err == nil {
				for _, pid := range strings.Fields(string(text)) {
					sum += resident(pid)
				}
			}
		}
		most.Store(max(most.Load(), sum))
	}
}

// tasks are this process's threads but the first: a child belongs to the thread
// that started it.
func tasks() []string {
	dirs, err := filepath.Glob("/proc/self/task/*")
	if err != nil {
		return nil
	}
	var out []string
	for _, d := range dirs {
		if filepath.Base(d) != strconv.Itoa(os.Getpid()) {
			out = append(out, d)
		}
	}
	return out
}

func resident(pid string) int64 {
	text, err := os.ReadFile("/proc/" + pid + "/statm")
	if err != nil {
		return 0
	}
	fields := strings.Fields(string(text))
	if len(fields) < 2 {
		return 0
	}
	pages, _ := strconv.ParseInt(fields[1], 10, 64)
	return pages * int64(os.Getpagesize())
}
