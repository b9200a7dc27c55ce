package report

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// PlotFormat is a plot's kind of file.
type PlotFormat string

// The plot's kinds of file.
const (
	SVG PlotFormat = "svg"
	PNG PlotFormat = "png"
)

// PlotFormatOf reads the kind off a file's ending.
func PlotFormatOf(path string) (PlotFormat, error) {
	switch f := PlotFormat(strings.ToLower(strings.TrimPrefix(filepath.Ext(path), "."))); f {
	case SVG, PNG:
		return f, nil
	}
	return "", fmt.Errorf("%s: a plot is written as .svg or .png", path)
}

// The plot's size on paper, and a PNG's density.
const (
	plotWidth   = 16 * vg.Centimeter
	panelHeight = 7 * vg.Centimeter
	plotDPI     = 200
)

// errNoPlot is the error of a record without a width.
var errNoPlot = errors.New("there is no width to plot: no posture was given; give --bike, or --trunk or --allowance")

// WidthPlot draws the distribution of the width needed over the stocked widths,
// a panel for each bike. Neither the rider's alias nor a bike's own name is in
// it: plots travel.
func WidthPlot(w io.Writer, rec record.Record, lang words.Lang, format PlotFormat) error {
	r, err := readingOf(rec)
	if err != nil {
		return err
	}
	if len(r.advice) == 0 {
		return errNoPlot
	}
	rows := len(r.advice)
	height := panelHeight * vg.Length(rows)
	var c vg.CanvasWriterTo
	switch format {
	case SVG:
		c = vgsvg.New(plotWidth, height)
	case PNG:
		c = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(plotWidth, height), vgimg.UseDPI(plotDPI))}
	default:
		return fmt.Errorf("a plot is written as svg or png, not as %q", format)
	}
	whole := draw.New(c)
	tiles := draw.Tiles{Cols: 1, Rows: rows, PadTop: 6, PadBottom: 6, PadLeft: 10, PadRight: 14, PadY: 8}
	for i, a := range r.advice {
		panel, err := newPanel(a, i, rows, lang)
		if err != nil {
			return err
		}
		panel.Draw(tiles.At(whole, 0, i))
	}
	_, err = c.WriteTo(w)
	return err
}
