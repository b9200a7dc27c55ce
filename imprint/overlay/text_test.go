package overlay

import (
	"image"
	"image/color"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestWrapKeepsWordsAndBounds(t *testing.T) {
	l := lettersOf(false, 20)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(
			rapid.StringMatching(`([a-zäöü±.,]{1,30}[ \n\t]{1,2}){0,30}`),
			rapid.StringN(0, 200, -1),
		).Draw(t, "text")
		room := rapid.Float64Range(25, 600).Draw(t, "room") // px; any letter is narrower than 25
		lines := l.wrap(text, room)
		for _, line := range lines {
			if l.width(line) > room && utf8.RuneCountInString(line) > 1 {
				t.Fatalf("%q is %.1f px wide, room is %.1f", line, l.width(line), room)
			}
		}
		joined := strings.ReplaceAll(strings.Join(lines, ""), " ", "")
		if want := strings.ReplaceAll(plain(text), " ", ""); joined != want {
			t.Fatalf("%q became %q", want, joined)
		}
	})
}

func TestWrap(t *testing.T) {
	l := lettersOf(false, 20)
	cases := []struct {
		text string
		room float64
		want []string
	}{
		{"", 100, nil},
		{"  \n ", 100, nil},
		{"one two", 1000, []string{"one two"}},
		{"one\n two\r\n\tthree", 1000, []string{"one two three"}},
		{"one two", l.width("one"), []string{"one", "two"}},
		// no break between number and unit
		{"one\u00a0two three", l.width("one two"), []string{"one\u00a0two", "three"}},
		{"abcabc", l.width("abc"), []string{"abc", "abc"}},
		{"a\x00b\x1b[31m\u200bc", 1000, []string{"ab[31mc"}},
		{"a\xffb", 1000, []string{"a?b"}},
	}
	for _, c := range cases {
		assert.Equal(t, c.want, l.wrap(c.text, c.room), "%q", c.text)
	}
}

func TestShortened(t *testing.T) {
	l := lettersOf(true, 17)
	assert.Equal(t, "left, 14 mm deep", l.shortened("left, 14\nmm  deep", 500))
	cut := l.shortened("left, 14 mm deep", 80)
	assert.True(t, strings.HasSuffix(cut, "…"), cut)
	assert.True(t, strings.HasPrefix("left, 14 mm deep", strings.TrimSuffix(cut, "…")), cut)
	assert.LessOrEqual(t, l.width(cut), 80.0)
	assert.Empty(t, l.shortened("left", 3))
}

// Long texts are wrapped inside the strip: its margins stay empty.
func TestStripKeepsItsMargins(t *testing.T) {
	long := "a reason that goes on, " + strings.Repeat("and on ", 80) + strings.Repeat("W", 300)
	for _, width := range []int{1, 500, 1200} {
		s := bench(even(width, width, color.NRGBA{90, 90, 90, 255}))
		s.Headline = []string{long, long}
		s.Footer = []string{long}
		s.Rejected[0].Why = long
		s.Left.Label, s.Spacing = long, long
		s.Status = Review
		img := drawn(t, s, width)
		w := img.Rect.Dx()
		margin := int(0.7 * float64(w) / emsAcross)
		for y := width; y < img.Rect.Dy(); y++ {
			for x := range margin {
				require.Equal(t, dark, img.NRGBAAt(x, y), "left margin of %d", width)
				require.Equal(t, dark, img.NRGBAAt(w-1-x, y), "right margin of %d", width)
			}
		}
	}
}

// However much there is to say, the picture stays a picture.
func TestStripIsBounded(t *testing.T) {
	s := bench(even(600, 400, light))
	for range 500 {
		s.Headline = append(s.Headline, strings.Repeat("word ", 400))
		s.Footer = append(s.Footer, strings.Repeat("word ", 400))
		s.Rejected = append(s.Rejected, Rejected{[2]float64{300, 200}, strings.Repeat("word ", 400)})
	}
	img := drawn(t, s, 600)
	most := mostHeadlines*2 + mostReasons*mostRejected + mostFooters + 20 // lines, with the loupes as some 10
	assert.Less(t, img.Rect.Dy(), 400+int(float64(most)*leading*600/emsAcross)+600)
}

func TestWrappedSaysThatMoreIsLost(t *testing.T) {
	l := lettersOf(false, 20)
	assert.Equal(t, []string{"a", "b"}, wrapped(l, []string{"a", "b"}, 100, 2))
	assert.Equal(t, []string{"a", "…"}, wrapped(l, []string{"a", "b", "c"}, 100, 2))
	assert.Nil(t, wrapped(l, nil, 100, 2))
}

// The letters are there: words leave ink between the left and right ends that
// their width claims.
func TestWrite(t *testing.T) {
	c := newCanvas(200, 60, dark)
	l := lettersOf(true, 24)
	c.write(l, 10, 40, "±HÄH")
	c.ink(light)
	box := image.Rectangle{}
	for y := range 60 {
		for x := range 200 {
			if c.img.NRGBAAt(x, y) != dark {
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	assert.InDelta(t, 10, box.Min.X, 3)
	assert.InDelta(t, 10+l.width("±HÄH"), box.Max.X, 3)
	assert.Equal(t, 40, box.Max.Y, "the baseline")
}
