package desk

import (
	"context"
	"net/url"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/store"
)

// TestFullDiskIsSaidOnThePage fills a small file system, where one may be
// mounted: the page says what is wrong, and what was kept stays.
func TestFullDiskIsSaidOnThePage(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=6m"); err != nil {
		t.Skipf("a small file system cannot be mounted here (%v); the store's own tests stand", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	b := open(t, options{dir: dir})
	b.visit("Robin")
	r, _ := b.upload(1, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	require.Equal(t, 200, r.StatusCode)
	before := b.settled(1)
	require.Equal(t, record.Measured, before.Tiles[0].State)

	r, out := b.upload(1, [2]string{"large.jpg", "\xff\xd8\xff" + strings.Repeat("x", 8<<20)})
	assert.Equal(t, 507, r.StatusCode)
	text := out["photos"].([]any)[0].(map[string]any)["error"].(string)
	assert.Contains(t, text, "disk is full")
	assert.Contains(t, text, "Free some space", "what to do")
	after := b.settled(1)
	assert.Equal(t, before.Tiles, after.Tiles)
	r, page := b.get("/visits/1/imprint")
	assert.Equal(t, 200, r.StatusCode)
	assert.Contains(t, page, "stage-data")
}

// TestUnkeptMeasurementIsSaid: a measurement that could not be written does not
// look like one that is still under way.
func TestUnkeptMeasurementIsSaid(t *testing.T) {
	b := open(t, options{mood: "dies"})
	v := b.visit("Robin")
	_, err := b.store.AddPhoto(t.Context(), v.ID, "a.jpg", "desk", ".jpg",
		strings.NewReader(readPhoto(t, "foam-window.jpg")), 1<<30)
	require.NoError(t, err)
	_, page := b.get("/visits/1/imprint")
	assert.Contains(t, page, "free some space")
	assert.NotContains(t, page, "data-waiting")
	b.setUp(1, url.Values{"pad": {""}})
	assert.Equal(t, record.Failed, b.settled(1).Tiles[0].State, "measured anew")
}

// TestSetUpChangedMeanwhileCounts: a photo that was being measured when the pad
// was chosen is measured again.
func TestSetUpChangedMeanwhileCounts(t *testing.T) {
	t.Parallel()
	b := open(t, options{mood: afresh}) // so that it does take a while
	v := b.visit("Robin")
	b.upload(v.ID, [2]string{"imprint.jpg", readPhoto(t, "foam-window.jpg")})
	b.setUp(1, url.Values{"pad": {"foam"}, "left": {"15"}, "right": {"17"}})
	require.Eventually(t, func() bool {
		records, err := b.store.Records(context.Background(), v.ID)
		if err != nil || len(records) == 0 || b.isBusy(shotKey(1)) {
			return false
		}
		last := records[len(records)-1].Record.Settings
		return len(last.DepthMM) == 2 && last.DepthMM[0] == 15
	}, 5*time.Minute, 50*time.Millisecond)
	visit, err := b.store.Visit(t.Context(), v.ID)
	require.NoError(t, err)
	assert.Equal(t, store.SetUp{Pad: "foam", DepthMM: []float64{15, 17}}, visit.SetUp)
}
