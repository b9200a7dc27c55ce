package archive

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"sitspan/cmd/sitspan/internal/fingerprint"
)

func drawLook(t *rapid.T) *look {
	p := fingerprint.Print(rapid.SliceOfN(rapid.Uint64(), 4, 4).Draw(t, "print"))
	p[0] &^= 1
	place := func(name string, low float64) [2]float64 {
		return [2]float64{
			rapid.Float64Range(low, low+0.4).Draw(t, name),
			rapid.Float64Range(0, 1).Draw(t, name),
		}
	}
	l := &look{
		Print:      p,
		Width:      2000,
		Height:     1500,
		Left:       place("left", 0),
		Right:      place("right", 0.6),
		MMPerWidth: 260,
	}
	l.measure()
	return l
}

// A picture at another size, with a little of its fingerprint lost, and turned,
// is the same; with a centre elsewhere it is not.
func TestSavedAgain(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		a := drawLook(t)
		b := *a
		for range rapid.IntRange(0, 3).Draw(t, "turns") {
			b = b.quarterTurn()
		}
		b.Width, b.Height = b.Width/2, b.Height/2
		if rapid.Bool().Draw(t, "swap") {
			b.Left, b.Right = b.Right, b.Left
		}
		for range rapid.IntRange(0, mostSigns).Draw(t, "lost") {
			b.Print[rapid.IntRange(0, 3).Draw(t, "word")] ^= 1 << rapid.IntRange(1, 63).Draw(t, "bit")
		}
		b.N = 1
		b.measure()
		assert.Equal(t, sets{1: 0}, sameOf(dir, a, &b))
		c := b
		c.Left[0] += 1.5 * centresMM / c.MMPerWidth
		assert.False(t, c.overlies(&b), "a centre is 1.5 mm elsewhere")
		d := b
		d.Height *= 1 + 2*shapeShare
		assert.False(t, d.overlies(&b), "it is of another shape")
		e := b
		for i := range e.Print {
			e.Print[i] ^= 0x1111111111111110
		}
		assert.False(t, e.overlies(&b), "it looks otherwise")
	})
}

// Pictures are found however few of them lie in memory at once: as comparing each
// with each finds them.
func TestSavedAgainComparesAllThatMatters(t *testing.T) {
	dir, size := t.TempDir(), HeldLooks
	t.Cleanup(func() { HeldLooks = size })
	rapid.Check(t, func(t *rapid.T) {
		var looks []*look
		for range rapid.IntRange(1, 4).Draw(t, "pictures") {
			first := drawLook(t)
			for range rapid.IntRange(1, 6).Draw(t, "times") {
				l := *first
				l.Left[0] += rapid.Float64Range(0, 2*centresMM).Draw(t, "shift") / l.MMPerWidth
				l.Right[1] += rapid.Float64Range(0, centresMM).Draw(t, "shift") / l.MMPerWidth
				l.Height *= 1 + rapid.Float64Range(-1, 1).Draw(t, "shape")*shapeShare
				if rapid.Bool().Draw(t, "turned") {
					l = l.quarterTurn()
				}
				l.N = len(looks)
				l.measure()
				looks = append(looks, &l)
			}
		}
		want := sets{}
		for _, a := range looks {
			for _, b := range looks {
				turns := b.turns()
				if bySpan(*a, *b) < 0 && b.Span <= a.Span*1.02+1e-9 &&
					slices.ContainsFunc(turns[:], func(b look) bool { return a.overlies(&b) }) {
					want.join(a.N, b.N)
				}
			}
		}
		HeldLooks = rapid.IntRange(1, 7).Draw(t, "block")
		got := sameOf(dir, looks...)
		for _, l := range looks {
			assert.Equal(t, want.root(l.N), got.root(l.N), l.N)
		}
	})
}

func TestFourQuarterTurnsOfALookAreNone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawLook(t)
		b := a.quarterTurn().quarterTurn().quarterTurn().quarterTurn()
		assert.Equal(t, a.Print, b.Print)
		assert.InDelta(t, 0, a.apart(a.Left, b.Left)+a.apart(a.Right, b.Right), 1e-9)
		assert.InDelta(t, a.MMPerWidth, b.MMPerWidth, 1e-9)
	})
}

// A chain of copies is one set, named by its smallest number; a number alone is
// not kept.
func TestSetsJoin(t *testing.T) {
	s := sets{}
	s.join(5, 3)
	s.join(6, 5)
	s.join(1, 2)
	s.join(6, 3)
	for i, root := range []int{0, 1, 1, 3, 4, 3, 3} {
		assert.Equal(t, root, s.root(i), i)
	}
	assert.Len(t, s, 3)
}

// sameOf sorts looks and finds which of them are saved again.
func sameOf(dir string, looks ...*look) sets {
	s, err := NewScratch(Results{dir})
	if err != nil {
		panic(err)
	}
	defer s.Remove()
	sorted := NewTable(s, (*look).order)
	for _, l := range looks {
		if err := sorted.Add(*l); err != nil {
			panic(err)
		}
	}
	same, err := savedAgain(sorted, func() {})
	if err != nil {
		panic(err)
	}
	return same
}

// BenchmarkCopies joins 100,000 copies of one picture, a sign lost in each. They are compared with the first
// of a block and not with each other.
func BenchmarkCopies(b *testing.B) {
	const n = 100_000
	first := look{Width: 2000, Height: 1500, Left: [2]float64{0.3, 0.5}, Right: [2]float64{0.7, 0.5},
		MMPerWidth: 260}
	looks := func(yield func(look, error) bool) {
		for i := range n {
			l := first
			l.N = i
			l.Print[1+i%3] ^= 1 << (i % 64)
			l.measure()
			if !yield(l, nil) {
				return
			}
		}
	}
	for b.Loop() {
		same := sets{}
		assert.NoError(b, same.joinNear(HeldLooks, looks))
		assert.Len(b, same, n-1)
	}
}
