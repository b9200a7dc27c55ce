package artwork

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// svgFonts are fonts of the same widths, in the order of preference; textLength
// holds a text's length where a viewer has none of them.
const svgFonts = "Liberation Sans, Arimo, Arial, Helvetica, sans-serif"

// WriteSVG writes the drawing as SVG 1.1 whose user unit is 1 mm and whose size
// is stated in mm.
func (d *Drawing) WriteSVG(w io.Writer) error {
	var out bytes.Buffer
	fmt.Fprintf(&out, `<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" version="1.1"
 width="%smm" height="%smm" viewBox="0 0 %s %s" xml:lang="%s">
<title>%s</title>
<rect width="100%%" height="100%%" fill="#ffffff"/>
`, number(d.Width), number(d.Height), number(d.Width), number(d.Height), d.Lang, escaped(d.Title))
	for _, area := range d.Areas {
		fmt.Fprintf(&out, "<path fill=\"#000000\" fill-rule=\"evenodd\" d=\"%s\"/>\n", area.svgPath())
	}
	for _, l := range d.Lines {
		level := int(math.Round(255 * float64(l.Shade)))
		fmt.Fprintf(&out, "<line x1=\"%s\" y1=\"%s\" x2=\"%s\" y2=\"%s\" stroke=\"#%02x%02x%02x\" "+
			"stroke-width=\"%s\"/>\n",
			number(l.From.X), number(l.From.Y), number(l.To.X), number(l.To.Y), level, level, level, number(l.Width))
	}
	fmt.Fprintf(&out, "<g font-family=\"%s\" fill=\"#000000\" xml:space=\"preserve\">\n", svgFonts)
	for _, t := range d.Texts {
		out.WriteString(t.svg())
	}
	out.WriteString("</g>\n</svg>\n")
	_, err := w.Write(out.Bytes())
	return err
}

// svgPath is the area's boundary as path data.
func (a Area) svgPath() string {
	var path strings.Builder
	for _, loop := range a.Loops {
		for i, p := range loop {
			command := "L"
			if i == 0 {
				command = "M"
			}
			path.WriteString(command + number(p.X) + " " + number(p.Y))
		}
		path.WriteString("Z")
	}
	return path.String()
}

// svg is the text as an element.
func (t Text) svg() string {
	var more string
	if t.Bold {
		more += ` font-weight="bold"`
	}
	if t.Upward {
		more += fmt.Sprintf(` transform="rotate(-90 %s %s)"`, number(t.At.X), number(t.At.Y))
	}
	return fmt.Sprintf("<text x=\"%s\" y=\"%s\" font-size=\"%s\" textLength=\"%s\"%s>%s</text>\n",
		number(t.At.X), number(t.At.Y), number(t.Size), number(t.width()), more, escaped(t.String))
}

// number writes a length in mm to 0.0001 mm, without trailing zeros.
func number(mm float64) string {
	return strconv.FormatFloat(math.Round(mm*1e4)/1e4, 'f', -1, 64)
}

// escaped is text as XML character data.
func escaped(text string) string {
	var out strings.Builder
	_ = xml.EscapeText(&out, []byte(text)) // a strings.Builder takes every write
	return out.String()
}
