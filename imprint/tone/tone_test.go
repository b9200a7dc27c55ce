package tone

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/relief"
)

// lifted is a picture after local tone by one of three laws, as a phone works it out: from the picture
// before.
var lifted = map[string]func(v []float32, strength, sd float64) []float32{
	"levels toward the middle": func(v []float32, strength, sd float64) []float32 {
		around := bell(v, sd)
		return each(v, func(i int, x float64) float64 { return x + strength*(0.5-around(i)) })
	},
	"levels by a power": func(v []float32, strength, sd float64) []float32 {
		around := bell(v, sd)
		return each(v, func(i int, x float64) float64 { return x * math.Pow(around(i)/0.5, -strength) })
	},
	"light by a power": func(v []float32, strength, sd float64) []float32 {
		around := bell(each(v, func(_ int, x float64) float64 { return relief.Linear(255 * x) }), sd)
		return each(v, func(i int, x float64) float64 {
			return (x+foot)*math.Pow(around(i)/0.2, -strength/2.4) - foot
		})
	},
}

func each(v []float32, f func(i int, x float64) float64) []float32 {
	out := make([]float32, len(v))
	for i, x := range v {
		out[i] = float32(f(i, float64(x)))
	}
	return out
}

// halo is how far a picture's ln light over the window is off another's, rms, beside a quadratic: what goes
// into the net.
func halo(t *testing.T, before []float32, after func(i int) float64) float64 {
	t.Helper()
	p := &paint{}
	var off, flat []float64
	for y := -64.; y <= 64; y += 4 {
		for x := -100.; x <= 100; x += 4 {
			at := sceneAt(x, y)
			i := int(at.Y)*sceneWidth + int(at.X)
			p.spots, p.use, flat = append(p.spots, Spot{X: x, Y: y}), append(p.use, true), append(flat, 1)
			off = append(off, 2.4*math.Log((after(i)+foot)/(float64(before[i])+foot)))
		}
	}
	p.span(flat)
	rest := p.without(off)
	return math.Sqrt(p.dot(rest, rest) / float64(len(rest)))
}

// On rendered photos some third of a tone's change is left in the windows (docs/evidence.md, "A phone's local
// tone"); here, where nothing but noise disturbs, no more than that.
func TestFindTakesOffWhatAPhoneDid(t *testing.T) {
	plain, c := scene(0.3), card()
	for name, lift := range lifted {
		for _, sd := range []float64{6, 12, 25} {
			t.Run(fmt.Sprintf("%s, %g mm", name, sd), func(t *testing.T) {
				after := lift(plain, 0.25, sd)
				found := Find(saved(after), c)
				require.NotNil(t, found)
				raw := halo(t, plain, func(i int) float64 { return float64(after[i]) })
				left := halo(t, plain, func(i int) float64 {
					return found.Plain(float64(after[i]), Pixel{float64(i % sceneWidth), float64(i / sceneWidth)})
				})
				assert.Less(t, left, raw/3, "of %.4f", raw)
				assert.InDelta(t, meanOf(c.Window, func(q Pixel) float64 { return levelAt(after, q) }),
					meanOf(c.Window, func(q Pixel) float64 { return found.Plain(levelAt(after, q), q) }), 0.01,
					"the window as a whole stays as bright as it is")
			})
		}
	}
}

func levelAt(v []float32, q Pixel) float64 { return float64(v[int(q.Y)*sceneWidth+int(q.X)]) }

func meanOf(at []Pixel, f func(Pixel) float64) (m float64) {
	for _, q := range at {
		m += f(q) / float64(len(at))
	}
	return m
}

func TestFindLeavesAlone(t *testing.T) {
	plain, c := scene(0.3), card()
	around := bell(plain, 12)
	brighter := func(_ int, x float64) float64 { return x + 0.05 }
	steeper := func(_ int, x float64) float64 { return 0.88*x + 0.12*x*x*(3-2*x) }
	veiled := func(i int, x float64) float64 { return 0.9*x + 0.1*around(i) }
	burning := func(_ int, x float64) float64 { return 1.6 * x }
	pictures := map[string][]float32{
		"a plain photo":                   plain,
		"one all over brighter":           each(plain, brighter),
		"one of more contrast":            each(plain, steeper),
		"bright light that spreads":       each(plain, veiled),
		"a hand's shadow over one corner": each(plain, handShadow),
		"a lamp near one side":            each(plain, nearLamp),
		"a burnt-out card":                each(plain, burning),
	}
	for name, v := range pictures {
		assert.Nil(t, Find(saved(v), c), name)
	}
	small := c
	small.PxPerMM = 3000
	assert.Nil(t, Find(saved(plain), small), "blocks larger than the picture")
	assert.Nil(t, Find(saved(plain), Card{PxPerMM: scenePx}), "no card at all")
}

// handShadow darkens a corner by a third, over some 40 mm.
func handShadow(i int, v float64) float64 {
	x, y := sceneMM(i)
	return v * (1 - 0.3/(1+math.Exp((x+y+140)/20)))
}

// nearLamp is light from 300 mm above the card's right edge: no quadratic.
func nearLamp(i int, v float64) float64 {
	x, y := sceneMM(i)
	r2 := ((x-130)*(x-130) + y*y) / (300 * 300)
	return (v+foot)*math.Pow(1+r2, -2/2.4) - foot
}

// Words on the white and dirt are not white; what is burnt out says nothing.
func TestFindIsNotMisledBySomeSpots(t *testing.T) {
	plain, c := scene(0.3), card()
	dirty := each(plain, func(i int, v float64) float64 {
		x, y := sceneMM(i)
		switch {
		case y < -86 && math.Abs(x-30) < 12:
			return v / 2
		case x > 120 && y > 20 && y < 60:
			return 1
		}
		return v
	})
	after := lifted["levels toward the middle"](dirty, 0.25, 12)
	found := Find(saved(after), c)
	require.NotNil(t, found)
	raw := halo(t, plain, func(i int) float64 { return float64(after[i]) })
	left := halo(t, plain, func(i int) float64 {
		return found.Plain(float64(after[i]), Pixel{float64(i % sceneWidth), float64(i / sceneWidth)})
	})
	assert.Less(t, left, raw/3)
}

func TestNoToneChangesNothing(t *testing.T) {
	var none *Tone
	for _, v := range []float64{-0.1, 0, 0.3, 1, 1.2} {
		assert.Equal(t, v, none.Plain(v, Pixel{}))
	}
}
