package report

import (
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
	return "", words.Fault("error.plot.ending", words.Values{"file": path})
}

// The plot's size on paper, and a PNG's density.
const (
	plotWidth   = 16 * vg.Centimeter
	panelHeight = 7 * vg.Centimeter
	plotDPI     = 200
)

// errNoPlot is the error of a record with nothing to plot.
var errNoPlot = words.Fault("error.plot.none", nil)

// plotPanel is one part of the plot: its height, and how to draw it.
type plotPanel struct {
	height vg.Length
	draw   func(c draw.Canvas)
}

// Plot draws what a record knows: a measured relief's contour map and section,
// and the distribution of the width needed over the stocked widths, a panel for
// each bike. Neither the rider's alias nor a bike's own name is in it: plots
// travel.
func Plot(w io.Writer, rec record.Record, lang words.Lang, format PlotFormat) error {
	r, err := readingOf(rec)
	if err != nil {
		return err
	}
	panels, err := r.reliefPanels(lang)
	if err != nil {
		return err
	}
	for i, a := range r.advice {
		panel, err := newPanel(a, i, len(r.advice), lang)
		if err != nil {
			return err
		}
		panels = append(panels, plotPanel{panelHeight, panel.Draw})
	}
	if len(panels) == 0 {
		return errNoPlot
	}
	return drawPanels(w, panels, format)
}

// drawPanels draws panels below each other.
func drawPanels(w io.Writer, panels []plotPanel, format PlotFormat) error {
	var height vg.Length
	for _, p := range panels {
		height += p.height
	}
	var c vg.CanvasWriterTo
	switch format {
	case SVG:
		c = vgsvg.New(plotWidth, height)
	case PNG:
		c = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(plotWidth, height), vgimg.UseDPI(plotDPI))}
	default:
		return words.Fault("error.plot.format", words.Values{"word": format})
	}
	whole, bottom := draw.New(c), height
	for _, p := range panels {
		bottom -= p.height
		p.draw(draw.Crop(whole, 10, -14, bottom+6, bottom+p.height-6-height))
	}
	_, err := c.WriteTo(w)
	return err
}
