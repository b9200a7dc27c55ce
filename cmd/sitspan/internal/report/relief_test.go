package report

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

func TestExplainTellsTheRelief(t *testing.T) {
	rec := kept(t, "schema2-relief.json")
	text := explained(t, rec, words.English)
	at := 0
	for _, want := range []string{
		"Parallax correction", "Relief by geometry",
		"matched                       327 dots, in photos 1, 2, 3; their lines of sight meet at 23.4°",
		"11.3 mm below the frame, 10.7 mm below the pad's surface, radius of", "12.6 mm below the frame",
		"0.03 mm; its heights are alike over 46 mm",
		"check, marks 1, 7             took no part, off by 0.02 mm (rms)", "0.06 mm (rms), 0.93 of what is",
		"117.3 mm (u = 1.1 mm); E_n = 0.33: they agree",
		"Section through both deepest points", "▲─", " 118.0 mm ", "─▲",
		"one letter is 2.4 mm across and 1 mm down", "Budget",
	} {
		i := strings.Index(text[at:], want)
		require.GreaterOrEqual(t, i, 0, "%q is not there, or not in its place", want)
		at += i
	}
	for line := range strings.Lines(text) {
		assert.LessOrEqual(t, len([]rune(strings.TrimRight(line, "\n"))), explainWidth, line)
	}
	rec.Measurement.Relief.Between = 20
	assert.Contains(t, explained(t, rec, words.English), "307 dots and 20 places between them")
	rec.Measurement.Relief.By, rec.Measurement.Relief.Between = record.ByGrain, 0
	assert.Contains(t, explained(t, rec, words.English), "327 points of the pad's grain")
	far := 2.4
	rec.Measurement.Relief.NormalisedError = &far
	assert.Contains(t, explained(t, rec, words.English), "E_n = 2.40: they disagree")
	german := explained(t, rec, words.German)
	for _, want := range []string{
		"Relief aus der Geometrie", "23,4°", "Krümmungsradius 41 mm", "sie widersprechen sich", " 118,0 mm ",
	} {
		assert.Contains(t, german, want)
	}
	assert.NotContains(t, explained(t, kept(t, "schema1-foam.json"), words.English), "Relief")
	rec.Measurement.Relief = nil
	assert.NotContains(t, explained(t, rec, words.English), "Section")
}

// A record's section needs two points on the grid; without them there is none,
// and no fault.
func TestNoSectionWithoutTwoPoints(t *testing.T) {
	for _, spoil := range []func(m *record.Measurement){
		func(m *record.Measurement) { m.LeftMM = nil },
		func(m *record.Measurement) { m.LeftMM = &[2]float64{-300, 0} },
		func(m *record.Measurement) { m.LeftMM = m.RightMM },
	} {
		rec := kept(t, "schema2-relief.json")
		spoil(&rec.Measurement)
		assert.NotContains(t, explained(t, rec, words.English), "Relief by geometry")
	}
}

// Counted from below, the letters' eighths of each column are the depth there
// to half of one, and the arrows stand under both points.
func TestTheTextSectionIsToScale(t *testing.T) {
	r, err := readingOf(kept(t, "schema2-relief.json"))
	require.NoError(t, err)
	m, ok := r.relief()
	require.True(t, ok)
	s := newTextSection(m.profile)
	lines := s.lines(118, words.English)
	require.LessOrEqual(t, len(lines), textRows+1)
	rows := lines[:len(lines)-1]
	for column := range s.columns {
		filled := 0
		for _, row := range rows {
			if letters := []rune(row); len(letters) > 5+column {
				filled += slices.Index(eighths, letters[5+column])
			}
		}
		depth := float64(len(rows)) - float64(filled)/8 // mm: a row is 1 mm, the first begins at 0
		x := (float64(column) + 0.5) / float64(s.columns) * s.Length()
		assert.InDelta(t, s.DepthAt(x), depth, 1.0/8, "column %d", column)
	}
	points := []rune(lines[len(lines)-1])
	var arrows []float64
	for i, letter := range points {
		if letter == '▲' {
			arrows = append(arrows, (float64(i-5)+0.5)/float64(s.columns)*s.Length())
		}
	}
	require.Len(t, arrows, 2)
	across, _ := s.cell()
	assert.InDelta(t, s.A, arrows[0], across/2)
	assert.InDelta(t, s.B, arrows[1], across/2)
}

