package artwork

import (
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// capHeight is the height of a capital letter as a fraction of the em, to
// centre digits and capitals on a line (Liberation Sans: 1409 of 2048 units).
const capHeight = 1409.0 / 2048

// typeface is Liberation Sans (SIL Open Font License), whose widths equal those
// of the sans-serif fonts that viewers put in its place. It is embedded in the
// PDF.
type typeface struct {
	ttf    []byte
	parsed *sfnt.Font
}

var faces = sync.OnceValues(func() (regular, bold typeface) {
	parse := func(ttf []byte) typeface {
		parsed, err := sfnt.Parse(ttf)
		if err != nil {
			panic("embedded font: " + err.Error()) // a fault of the build
		}
		return typeface{ttf, parsed}
	}
	return parse(liberationsansregular.TTF), parse(liberationsansbold.TTF)
})

// faceOf returns the regular or the bold face.
func faceOf(bold bool) typeface {
	regular, heavy := faces()
	if bold {
		return heavy
	}
	return regular
}

// width is the advance in mm of a text set at size mm, without kerning.
func (f typeface) width(text string, size float64) float64 {
	var buffer sfnt.Buffer
	units := f.parsed.UnitsPerEm()
	var sum fixed.Int26_6
	for _, r := range text {
		glyph, err := f.parsed.GlyphIndex(&buffer, r)
		if err != nil {
			continue
		}
		advance, err := f.parsed.GlyphAdvance(&buffer, glyph, fixed.Int26_6(units)<<6, font.HintingNone)
		if err == nil {
			sum += advance
		}
	}
	return float64(sum) / 64 / float64(units) * size
}

// width is the text's length along its baseline in mm.
func (t Text) width() float64 { return faceOf(t.Bold).width(t.String, t.Size) }
