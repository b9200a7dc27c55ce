package artwork

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/calibration"
)

// printableMargin in mm is what desktop printers leave white at a page's edges
// at most, except for some inkjets' trailing edge (common practice, no source).
const printableMargin = 5.0

// eachDrawing runs a test on every paper and medium.
func eachDrawing(t *testing.T, test func(t *testing.T, o Options, d *Drawing)) {
	for _, paper := range []Paper{A4, Letter} {
		for _, medium := range []calibration.Medium{calibration.Foam, calibration.Paper} {
			o := Options{Paper: paper, Medium: medium}
			t.Run(fmt.Sprintf("%s-%s", paper, medium), func(t *testing.T) {
				d, err := Draw(calibration.ControlFrame, o)
				require.NoError(t, err)
				test(t, o, d)
			})
		}
	}
}

// named is a shape's bounding box in frame axes with what it is.
type named struct {
	box
	name string
}

func boundsOf(points []calibration.Point, origin calibration.Point) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range points {
		x, y := p.X-origin.X, p.Y-origin.Y
		b = box{min(b.x0, x), min(b.y0, y), max(b.x1, x), max(b.y1, y)}
	}
	return b
}

// inkOf is the room a text may ink: Liberation Sans' ascenders end 0.74 em
// above the baseline, its descenders 0.22 em below (the font's own bounds).
func inkOf(t Text) []calibration.Point {
	up, down, w := 0.74*t.Size, 0.22*t.Size, t.width()
	if t.Upward {
		return []calibration.Point{{X: t.At.X - up, Y: t.At.Y - w}, {X: t.At.X + down, Y: t.At.Y}}
	}
	return []calibration.Point{{X: t.At.X, Y: t.At.Y - up}, {X: t.At.X + w, Y: t.At.Y + down}}
}

// besidesMarks lists all shapes but the 12 marks, which come first.
func besidesMarks(d *Drawing) (texts, others []named) {
	for i, a := range d.Areas[12:] {
		for _, loop := range a.Loops {
			others = append(others, named{boundsOf(loop, d.Origin), fmt.Sprintf("area %d", i)})
		}
	}
	for _, l := range d.Lines {
		b := boundsOf(l.outline(), d.Origin)
		others = append(others, named{b, fmt.Sprintf("line %.2f", b)})
	}
	for _, t := range d.Texts {
		texts = append(texts, named{boundsOf(inkOf(t), d.Origin), t.String})
	}
	return texts, others
}

func TestEverythingLiesInsideThePrintableArea(t *testing.T) {
	eachDrawing(t, func(t *testing.T, _ Options, d *Drawing) {
		page := box{printableMargin, printableMargin, d.Width - printableMargin, d.Height - printableMargin}
		texts, others := besidesMarks(d)
		require.NotEmpty(t, texts)
		for _, n := range append(texts, others...) {
			assert.GreaterOrEqual(t, n.x0+d.Origin.X, page.x0, n.name)
			assert.GreaterOrEqual(t, n.y0+d.Origin.Y, page.y0, n.name)
			assert.LessOrEqual(t, n.x1+d.Origin.X, page.x1, n.name)
			assert.LessOrEqual(t, n.y1+d.Origin.Y, page.y1, n.name)
		}
	})
}

func TestNothingStandsInAMarksQuietZone(t *testing.T) {
	eachDrawing(t, func(t *testing.T, _ Options, d *Drawing) {
		zones := quietZones(calibration.ControlFrame)
		require.Len(t, zones, 12)
		texts, others := besidesMarks(d)
		for _, n := range append(texts, others...) {
			assert.False(t, n.overlapsAny(zones), n.name)
		}
	})
}

func TestTextsOverlapNothing(t *testing.T) {
	eachDrawing(t, func(t *testing.T, _ Options, d *Drawing) {
		texts, others := besidesMarks(d)
		for i, n := range texts {
			for _, m := range texts[i+1:] {
				assert.False(t, n.overlaps(m.box), "%q and %q", n.name, m.name)
			}
			for _, m := range others {
				assert.False(t, n.overlaps(m.box), "%q and %s", n.name, m.name)
			}
		}
	})
}

func TestThePapersImprintAreaIsBareAndTheFoamsIsOutlined(t *testing.T) {
	window := box{-106, -70, 106, 70}
	eachDrawing(t, func(t *testing.T, o Options, d *Drawing) {
		texts, others := besidesMarks(d)
		inside := 0
		for _, n := range append(texts, others...) {
			if n.overlaps(window) {
				inside++
			}
		}
		if o.Medium == calibration.Paper {
			assert.Zero(t, inside)
			return
		}
		cut := 0 // black lines centred on the window's edge, over its whole length
		for _, l := range d.Lines {
			x0, y0 := l.From.X-d.Origin.X, l.From.Y-d.Origin.Y
			x1, y1 := l.To.X-d.Origin.X, l.To.Y-d.Origin.Y
			along := y0 == y1 && math.Abs(math.Abs(y0)-70) < 1e-9 && x1-x0 >= 212
			down := x0 == x1 && math.Abs(math.Abs(x0)-106) < 1e-9 && y1-y0 >= 140-1e-9
			if l.Shade == black && (along || down) {
				cut++
			}
		}
		assert.Equal(t, 4, cut)
	})
}

