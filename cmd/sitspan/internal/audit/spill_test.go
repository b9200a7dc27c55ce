package audit

import (
	"cmp"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// numberedValue is a value whose equals can be told apart.
type numberedValue struct{ Value, At int }

func byValue(a, b *numberedValue) int { return cmp.Compare(a.Value, b.Value) }

// However much of it lies on the disk, what is sorted is what sorting in memory
// gives, equal values in the order in which they came, as often as it is asked.
func TestSorterSortsStably(t *testing.T) {
	holdFew(t, 3)
	dir := t.TempDir()
	rapid.Check(t, func(rt *rapid.T) {
		s, err := newSpill(results{dir})
		require.NoError(rt, err)
		defer s.remove()
		sorted := newSorter(s, byValue)
		var want []numberedValue
		for i, v := range rapid.SliceOfN(rapid.IntRange(0, 20), 0, 300).Draw(rt, "values") {
			want = append(want, numberedValue{v, i})
			require.NoError(rt, sorted.add(want[i]))
		}
		slices.SortStableFunc(want, func(a, b numberedValue) int { return byValue(&a, &b) })
		for range 2 {
			require.Equal(rt, want, all(t, sorted.all()))
		}
		var blocks []numberedValue
		names, err := sorted.inBlocks(7)
		require.NoError(rt, err)
		for _, name := range names {
			block := all(t, readLines[numberedValue](s.results, name))
			require.LessOrEqual(rt, len(block), 7)
			blocks = append(blocks, block...)
		}
		require.Equal(rt, want, blocks)
	})
}

// What is found beside a sequence is the last value at the place that is asked.
func TestFindBeside(t *testing.T) {
	b := openBeside(eachOf([]numberedValue{{1, 0}, {2, 1}, {2, 2}, {5, 3}}))
	defer b.close()
	for _, c := range []struct {
		value, at int
		there     bool
	}{{0, 0, false}, {2, 2, true}, {3, 0, false}, {5, 3, true}, {6, 0, false}} {
		found, there, err := b.find(func(v *numberedValue) int { return cmp.Compare(v.Value, c.value) })
		require.NoError(t, err)
		assert.Equal(t, c.there, there, c.value)
		assert.Equal(t, c.at, found.At, c.value)
	}
}

// A run that cannot be read again, as on a disk that fails, is told, not passed
// over.
func TestSorterTellsAFailingDisk(t *testing.T) {
	holdFew(t, 3)
	s, err := newSpill(results{t.TempDir()})
	require.NoError(t, err)
	sorted := newSorter(s, byValue)
	for i := range 10 {
		require.NoError(t, sorted.add(numberedValue{i, i}))
	}
	require.NoError(t, os.Remove(s.path(sorted.runs[0][1])))
	for v, e := range sorted.all() {
		err = e
		assert.True(t, e != nil || v.Value < 3, "what follows is not known")
	}
	require.ErrorIs(t, err, os.ErrNotExist)
	s.remove()
	for i := range 3 {
		err = sorted.add(numberedValue{i, i})
	}
	require.ErrorContains(t, err, "sorting: ")
}

// The results are the same bytes whether the tables lie in memory or on the disk,
// for a run and for shards that are joined; nothing of them is left behind.
func TestTablesOnTheDiskDoNotShow(t *testing.T) {
	dir, whole, few, joined := poisonedFolder(t), filepath.Join(t.TempDir(), "whole"), filepath.Join(t.TempDir(), "few"), filepath.Join(t.TempDir(), "joined")
	require.NoError(t, os.Remove(filepath.Join(dir, "2020/hang.jpg"))) // it costs time, and is looked at elsewhere
	r, err := ReadReadings(strings.NewReader("file,spacing_mm\n2019/scan03.jpg,112\ncopy/of-three.jpg,115\ncopy/five.png,121\nlinked.jpg,110\n2019/scan11.jpg,130\nnone.jpg,130\n"), "cards.csv")
	require.NoError(t, err)
	plan := func(out string) Plan {
		p := poisonedPlan(dir, out)
		p.Review.Readings = r
		return p
	}
	a, err := Run(context.Background(), plan(whole))
	require.NoError(t, err)
	require.Equal(t, 2, a.Statistics.Readings.Faults, "a second reading of a picture, and one of no file")
	holdFew(t, 2)
	_, err = Run(context.Background(), plan(few))
	require.NoError(t, err)
	assertSameResults(t, whole, few)
	var shards []string
	for n := range 2 {
		p := plan(filepath.Join(t.TempDir(), "shard"))
		p.Shard = Shard{n + 1, 2}
		_, err = Run(context.Background(), p)
		require.NoError(t, err)
		shards = append(shards, p.Out)
	}
	_, err = Merge(context.Background(), shards, joined, plan("").Review)
	require.NoError(t, err)
	assertSameResults(t, whole, joined)
	for _, out := range append(shards, few, joined) {
		assert.NoDirExists(t, filepath.Join(out, spillDir))
	}
}
