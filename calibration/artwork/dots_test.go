package artwork

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// eachDotSheet runs a test on every sheet and paper.
func eachDotSheet(t *testing.T, test func(t *testing.T, number int, d *Drawing)) {
	for number := 1; number <= DotSheets; number++ {
		for _, paper := range []Paper{A4, Letter} {
			t.Run(fmt.Sprintf("%d-%s", number, paper), func(t *testing.T) {
				d, err := DrawDots(number, Options{Paper: paper})
				require.NoError(t, err)
				test(t, number, d)
			})
		}
	}
}

func apart(a, b Dot) float64 { return math.Hypot(a.Centre.X-b.Centre.X, a.Centre.Y-b.Centre.Y) }

// sitting tells whether riders sit there on a sheet that lies as the frame does.
func sitting(x, y float64) bool { return math.Abs(x) > 25 && math.Abs(x) < 95 && math.Abs(y) < 45 }

// No two dots touch: 4 mm of paper at least stay between two, and 2.4 where riders sit, so that a punched
// sheet holds together. They are as the pad's own are to be: 2 to 3 mm across, about 9 mm apart, 7 where
// riders sit, and nowhere more than that from the next.
func TestDotsKeepApartAndFillTheSheet(t *testing.T) {
	for number := 1; number <= DotSheets; number++ {
		dots, close := Dots(number), 0
		for i, a := range dots {
			assert.True(t, a.Diameter >= 2 && a.Diameter <= 3, "%v", a)
			if sitting(a.Centre.X, a.Centre.Y) {
				close++
			}
			for _, b := range dots[i+1:] {
				paper := 4.0
				if sitting(a.Centre.X, a.Centre.Y) || sitting(b.Centre.X, b.Centre.Y) {
					paper = 2.4
				}
				require.GreaterOrEqual(t, apart(a, b)-(a.Diameter+b.Diameter)/2, paper)
			}
		}
		const seats = 2 * 70 * 90.0
		assert.InDelta(t, 7, math.Sqrt(seats/float64(close)), 0.3, "sheet %d has %d close dots", number, close)
		spacing := math.Sqrt((dotsWidth*dotsHeight - seats) / float64(len(dots)-close))
		assert.InDelta(t, 9, spacing, 0.5, "sheet %d has %d other dots", number, len(dots)-close)
		for y := -dotsHeight/2 + 2; y < dotsHeight/2; y += 2 {
			for x := -dotsWidth/2 + 2; x < dotsWidth/2; x += 2 {
				nearest, most := math.Inf(1), 9.5
				if sitting(x, y) {
					most = 7.5
				}
				for _, d := range dots {
					nearest = math.Min(nearest, math.Hypot(d.Centre.X-x, d.Centre.Y-y))
				}
				require.Less(t, nearest, most, "sheet %d at (%g, %g)", number, x, y)
			}
		}
	}
}

// constellation are a dot's five nearest neighbours: where they are from it, the
// nearest first.
type constellation [5][2]float64

func constellations(dots []Dot) (all []constellation) {
	for _, d := range dots {
		others := slices.Clone(dots)
		slices.SortFunc(others, func(a, b Dot) int {
			if apart(a, d) < apart(b, d) {
				return -1
			}
			return 1
		})
		var c constellation
		for k, o := range others[1:6] {
			c[k] = [2]float64{o.Centre.X - d.Centre.X, o.Centre.Y - d.Centre.Y}
		}
		all = append(all, c)
	}
	return all
}

// reach is the distance of a neighbour.
func (c constellation) reach(k int) float64 { return math.Hypot(c[k][0], c[k][1]) }

// like tells whether two constellations can be turned onto each other so that
// each neighbour is within a distance of one of the other's.
func (c constellation) like(o constellation, within float64) bool {
	for k := range c {
		if math.Abs(c.reach(k)-o.reach(k)) > within { // sorted: the best pairing
			return false
		}
	}
	for i := range c {
		for j := range o {
			turn := math.Atan2(o[j][1], o[j][0]) - math.Atan2(c[i][1], c[i][0])
			if c.turned(turn).covers(o, 2*within) { // the turn itself may be off by as much
				return true
			}
		}
	}
	return false
}

func (c constellation) turned(by float64) (out constellation) {
	sin, cos := math.Sincos(by)
	for k, p := range c {
		out[k] = [2]float64{cos*p[0] - sin*p[1], sin*p[0] + cos*p[1]}
	}
	return out
}

func (c constellation) covers(o constellation, within float64) bool {
	for _, p := range c {
		if !slices.ContainsFunc(o[:],
			func(q [2]float64) bool { return math.Hypot(p[0]-q[0], p[1]-q[1]) <= within }) {
			return false
		}
	}
	return true
}

