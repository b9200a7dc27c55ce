package report

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
)

// pdfText is a text on a page, as the page's content says: its baseline's
// beginning in mm from the top left, its size in points and its weight.
type pdfText struct {
	x, y, pt float64
	bold     bool
	text     string
	width    float64 // mm
}

// rendered sets a sheet without compression, so that its content can be read.
func rendered(t require.TestingT, rec record.Record, o SheetOptions) []byte {
	doc, err := sheetPDF(rec, o)
	require.NoError(t, err)
	doc.SetCompression(false)
	var buf bytes.Buffer
	require.NoError(t, doc.Output(&buf))
	return buf.Bytes()
}

func pageCount(pdf []byte) int { return bytes.Count(pdf, []byte("/Type /Page\n")) }

// textsIn reads the texts of an uncompressed page of a height in mm: operators
// "/F1 9.00 Tf" (the font), and "x y Td (utf-16) Tj" in points from the bottom.
func textsIn(t require.TestingT, pdf []byte, height float64) []pdfText {
	var texts []pdfText
	var font string
	var pt float64
	fonts := fontNames(pdf)
	_, rest, _ := bytes.Cut(pdf, []byte("stream\n"))
	rest, _, _ = bytes.Cut(rest, []byte("\nendstream")) // the page's content is the first stream
	for {
		tf := bytes.Index(rest, []byte(" Tf ET"))
		tj := bytes.Index(rest, []byte(" Td ("))
		if tj < 0 {
			return texts
		}
		if tf >= 0 && tf < tj {
			fields := strings.Fields(string(rest[max(0, tf-60):tf]))
			font = fields[len(fields)-2]
			pt = number(t, fields[len(fields)-1])
			rest = rest[tf+6:]
			continue
		}
		fields := strings.Fields(string(rest[max(0, tj-60):tj]))
		at := pdfText{pt: pt, bold: fonts[font], x: number(t, fields[len(fields)-2]) * mmPerPoint}
		at.y = height - number(t, fields[len(fields)-1])*mmPerPoint
		at.text, rest = pdfString(rest[tj+5:])
		at.width = style{pt: at.pt, bold: at.bold}.width(at.text)
		texts = append(texts, at)
	}
}

func number(t require.TestingT, s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// fontNames says of each font of the resources whether it is the bold one.
func fontNames(pdf []byte) map[string]bool {
	bold := make(map[string]bool)
	_, fonts, _ := bytes.Cut(pdf, []byte("/Font <<\n"))
	list, _, _ := bytes.Cut(fonts, []byte(">>"))
	for _, line := range strings.Split(strings.TrimSpace(string(list)), "\n") {
		fields := strings.Fields(line) // /Fhash n 0 R
		_, object, _ := bytes.Cut(pdf, []byte(fmt.Sprintf("\n%s 0 obj\n", fields[1])))
		head, _, _ := bytes.Cut(object, []byte("endobj"))
		bold[fields[0]] = bytes.Contains(head, []byte("sansB")) || bytes.Contains(head, []byte("Bold"))
	}
	return bold
}

// pdfString reads an escaped UTF-16 string up to its closing parenthesis.
func pdfString(b []byte) (text string, rest []byte) {
	var raw []byte
	i := 0
	for ; i < len(b) && b[i] != ')'; i++ {
		if b[i] == '\\' {
			i++
			if b[i] == 'r' {
				raw = append(raw, '\r')
				continue
			}
		}
		raw = append(raw, b[i])
	}
	var units []uint16
	for j := 0; j+1 < len(raw); j += 2 {
		units = append(units, uint16(raw[j])<<8|uint16(raw[j+1]))
	}
	return string(utf16.Decode(units)), b[i+1:]
}

// wordsOf is all text of a page, a space between its pieces.
func wordsOf(texts []pdfText) string {
	pieces := make([]string, len(texts))
	for i, t := range texts {
		pieces[i] = t.text
	}
	return strings.Join(pieces, " ")
}

// The reader itself: what was put on a page is read back, with its place, size
// and weight.
func TestPageTextIsReadBack(t *testing.T) {
	s, err := newSheet(kept(t, "schema1-foam.json"), SheetOptions{})
	require.NoError(t, err)
	doc := s.newDocument()
	doc.SetCompression(false)
	c := canvas{doc}
	c.put(20, 30, `Łukasz (a\b)`, style{9, false, black})
	c.put(50.8, 100, "Зоя", style{12, true, black})
	var buf bytes.Buffer
	require.NoError(t, doc.Output(&buf))
	got := textsIn(t, buf.Bytes(), 297)
	require.Len(t, got, 2)
	require.Equal(t, `Łukasz (a\b)`, got[0].text)
	require.InDelta(t, 20, got[0].x, 0.01)
	require.InDelta(t, 30, got[0].y, 0.01)
	require.Equal(t, pdfText{got[1].x, got[1].y, 12, true, "Зоя", got[1].width}, got[1])
	require.InDelta(t, 50.8, got[1].x, 0.01)
	require.InDelta(t, style{12, true, black}.width("Зоя"), got[1].width, 1e-9)
	require.Equal(t, 1, pageCount(buf.Bytes()))
}
