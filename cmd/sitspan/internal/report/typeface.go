package report

import (
	"strings"
	"sync"
	"unicode"

	"sitspan/cmd/sitspan/internal/words"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/bidi"
	"golang.org/x/text/unicode/norm"
)

// face is Liberation Sans (SIL Open Font License), which is embedded in the
// sheet: Latin, Greek and Cyrillic with all their accents.
type face struct {
	ttf    []byte
	parsed *sfnt.Font

	mu     sync.Mutex
	widths map[rune]float64 // advance in em; -1 where the font has no glyph
}

var faces = sync.OnceValue(func() (f struct{ regular, bold *face }) {
	f.regular, f.bold = newFace(liberationsansregular.TTF), newFace(liberationsansbold.TTF)
	return f
})

func newFace(ttf []byte) *face {
	parsed, err := sfnt.Parse(ttf)
	if err != nil {
		panic("embedded font: " + err.Error()) // a fault of the build
	}
	return &face{ttf: ttf, parsed: parsed, widths: make(map[rune]float64)}
}

// faceFor gives the bold or the regular face.
func faceFor(bold bool) *face {
	if bold {
		return faces().bold
	}
	return faces().regular
}

// advance is a letter's width in em, -1 where the font lacks it.
func (f *face) advance(r rune) float64 {
	f.mu.Lock()
	defer f.mu.Unlock()
	if w, known := f.widths[r]; known {
		return w
	}
	w := -1.0
	var b sfnt.Buffer
	units := fixed.Int26_6(f.parsed.UnitsPerEm())
	if g, err := f.parsed.GlyphIndex(&b, r); err == nil && g != 0 {
		if a, err := f.parsed.GlyphAdvance(&b, g, units<<6, font.HintingNone); err == nil {
			w = float64(a) / 64 / float64(units)
		}
	}
	f.widths[r] = w
	return w
}

// width is a text's width in em, without kerning.
func (f *face) width(text string) float64 {
	sum := 0.0
	for _, r := range text {
		sum += max(0, f.advance(r))
	}
	return sum
}

// composed joins letters and their accents, which a font draws best as one, and
// drops what has no shape (soft hyphens, joiners). A hyphen that must not break
// becomes a hyphen.
func composed(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\u2011':
			return '-'
		case unicode.Is(unicode.Cf, r), unicode.IsControl(r) && !unicode.IsSpace(r):
			return -1
		}
		return r
	}, s)
	return norm.NFC.String(s)
}

// printable says in one line what of a text the sheet's font cannot print. what
// is the end of the key of its name.
func printable(what, text string) error {
	var missing []rune
	for _, r := range composed(text) {
		p, _ := bidi.LookupRune(r)
		rightToLeft := p.Class() == bidi.R || p.Class() == bidi.AL
		lacking := faceFor(false).advance(r) < 0 || faceFor(true).advance(r) < 0
		if (lacking || rightToLeft || r > 0xFFFF) && !unicode.IsSpace(r) {
			missing = append(missing, r)
		}
	}
	if len(missing) == 0 {
		return nil
	}
	missing = missing[:min(len(missing), 4)]
	return words.Fault("error.sheet.letters", words.Values{
		"what": words.Key("error.sheet.letters." + what), "text": text, "letters": string(missing),
	})
}