// A dot that is traced half a millimetre off can still be told by its
// neighbours on its sheet, and one a quarter off among those of all sheets: no
// two have like ones.
func TestNoTwoDotsHaveLikeNeighbours(t *testing.T) {
	type placed struct {
		constellation
		sheet int
	}
	var all []placed
	for number := 1; number <= DotSheets; number++ {
		for _, c := range constellations(Dots(number)) {
			all = append(all, placed{c, number})
		}
	}
	require.Greater(t, len(all), 2000)
	for i, c := range all {
		for j, o := range all[:i] {
			within := 0.25
			if c.sheet == o.sheet {
				within = 0.5
			}
			require.False(t, c.like(o.constellation, within), "dots %d and %d of all sheets", j, i)
		}
	}
	// The test can tell: turned, and each neighbour moved by 0.3 mm, it is like.
	moved := all[7].turned(1.1)
	for k := range moved {
		moved[k][k%2] += 0.3
	}
	assert.True(t, all[7].like(moved, 0.5))
	assert.False(t, all[7].like(moved, 0.1))
}

// The same sheet for ever: a pad is dotted by several prints.
func TestDotsAreFixed(t *testing.T) {
	first := Dots(1)
	assert.Equal(t, first, Dots(1))
	assert.Equal(t, [2]float64{96.5, -83.26},
		[2]float64{math.Round(100*first[0].Centre.X) / 100, math.Round(100*first[0].Centre.Y) / 100})
	assert.Equal(t, 672, len(first))
}

func TestADotSheetsInkStaysInsideThePrintableArea(t *testing.T) {
	eachDotSheet(t, func(t *testing.T, number int, d *Drawing) {
		page := box{printableMargin, printableMargin, d.Width - printableMargin, d.Height - printableMargin}
		texts, others := shapes(d)
		for _, n := range append(texts, others...) {
			assert.GreaterOrEqual(t, n.x0+d.Origin.X, page.x0, n.name)
			assert.GreaterOrEqual(t, n.y0+d.Origin.Y, page.y0, n.name)
			assert.LessOrEqual(t, n.x1+d.Origin.X, page.x1, n.name)
			assert.LessOrEqual(t, n.y1+d.Origin.Y, page.y1, n.name)
		}
		for i, n := range texts {
			for _, m := range slices.Concat(texts[i+1:], others) {
				assert.False(t, n.overlaps(m.box), "%q and %s", n.name, m.name)
			}
		}
		assert.Len(t, d.Areas, len(Dots(number)))
	})
}

// shapes are all of a drawing's, with their bounds in its own axes.
func shapes(d *Drawing) (texts, others []named) {
	for i, a := range d.Areas {
		others = append(others, named{boundsOf(a.Loops[0], d.Origin), fmt.Sprintf("dot %d", i)})
	}
	for _, l := range d.Lines {
		others = append(others, named{boundsOf(l.outline(), d.Origin), "line"})
	}
	for _, t := range d.Texts {
		texts = append(texts, named{boundsOf(inkOf(t), d.Origin), t.String})
	}
	return texts, others
}

// In the PDF each dot has its size and its place to the file's rounding, 0.01
// pt on either side, and a polygon of 48 corners is as wide as its circle.
func TestPDFDotsAreTrueToSize(t *testing.T) {
	d, err := DrawDots(2, Options{Paper: Letter})
	require.NoError(t, err)
	pdf := pdfOf(t, d)
	assert.Contains(t, string(pdf), "/MediaBox [0 0 792.00 612.00]",
		"ANSI Y14.1 A: 11 x 8.5 inches of 72 points")
	fills := bytes.Split(pageStream(t, pdf), []byte("f*\n"))
	dots := Dots(2)
	require.Len(t, fills, len(dots)+1)
	corner := regexp.MustCompile(`([\d.]+) ([\d.]+) [ml]\n`)
	const rounding = 0.01 * onePoint
	for i, dot := range dots {
		x0, x1, y0, y1 := 1e9, -1e9, 1e9, -1e9
		for _, p := range corner.FindAllSubmatch(fills[i], -1) {
			x, _ := strconv.ParseFloat(string(p[1]), 64)
			y, _ := strconv.ParseFloat(string(p[2]), 64)
			x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
		}
		require.InDelta(t, dot.Diameter, (x1-x0)*onePoint, rounding)
		require.InDelta(t, dot.Diameter, (y1-y0)*onePoint, rounding)
		require.InDelta(t, dot.Centre.X+d.Origin.X, (x0+x1)/2*onePoint, rounding)
		require.InDelta(t, d.Height-dot.Centre.Y-d.Origin.Y, (y0+y1)/2*onePoint, rounding)
	}
	longest := 0.0
	strokes := strokesOf(t, pageStream(t, pdf))
	for _, s := range strokes {
		for _, o := range strokes {
			if s.y0 == o.y0 && s.y0 == s.y1 && o.y0 == o.y1 {
				longest = max(longest, math.Abs(s.x0-o.x1))
			}
		}
	}
	assert.InDelta(t, 200, longest*onePoint, rounding, "the long check bar")
}

func TestDrawDotsRefusesWhatItDoesNotKnow(t *testing.T) {
	for _, number := range []int{0, DotSheets + 1} {
		_, err := DrawDots(number, Options{})
		assert.ErrorContains(t, err, "1 to 4 is needed")
	}
	_, err := DrawDots(1, Options{Paper: "a5"})
	assert.ErrorContains(t, err, "a4 or letter")
}
