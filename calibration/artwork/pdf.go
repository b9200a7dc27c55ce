package artwork

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// pointsPerMM converts PDF's unit, 1/72 inch: it needs it for font sizes only.
const pointsPerMM = 72 / 25.4

// drawn is the date written into a PDF: that of this version of the drawing, so
// that the same options give the same bytes.
var drawn = time.Date(2025, time.November, 1, 0, 0, 0, 0, time.UTC)

// WritePDF writes the drawing as one page of vector art at true size, with its
// fonts embedded and the request to print it unscaled. Coordinates are rounded
// to 0.01 pt (0.0035 mm).
func (d *Drawing) WritePDF(w io.Writer) error {
	doc := fpdf.NewCustom(&fpdf.InitType{
		OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: d.Width, Ht: d.Height},
	})
	doc.SetCatalogSort(true)
	doc.SetCreationDate(drawn)
	doc.SetModificationDate(drawn)
	doc.SetTitle(d.Title, true)
	doc.SetLang(string(d.Lang))
	doc.SetAutoPageBreak(false, 0)
	doc.AddUTF8FontFromBytes("sans", "", faceOf(false).ttf)
	doc.AddUTF8FontFromBytes("sans", "B", faceOf(true).ttf)
	doc.AddPage()
	d.drawOn(doc)
	var plain bytes.Buffer
	if err := doc.Output(&plain); err != nil {
		return fmt.Errorf("drawing the PDF: %w", err)
	}
	unscaled, err := askedUnscaled(plain.Bytes())
	if err != nil {
		return err
	}
	_, err = w.Write(unscaled)
	return err
}

// drawOn draws all shapes on the current page.
func (d *Drawing) drawOn(doc *fpdf.Fpdf) {
	doc.SetFillColor(0, 0, 0)
	for _, area := range d.Areas {
		for _, loop := range area.Loops {
			doc.MoveTo(loop[0].X, loop[0].Y)
			for _, p := range loop[1:] {
				doc.LineTo(p.X, p.Y)
			}
			doc.ClosePath()
		}
		doc.DrawPath("f*")
	}
	for _, l := range d.Lines {
		level := int(math.Round(255 * float64(l.Shade)))
		doc.SetDrawColor(level, level, level)
		doc.SetLineWidth(l.Width)
		doc.Line(l.From.X, l.From.Y, l.To.X, l.To.Y)
	}
	doc.SetTextColor(0, 0, 0)
	for _, t := range d.Texts {
		t.drawOn(doc)
	}
}

// drawOn draws one text on the current page.
func (t Text) drawOn(doc *fpdf.Fpdf) {
	style := ""
	if t.Bold {
		style = "B"
	}
	doc.SetFont("sans", style, t.Size*pointsPerMM)
	if !t.Upward {
		doc.Text(t.At.X, t.At.Y, t.String)
		return
	}
	doc.TransformBegin()
	doc.TransformRotate(90, t.At.X, t.At.Y)
	doc.Text(t.At.X, t.At.Y, t.String)
	doc.TransformEnd()
}

// askedUnscaled adds to a PDF's catalog the preference that its print dialog
// starts without page scaling (ISO 32000-1:2008, table 150, PrintScaling, from
// memory). The catalog is the last object before the cross-reference table, so
// only that table's own offset moves.
func askedUnscaled(pdf []byte) ([]byte, error) {
	const preference = "/ViewerPreferences << /PrintScaling /None >>\n"
	head, tail, ok := cutLast(pdf, "/Type /Catalog\n")
	body, end, ok2 := cutLast(tail, "startxref\n")
	line, rest, ok3 := bytes.Cut(end, []byte("\n"))
	offset, err := strconv.Atoi(string(line))
	if !ok || !ok2 || !ok3 || err != nil || bytes.Contains(body, []byte("ViewerPreferences")) {
		return nil, fmt.Errorf("drawing the PDF: its catalog is not where it was expected")
	}
	out := bytes.NewBuffer(nil)
	out.Write(head)
	out.WriteString(preference)
	out.Write(body)
	fmt.Fprintf(out, "%d\n", offset+len(preference))
	out.Write(rest)
	return bytes.Replace(out.Bytes(), []byte("%PDF-1.3"), []byte("%PDF-1.6"), 1), nil
}

// cutLast splits after the last occurrence of a separator, which stays with the
// first part.
func cutLast(data []byte, separator string) (before, after []byte, found bool) {
	i := bytes.LastIndex(data, []byte(separator))
	if i < 0 {
		return data, nil, false
	}
	i += len(separator)
	return data[:i], data[i:], true
}
