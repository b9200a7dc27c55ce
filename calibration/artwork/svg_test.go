package artwork

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// elementsOf parses XML to its end and returns the attributes and character
// data of all elements by name.
func elementsOf(t *testing.T, svg []byte) map[string][]map[string]string {
	t.Helper()
	decoder := xml.NewDecoder(bytes.NewReader(svg))
	found := map[string][]map[string]string{}
	var open map[string]string
	for {
		token, err := decoder.Token()
		if err == io.EOF {
			return found
		}
		require.NoError(t, err)
		switch e := token.(type) {
		case xml.StartElement:
			open = map[string]string{}
			for _, a := range e.Attr {
				open[a.Name.Local] = a.Value
			}
			found[e.Name.Local] = append(found[e.Name.Local], open)
		case xml.CharData:
			if open != nil {
				open["#text"] += string(e)
			}
		case xml.EndElement:
			open = nil
		}
	}
}

func millimetres(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

func TestSVGIsInMillimetresAndHoldsTheWholeDrawing(t *testing.T) {
	eachDrawing(t, func(t *testing.T, o Options, d *Drawing) {
		var out bytes.Buffer
		require.NoError(t, d.WriteSVG(&out))
		e := elementsOf(t, out.Bytes())
		require.Len(t, e["svg"], 1)
		// ISO 216 and ANSI Y14.1 A, landscape, in mm
		want := map[Paper][3]string{A4: {"297mm", "210mm", "0 0 297 210"},
			Letter: {"279.4mm", "215.9mm", "0 0 279.4 215.9"}}[o.Paper]
		assert.Equal(t, want, [3]string{e["svg"][0]["width"], e["svg"][0]["height"], e["svg"][0]["viewBox"]})
		require.Len(t, e["path"], len(d.Areas))
		require.Len(t, e["line"], len(d.Lines))
		require.Len(t, e["text"], len(d.Texts))
		for i, text := range d.Texts {
			assert.Equal(t, text.String, e["text"][i]["#text"])
		}
	})
}

func TestSVGBarsAre200And150MillimetresEndToEnd(t *testing.T) {
	eachDrawing(t, func(t *testing.T, _ Options, d *Drawing) {
		var out bytes.Buffer
		require.NoError(t, d.WriteSVG(&out))
		along := map[string][2]float64{} // extent of the lowest line along x, the rightmost along y
		far := map[string]float64{}
		for _, l := range elementsOf(t, out.Bytes())["line"] {
			x0, x1 := millimetres(t, l["x1"]), millimetres(t, l["x2"])
			y0, y1 := millimetres(t, l["y1"]), millimetres(t, l["y2"])
			axis, from, to, at := "x", x0, x1, y0
			if x0 == x1 {
				axis, from, to, at = "y", y0, y1, x0
			}
			extent := [2]float64{min(from, to), max(from, to)}
			if at > far[axis] {
				far[axis], along[axis] = at, extent
			} else if at == far[axis] {
				along[axis] = [2]float64{min(along[axis][0], extent[0]), max(along[axis][1], extent[1])}
			}
		}
		const rounding = 1e-4 // both ends are written to 0.0001 mm
		assert.InDelta(t, 200, along["x"][1]-along["x"][0], rounding)
		assert.InDelta(t, 150, along["y"][1]-along["y"][0], rounding)
	})
}

func TestSVGEscapesItsTexts(t *testing.T) {
	d := &Drawing{Title: `a < b & "c"`, Width: 10, Height: 10}
	d.Texts = []Text{{Size: 2, String: "x < y & z"}}
	var out bytes.Buffer
	require.NoError(t, d.WriteSVG(&out))
	e := elementsOf(t, out.Bytes())
	assert.Equal(t, d.Title, e["title"][0]["#text"])
	assert.Equal(t, "x < y & z", e["text"][0]["#text"])
}

func TestTextWidthIsTheSumOfTheFontsAdvances(t *testing.T) {
	// Helvetica's widths in 1/1000 em, which Liberation Sans shares: A 667,
	// digit 556, space 278, bold A 722 (Adobe Core 14 AFM files: the digits seen in a
	// public copy of Helvetica.afm, the rest from memory; the same file settles it)
	cases := []struct {
		text string
		bold bool
		em   float64
	}{
		{"A", false, 0.667}, {"10 0", false, 3*0.556 + 0.278}, {"A", true, 0.722}, {"", false, 0},
	}
	for _, c := range cases {
		got := Text{String: c.text, Bold: c.bold, Size: 10}.width()
		// the sources round each advance to 1/1000 em
		assert.InDelta(t, 10*c.em, got, 10*0.0005*float64(max(1, len(c.text))), c.text)
	}
	assert.Equal(t, "3.1416", number(math.Pi))
	assert.False(t, strings.HasSuffix(number(2.50), "0"))
}
