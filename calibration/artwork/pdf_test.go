package artwork

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
)

// onePoint is 1/72 inch, PDF's unit, in mm.
const onePoint = 25.4 / 72

// pdfOf renders a drawing.
func pdfOf(t *testing.T, d *Drawing) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, d.WritePDF(&out))
	return out.Bytes()
}

// pageStream inflates the first stream of the file, which is the page's.
func pageStream(t *testing.T, pdf []byte) []byte {
	t.Helper()
	_, rest, found := bytes.Cut(pdf, []byte("stream\n"))
	require.True(t, found)
	inflated, err := zlib.NewReader(bytes.NewReader(rest))
	require.NoError(t, err)
	stream, err := io.ReadAll(inflated)
	require.NoError(t, err)
	return stream
}

// stroke is a line of a content stream in points, y up.
type stroke struct{ x0, y0, x1, y1 float64 }

var strokePattern = regexp.MustCompile(`([\d.]+) ([\d.]+) m ([\d.]+) ([\d.]+) l S`)

// strokesOf reads all straight strokes of a content stream.
func strokesOf(t *testing.T, stream []byte) []stroke {
	t.Helper()
	var strokes []stroke
	for _, m := range strokePattern.FindAllSubmatch(stream, -1) {
		var v [4]float64
		for i := range v {
			var err error
			v[i], err = strconv.ParseFloat(string(m[i+1]), 64)
			require.NoError(t, err)
		}
		strokes = append(strokes, stroke{v[0], v[1], v[2], v[3]})
	}
	return strokes
}

func TestPDFPageHasThePapersSize(t *testing.T) {
	cases := []struct{ paper, box, source string }{
		{"a4", "/MediaBox [0 0 841.89 595.28]", "ISO 216: 297 x 210 mm, in 1/72 inch to 0.01"},
		{"letter", "/MediaBox [0 0 792.00 612.00]", "ANSI Y14.1 A: 11 x 8.5 inches of 72 points"},
	}
	for _, c := range cases {
		d, err := Draw(calibration.ControlFrame, Options{Paper: Paper(c.paper)})
		require.NoError(t, err)
		assert.Contains(t, string(pdfOf(t, d)), c.box, c.source)
	}
}

func TestPDFBarsAre200And150MillimetresEndToEnd(t *testing.T) {
	eachDrawing(t, func(t *testing.T, _ Options, d *Drawing) {
		strokes := strokesOf(t, pageStream(t, pdfOf(t, d)))
		require.Len(t, strokes, len(d.Lines))
		lowest, rightmost := strokes[0], strokes[0]
		for _, s := range strokes {
			if s.y0 == s.y1 && s.y0 < lowest.y0 {
				lowest = s
			}
			if s.x0 == s.x1 && s.x0 > rightmost.x0 {
				rightmost = s
			}
		}
		left, right, bottom, top := lowest.x0, lowest.x1, rightmost.y0, rightmost.y0
		for _, s := range strokes {
			if s.y0 == s.y1 && s.y0 == lowest.y0 {
				left, right = min(left, s.x0, s.x1), max(right, s.x0, s.x1)
			}
			if s.x0 == s.x1 && s.x0 == rightmost.x0 {
				bottom, top = min(bottom, s.y0, s.y1), max(top, s.y0, s.y1)
			}
		}
		const rounding = 0.01 * onePoint // each end is written to 0.01 pt
		assert.InDelta(t, 200, (right-left)*onePoint, rounding)
		assert.InDelta(t, 150, (top-bottom)*onePoint, rounding)
		assert.Equal(t, 2, endLines(strokes, func(s stroke) bool {
			return s.x0 == s.x1 && (s.x0 == left || s.x0 == right) && min(s.y0, s.y1) < lowest.y0 &&
				lowest.y0 < max(s.y0, s.y1)
		}), "the long bar ends in the middle of its end lines")
		assert.Equal(t, 2, endLines(strokes, func(s stroke) bool {
			return s.y0 == s.y1 && (s.y0 == bottom || s.y0 == top) && s.x0 < rightmost.x0 && rightmost.x0 < s.x1
		}), "the short bar ends in the middle of its end lines")
	})
}

func endLines(strokes []stroke, is func(stroke) bool) (n int) {
	for _, s := range strokes {
		if is(s) {
			n++
		}
	}
	return n
}

func TestPDFMarksAreOnePathEachAtTrueSize(t *testing.T) {
	d, err := Draw(calibration.ControlFrame, Options{})
	require.NoError(t, err)
	stream := pageStream(t, pdfOf(t, d))
	fills := bytes.Split(stream, []byte("f*\n"))
	require.Len(t, fills, len(d.Areas)+1)
	moves := regexp.MustCompile(`([\d.]+) ([\d.]+) [ml]\n`)
	for i, m := range calibration.ControlFrame.Marks {
		x0, x1 := 1e9, -1e9
		y0, y1 := 1e9, -1e9
		for _, p := range moves.FindAllSubmatch(fills[i], -1) {
			x, _ := strconv.ParseFloat(string(p[1]), 64)
			y, _ := strconv.ParseFloat(string(p[2]), 64)
			x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
		}
		const rounding = 0.01 * onePoint
		corners := m.Corners()
		assert.InDelta(t, corners[0].X+d.Origin.X, x0*onePoint, rounding, "mark %d", m.ID)
		assert.InDelta(t, corners[2].X+d.Origin.X, x1*onePoint, rounding, "mark %d", m.ID)
		assert.InDelta(t, d.Height-corners[0].Y-d.Origin.Y, y1*onePoint, rounding, "mark %d", m.ID)
		assert.InDelta(t, d.Height-corners[2].Y-d.Origin.Y, y0*onePoint, rounding, "mark %d", m.ID)
	}
}

func TestPDFAsksToBePrintedUnscaledAndItsTableStillHolds(t *testing.T) {
	eachDrawing(t, func(t *testing.T, _ Options, d *Drawing) {
		pdf := pdfOf(t, d)
		assert.True(t, bytes.HasPrefix(pdf, []byte("%PDF-1.6\n")))
		assert.Equal(t, 1, bytes.Count(pdf, []byte("/PrintScaling /None")))
		assert.Equal(t, 2, bytes.Count(pdf, []byte("/FontFile2")), "both faces are embedded")

		start := regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`).FindSubmatch(pdf)
		require.NotNil(t, start)
		table, err := strconv.Atoi(string(start[1]))
		require.NoError(t, err)
		require.True(t, bytes.HasPrefix(pdf[table:], []byte("xref\n")))
		entries := regexp.MustCompile(`(\d{10}) 00000 n `).FindAllSubmatch(pdf[table:], -1)
		require.NotEmpty(t, entries)
		for i, e := range entries {
			offset, err := strconv.Atoi(string(e[1]))
			require.NoError(t, err)
			assert.True(t, bytes.HasPrefix(pdf[offset:], []byte(strconv.Itoa(i+1)+" 0 obj")), "object %d", i+1)
		}
	})
}

func TestAskedUnscaledRefusesAFileOfAnotherShape(t *testing.T) {
	for _, pdf := range []string{"", "/Type /Catalog\n", "/Type /Catalog\nstartxref\nmany\n", "startxref\n3\n"} {
		_, err := askedUnscaled([]byte(pdf))
		assert.Error(t, err, "%q", pdf)
	}
}

func TestTheSameOptionsGiveTheSameBytes(t *testing.T) {
	d, err := Draw(calibration.ControlFrame, Options{})
	require.NoError(t, err)
	assert.Equal(t, pdfOf(t, d), pdfOf(t, d))
}
