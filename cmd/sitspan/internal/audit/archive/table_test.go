package archive

import (
	"cmp"
	"errors"
	"fmt"
	"iter"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/cmd/sitspan/internal/words"
)

// numberedValue is a value whose equals can be told apart.
type numberedValue struct {
	Value int
	Text  []byte
	At    int
}

func (v *numberedValue) order() []any { return []any{v.Value, string(v.Text)} }

func testScratch(t require.TestingT, dir string) *Scratch {
	s, err := NewScratch(Results{dir})
	require.NoError(t, err)
	return s
}

// gathered reads a sequence to its end.
func gathered[T any](t require.TestingT, values iter.Seq2[T, error]) []T {
	out := []T{}
	for v, err := range values {
		require.NoError(t, err)
		out = append(out, v)
	}
	return out
}

// What a table gives is what sorting in memory gives: numbers by size, text by its
// bytes, whatever they are, equal values in the order in which they came, as often
// as it is asked, and from any place on.
func TestTableSortsStably(t *testing.T) {
	dir := t.TempDir()
	texts := []string{"", "a", "B", "ä", "a\x00b", "\xff", "\u2028", "10", "9"}
	rapid.Check(t, func(rt *rapid.T) {
		s := testScratch(rt, dir)
		defer s.Remove()
		table := NewTable(s, (*numberedValue).order)
		want := []numberedValue{}
		for i, v := range rapid.SliceOfN(rapid.IntRange(-9, 12), 0, 60).Draw(rt, "values") {
			want = append(want, numberedValue{v, []byte(texts[(i*7+v*v)%len(texts)]), i})
			require.NoError(rt, table.Add(want[i]))
		}
		slices.SortStableFunc(want, func(a, b numberedValue) int {
			return cmp.Or(cmp.Compare(a.Value, b.Value), cmp.Compare(string(a.Text), string(b.Text)))
		})
		for range 2 {
			require.Equal(rt, want, gathered(rt, table.All()))
		}
		n := rapid.IntRange(0, len(want)).Draw(rt, "from")
		require.Equal(rt, want[n:], gathered(rt, table.From(n)))
	})
}

// Two readers of a table, and one that stops early, do not disturb one another.
func TestTableIsReadBesideItself(t *testing.T) {
	s := testScratch(t, t.TempDir())
	defer s.Remove()
	table := NewTable(s, func(v *float64) []any { return []any{*v} })
	for i := range 100 {
		require.NoError(t, table.Add(math.Sqrt(float64((i*37)%100))))
	}
	slow := OpenBeside(table.All())
	defer slow.Close()
	for v := range table.All() {
		if v > 5 {
			break
		}
	}
	for i, v := range gathered(t, table.From(40)) {
		require.Equal(t, math.Sqrt(float64(40+i)), v)
	}
	v, there, err := slow.Find(func(v *float64) int { return cmp.Compare(*v, 9) })
	require.NoError(t, err)
	assert.True(t, there)
	assert.Equal(t, 9.0, v)
}

// Without a key the values stay as they came.
func TestTableWithoutKey(t *testing.T) {
	s := testScratch(t, t.TempDir())
	defer s.Remove()
	table := NewTable[int](s, nil)
	for _, v := range []int{3, 1, 2} {
		require.NoError(t, table.Add(v))
	}
	assert.Equal(t, []int{3, 1, 2}, gathered(t, table.All()))
	assert.Empty(t, gathered(t, NewTable[int](s, nil).All()), "nothing was added")
}

// What is found beside a sequence is the last value at the place that is asked.
func TestFindBeside(t *testing.T) {
	values := []numberedValue{{Value: 1}, {Value: 2, At: 1}, {Value: 2, At: 2}, {Value: 5, At: 3}}
	b := OpenBeside(func(yield func(numberedValue, error) bool) {
		for _, v := range values {
			if !yield(v, nil) {
				return
			}
		}
	})
	defer b.Close()
	for _, c := range []struct {
		value, at int
		there     bool
	}{{0, 0, false}, {2, 2, true}, {3, 0, false}, {5, 3, true}, {6, 0, false}} {
		found, there, err := b.Find(func(v *numberedValue) int { return cmp.Compare(v.Value, c.value) })
		require.NoError(t, err)
		assert.Equal(t, c.there, there, c.value)
		assert.Equal(t, c.at, found.At, c.value)
	}
}

// A table that cannot be read or written, as on a disk that fails, is told, not
// passed over; a folder of any name will do.
func TestTableTellsAFailingDisk(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "50% off?#ä")
	require.NoError(t, os.Mkdir(dir, 0o755))
	s := testScratch(t, dir)
	table := NewTable(s, func(v *int) []any { return []any{*v} })
	for i := range 20_000 {
		require.NoError(t, table.Add(i))
	}
	require.Len(t, gathered(t, table.From(19_990)), 10)
	files, err := filepath.Glob(filepath.Join(filepath.Dir(s.dir), scratchDir, "*.db"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	require.NoError(t, os.Truncate(files[0], 8192))
	for _, e := range table.All() {
		err = e
	}
	require.ErrorContains(t, err, "sorting: ")
	s.Remove()
	assert.NoDirExists(t, s.dir)
	require.ErrorContains(t, NewTable(s, func(v *int) []any { return []any{*v} }).Add(1), "sorting: ")
}

// A full disk is told as one, in each language.
func TestAFullDiskIsToldWhileSorting(t *testing.T) {
	err := notSorted(fmt.Errorf("insert: %w", sqlite3.Error{Code: sqlite3.ErrFull}))
	for _, l := range words.Langs() {
		assert.Contains(t, l.Error(err), l.Text("error.store.full"))
	}
	other := notSorted(errors.New("no such table"))
	assert.NotContains(t, words.English.Error(other), "full")
}
