package overlay

import (
	"image"
	"math"
	"strings"
	"sync"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// capHeight is the height of a capital letter as a fraction of the em
// (Liberation Sans: 1409 of 2048 units).
const capHeight = 1409.0 / 2048

// leading is the distance of baselines as a fraction of the em.
const leading = 1.3

// fonts are Liberation Sans (SIL Open Font License), parsed once.
var fonts = sync.OnceValues(func() (regular, bold *opentype.Font) {
	parse := func(ttf []byte) *opentype.Font {
		parsed, err := opentype.Parse(ttf)
		if err != nil {
			panic("embedded font: " + err.Error()) // a fault of the build
		}
		return parsed
	}
	return parse(liberationsansregular.TTF), parse(liberationsansbold.TTF)
})

// letters are a font at a size. They serve one goroutine.
type letters struct {
	face font.Face
	em   float64 // px
}

// lettersOf makes the regular or the bold font at em px.
func lettersOf(bold bool, em float64) letters {
	f, heavy := fonts()
	if bold {
		f = heavy
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: em, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic("embedded font: " + err.Error()) // NewFace fails on no input of ours
	}
	return letters{face, em}
}

// width is a line's length in px.
func (l letters) width(line string) float64 {
	return float64(font.MeasureString(l.face, line)) / 64
}

// line is the distance of baselines in px.
func (l letters) line() float64 { return leading * l.em }

// write adds a line of text to the canvas, from x on, its baseline at y, px.
func (c *canvas) write(l letters, x, y float64, line string) {
	dot := fixed.Point26_6{X: fixed.Int26_6(math.Round(x * 64)), Y: fixed.Int26_6(math.Round(y * 64))}
	before := rune(-1)
	for _, r := range line {
		if before >= 0 {
			dot.X += l.face.Kern(before, r)
		}
		before = r
		at, mask, from, advance, ok := l.face.Glyph(dot, r)
		if !ok {
			continue
		}
		c.glyph(at, mask, from)
		dot.X += advance
	}
}

// glyph adds a letter's mask to the stencil.
func (c *canvas) glyph(at image.Rectangle, mask image.Image, from image.Point) {
	alpha, ok := mask.(*image.Alpha)
	if !ok {
		return
	}
	b := boxOf(at)
	c.cells(box{b.x0 + 1, b.y0 + 1, b.x1 - 1, b.y1 - 1}, func(x, y float64) float64 {
		p := image.Pt(int(x)-at.Min.X+from.X, int(y)-at.Min.Y+from.Y)
		return float64(alpha.AlphaAt(p.X, p.Y).A) / 255
	})
}

// longest is the number of letters of a text that are looked at.
const longest = 2000

// plain makes a text fit for a line: valid UTF-8, one space for any run of
// spaces and line ends, nothing that cannot be printed. Spaces that forbid a
// break stay.
func plain(text string) string {
	if runes := []rune(text); len(runes) > longest {
		text = string(runes[:longest])
	}
	text = strings.Map(func(r rune) rune {
		switch {
		case r == '\u00a0' || r == '\u202f':
			return '\u00a0'
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsPrint(r):
			return r
		}
		return -1
	}, strings.ToValidUTF8(text, "?"))
	return strings.Join(wordsOf(text), " ")
}

// wordsOf splits a text where a line may break.
func wordsOf(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ' ' })
}

// wrap breaks a text into lines of at most room px, at spaces, and inside a
// word that has no room by itself.
func (l letters) wrap(text string, room float64) (lines []string) {
	line := ""
	for _, word := range wordsOf(plain(text)) {
		joined := strings.TrimLeft(line+" "+word, " ")
		if l.width(joined) <= room {
			line = joined
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		pieces := l.broken(word, room)
		lines = append(lines, pieces[:len(pieces)-1]...)
		line = pieces[len(pieces)-1]
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// broken cuts a word into pieces of at most room px, of a letter at least.
func (l letters) broken(word string, room float64) (pieces []string) {
	start := 0
	for i := range word {
		if i > start && l.width(word[start:i+runeLength(word[i:])]) > room {
			pieces = append(pieces, word[start:i])
			start = i
		}
	}
	return append(pieces, word[start:])
}

// runeLength is the length in bytes of a text's first letter.
func runeLength(text string) int {
	for i := range text {
		if i > 0 {
			return i
		}
	}
	return len(text)
}

// shortened cuts a text to room px, with an ellipsis where something is lost.
func (l letters) shortened(text string, room float64) string {
	text = plain(text)
	if l.width(text) <= room {
		return text
	}
	fits := ""
	for i := range text {
		cut := strings.TrimRight(text[:i], " ") + "…"
		if l.width(cut) > room {
			break
		}
		fits = cut
	}
	return fits
}
