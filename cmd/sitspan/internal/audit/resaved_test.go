package audit

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"sitspan/cmd/sitspan/internal/fingerprint"
)

func drawLook(t *rapid.T) *look {
	p := fingerprint.Print(rapid.SliceOfN(rapid.Uint64(), 4, 4).Draw(t, "print"))
	p[0] &^= 1
	place := func(name string, low float64) [2]float64 {
		return [2]float64{rapid.Float64Range(low, low+0.4).Draw(t, name), rapid.Float64Range(0, 1).Draw(t, name)}
	}
	return &look{print: p, width: 2000, height: 1500, left: place("left", 0), right: place("right", 0.6), mmPerWidth: 260}
}

// A picture at another size, with a little of its fingerprint lost, and turned,
// is the same; with a centre elsewhere it is not.
func TestSavedAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawLook(t)
		b := *a
		for range rapid.IntRange(0, 3).Draw(t, "turns") {
			b = b.quarterTurn()
		}
		b.width, b.height = b.width/2, b.height/2
		if rapid.Bool().Draw(t, "swap") {
			b.left, b.right = b.right, b.left
		}
		for range rapid.IntRange(0, mostSigns).Draw(t, "lost") {
			b.print[rapid.IntRange(0, 3).Draw(t, "word")] ^= 1 << rapid.IntRange(1, 63).Draw(t, "bit")
		}
		assert.Equal(t, [][]int{{0, 1}}, savedAgain([]*look{a, &b}))
		c := b
		c.left[0] += 1.5 * centresMM / c.mmPerWidth
		assert.False(t, c.overlies(&b), "a centre is 1.5 mm elsewhere")
		d := b
		d.height *= 1 + 2*shapeShare
		assert.False(t, d.overlies(&b), "it is of another shape")
		e := b
		for i := range e.print {
			e.print[i] ^= 0x1111111111111110
		}
		assert.False(t, e.overlies(&b), "it looks otherwise")
	})
}

func TestFourQuarterTurnsOfALookAreNone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawLook(t)
		b := a.quarterTurn().quarterTurn().quarterTurn().quarterTurn()
		assert.Equal(t, a.print, b.print)
		assert.InDelta(t, 0, a.apart(a.left, b.left)+a.apart(a.right, b.right), 1e-9)
		assert.InDelta(t, a.mmPerWidth, b.mmPerWidth, 1e-9)
	})
}

// A chain of copies is one group, named by its smallest index.
func TestGroupsJoin(t *testing.T) {
	s := newSets(7)
	s.join(5, 3)
	s.join(6, 5)
	s.join(1, 2)
	assert.Equal(t, [][]int{{1, 2}, {3, 5, 6}}, s.groups())
}