// conical gives a record a cone for a relief: 10 mm deep at the origin, 0.25
// mm/mm, with both points on its flanks.
func conical(t *testing.T) record.Record {
	rec := kept(t, "schema2-relief.json")
	r := *rec.Measurement.Relief
	r.U, r.SurfaceMM = nil, nil
	r.Z = make([]int, len(r.Z))
	for k := range r.Z {
		x, y := 2*float64(k%107-53), 2*float64(k/107-34)
		r.Z[k] = int(math.Round(1000 - 25*math.Hypot(x, y)))
	}
	m := &rec.Measurement
	m.Relief = &r
	m.LeftMM, m.RightMM = &[2]float64{-60, 0}, &[2]float64{60, 0}
	return rec
}

func plotted(t *testing.T, rec record.Record) (picture image.Image, svg string) {
	var b bytes.Buffer
	require.NoError(t, Plot(&b, rec, words.English, PNG))
	picture, err := png.Decode(&b)
	require.NoError(t, err)
	var text bytes.Buffer
	require.NoError(t, Plot(&text, rec, words.English, SVG))
	return picture, text.String()
}

// mapRows are the rows of pixels that the map takes.
func mapRows() int { return int(math.Round(mapHeight.Points() / 72 * plotDPI)) }

// places are the pixels of the accent's colour between two rows.
func places(picture image.Image, top, bottom int) (all []image.Point) {
	for y := top; y < bottom; y++ {
		for x := range picture.Bounds().Dx() {
			if c := color.NRGBAModel.Convert(picture.At(x, y)); c == rgb(accent) {
				all = append(all, image.Pt(x, y))
			}
		}
	}
	return all
}

// The map has one scale along both axes: a cone's line of 5 mm is a circle; the
// label stands over it, so its lower half is looked at.
func TestTheMapIsToOneScale(t *testing.T) {
	rec := conical(t)
	for k, z := range rec.Measurement.Relief.Z {
		rec.Measurement.Relief.Z[k] = max(z, 200) // one strong line only
	}
	picture, svg := plotted(t, rec)
	rows := mapRows()
	ring := places(picture, 0, rows)
	require.NotEmpty(t, ring)
	left, right, lowest := ring[0].X, ring[0].X, 0
	for _, p := range ring {
		left, right, lowest = min(left, p.X), max(right, p.X), max(lowest, p.Y)
	}
	sum, n := 0.0, 0.0 // the height of the leftmost and rightmost pixels
	for _, p := range ring {
		if p.X == left || p.X == right {
			sum, n = sum+float64(p.Y), n+1
		}
	}
	radius := float64(right-left) / 2
	assert.Greater(t, radius, 50.0)
	assert.InDelta(t, radius, float64(lowest)-sum/n, 2)
	assert.Contains(t, svg, "Depth below the frame, a line each mm, front up")
}

// The section falls as steeply as the cone, times what its title says.
func TestTheSectionIsAsSteepAsItSays(t *testing.T) {
	picture, svg := plotted(t, conical(t))
	times := 1.0
	if m := regexp.MustCompile(`depth drawn (\d+) times`).FindStringSubmatch(svg); m != nil {
		times, _ = strconv.ParseFloat(m[1], 64)
	} else {
		require.Contains(t, svg, "depth to the same scale")
	}
	rows := mapRows()
	curve := places(picture, rows, picture.Bounds().Dy())
	require.NotEmpty(t, curve)
	lowest, highest := curve[0], curve[0]
	for _, p := range curve {
		if p.Y > lowest.Y {
			lowest = p
		}
		if p.Y < highest.Y {
			highest = p
		}
	}
	slope := float64(lowest.Y-highest.Y) / math.Abs(float64(lowest.X-highest.X))
	assert.InDelta(t, 0.25*times, slope, 0.02*times)
}

// A relief is plotted without a width, too, and with one above it.
func TestAReliefIsPlotted(t *testing.T) {
	rec := kept(t, "schema2-relief.json")
	alone, svg := plotted(t, rec)
	for _, want := range []string{
		"Section, 118.0 ± 0.6 mm; depth drawn 3 times as large; band ± 2 u", "left, 11.3 mm", "right, 12.6 mm",
		">10<",
	} {
		assert.Contains(t, svg, want)
	}
	both, svg := plotted(t, advised(t, rec, fit.Rider{Bikes: oneBike}))
	assert.Contains(t, svg, "saddle width / mm")
	assert.NotContains(t, svg, "dotted-1", "plots travel")
	assert.InDelta(t, 7/2.54*200, both.Bounds().Dy()-alone.Bounds().Dy(), 1)
	var german bytes.Buffer
	require.NoError(t, Plot(&german, rec, words.German, SVG))
	assert.Contains(t, german.String(), "Schnitt, 118,0 ± 0,6 mm; Tiefe 3-fach vergrößert; Band ± 2 u")
}
