package report

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/record"
)

func TestContactSheetsKeepWhatMatters(t *testing.T) {
	l := newLists()
	for i := range mostPictures + 50 {
		r := Row{File: fmt.Sprintf("%05d", i), Status: record.Measured, Overlay: archive.OverlayPath("x")}
		if i >= mostPictures {
			r.Status = record.Review
		}
		l.add(r)
	}
	sheets, left := contactSheets(l.pictures.list())
	assert.Equal(t, 50, left)
	shown, reviews := 0, 0
	for _, s := range sheets {
		for _, r := range s.Rows {
			shown++
			if r.Status == record.Review {
				reviews++
			}
		}
	}
	assert.Equal(t, 2000, shown, "some 20 MB of pictures")
	assert.Equal(t, 50, reviews)
}

// A list keeps what sorting all and cutting keeps.
func TestTopIsTheFirstOfAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := top{most: rapid.IntRange(1, 9).Draw(t, "most"), compare: worst}
		var want []*Row
		for i, v := range rapid.SliceOfN(rapid.IntRange(0, 5), 0, 60).Draw(t, "short") {
			r := &Row{File: fmt.Sprint(i), Shortfall: Number(float64(v))}
			want = append(want, r)
			l.add(r)
		}
		slices.SortStableFunc(want, worst)
		got := l.list()
		assert.Equal(t, len(want)-min(len(want), l.most), got.More)
		for i, r := range got.Rows {
			assert.Same(t, want[i], r)
		}
		assert.Len(t, got.Rows, min(len(want), l.most))
	})
}