func TestNumbersNameTheirPlaceInFrameAxes(t *testing.T) {
	eachDrawing(t, func(t *testing.T, _ Options, d *Drawing) {
		seen := map[string]int{}
		for _, text := range d.Texts {
			value, err := strconv.Atoi(strings.Replace(text.String, "−", "-", 1))
			if err != nil {
				continue
			}
			b := boundsOf(inkOf(text), d.Origin)
			capMiddle := text.At.Y - d.Origin.Y - text.Size*capHeight/2
			if math.Abs(capMiddle) > 70 {
				assert.InDelta(t, value, (b.x0+b.x1)/2, 1e-9)
				seen["x"]++
			} else {
				assert.InDelta(t, value, capMiddle, 1e-9)
				seen["y"]++
			}
		}
		// by hand: ±20 30 40 80 90 100 on two sides, ±20 to ±60 on two
		assert.Equal(t, map[string]int{"x": 24, "y": 20}, seen)
	})
}

func TestTicksStandEveryFiveMillimetresAndGrowAtTenAndFifty(t *testing.T) {
	// by hand: clear of the quiet zones (12.857 mm round each mark's centre)
	// are 15 to 45 and 75 to 105 along x, 15 to 65 along y
	want := map[float64]int{1.5: 2*2*(4+4) + 2*2*6, 2.5: 2*2*(3+2) + 2*2*4, 3.5: 2*2*1 + 2*2*1}
	d, err := Draw(calibration.ControlFrame, Options{})
	require.NoError(t, err)
	got := map[float64]int{}
	for _, l := range d.Lines {
		x0, y0, x1, y1 := l.From.X-d.Origin.X, l.From.Y-d.Origin.Y, l.To.X-d.Origin.X, l.To.Y-d.Origin.Y
		length := math.Round(100*math.Hypot(x1-x0, y1-y0)) / 100
		isTick := math.Abs(math.Abs(x0)-106.3) < 1e-9 && y0 == y1 || math.Abs(math.Abs(y0)-70.3) < 1e-9 && x0 == x1
		if l.Width != tickWidth || !isTick {
			continue
		}
		at := y0
		if x0 == x1 {
			at = x0
		}
		assert.InDelta(t, 0, math.Remainder(at, 5), 1e-9)
		assert.InDelta(t, tickLength(int(math.Round(at))), length, 1e-9)
		got[length]++
	}
	assert.Equal(t, want, got)
}

func TestTheFitterIsToldHowToPrintMeasureAndEnter(t *testing.T) {
	for _, medium := range []calibration.Medium{calibration.Foam, calibration.Paper} {
		d, err := Draw(calibration.ControlFrame, Options{Medium: medium})
		require.NoError(t, err)
		var all []string
		front := 0
		for _, text := range d.Texts {
			all = append(all, text.String)
			if text.String == "FRONT" {
				front++
				assert.Less(t, text.At.Y-d.Origin.Y, -70.0, "at the front edge")
			}
		}
		printed := strings.Join(all, " ")
		assert.Positive(t, front)
		for _, part := range []string{
			"Print at 100 % (actual size), never “fit to page”", "both check bars with a steel rule",
			"sitspan frame verify --bar …  --bar-y …", "check bar 200 mm", "check bar 150 mm",
			"version " + calibration.ControlFrame.Version,
		} {
			assert.Contains(t, printed, part)
		}
	}
}

func TestDrawRefusesWhatItDoesNotKnow(t *testing.T) {
	cases := []struct {
		options Options
		says    string
	}{
		{Options{Paper: "a5"}, "a4 or letter"},
		{Options{Medium: "gel"}, "foam or paper"},
	}
	for _, c := range cases {
		_, err := Draw(calibration.ControlFrame, c.options)
		assert.ErrorContains(t, err, c.says)
	}
}

// Whoever translates learns which line is too long, whichever it is.
func TestWordsThatHaveNoRoomAreNamed(t *testing.T) {
	long := strings.Repeat("wide ", 60)
	for name, change := range map[string]func(*Words){
		"side": func(w *Words) { w.Left = long }, "front": func(w *Words) { w.FrontNote = long },
		"cell": func(w *Words) { w.Measure[2] = long }, "anew": func(w *Words) { w.Anew = long },
		"step": func(w *Words) { w.CutSteps[1][1] = long },
	} {
		w := English()
		change(&w)
		_, err := Draw(calibration.ControlFrame, Options{Words: w})
		assert.ErrorContains(t, err, "write it shorter", name)
		assert.ErrorContains(t, err, "wide wide", name)
	}
}

func TestParsePaper(t *testing.T) {
	p, err := ParsePaper(" A4 ")
	require.NoError(t, err)
	assert.Equal(t, A4, p)
	p, err = ParsePaper("Letter")
	require.NoError(t, err)
	assert.Equal(t, Letter, p)
	_, err = ParsePaper("")
	assert.ErrorContains(t, err, "a4 or letter")
}

// Any payload's traced outline, filled by the even-odd rule, is black exactly
// where the mark is.
func TestMarkLoopsEncloseTheBlackModules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := calibration.Mark{Bits: calibration.Payload(rapid.Uint32Range(0, 1<<25-1).Draw(t, "bits"))}
		loops := markLoops(m)
		for row := range calibration.MarkModules {
			for column := range calibration.MarkModules {
				inside := crossings(loops, float64(column)+0.5, float64(row)+0.5)%2 == 1
				if inside != m.Black(row, column) {
					t.Fatalf("module %d, %d", row, column)
				}
			}
		}
	})
}

// crossings counts the vertical edges to the right of a place.
func crossings(loops [][]corner, x, y float64) int {
	n := 0
	for _, loop := range loops {
		for i, a := range loop {
			b := loop[(i+1)%len(loop)]
			low, high := float64(min(a.y, b.y)), float64(max(a.y, b.y))
			if a.x == b.x && float64(a.x) > x && low < y && y < high {
				n++
			}
		}
	}
	return n
}
