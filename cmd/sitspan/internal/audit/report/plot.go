package report

import (
	"bytes"
	"cmp"
	"fmt"
	"image/color"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/words"
)

// Plots' measures. The page scales them; on paper they fill a text's width.
const (
	plotWidth  = 17 * vg.Centimeter
	plotHeight = 8.5 * vg.Centimeter
	plotType   = 8 // pt
	// mostPoints bounds a plot's points; of more, every so many is drawn, in the
	// order of the files' names.
	mostPoints = 4000
)

// inks are the colours of fitters: to be told apart by colour-blind eyes, too
// (Okabe and Ito's set, checked against public copies), each with a shape of its own.
var inks = []color.NRGBA{
	{0x00, 0x72, 0xb2, 0xc0},
	{0xd5, 0x5e, 0x00, 0xc0},
	{0x00, 0x9e, 0x73, 0xc0},
	{0xcc, 0x79, 0xa7, 0xc0},
	{0xe6, 0x9f, 0x00, 0xc0},
	{0x56, 0xb4, 0xe9, 0xc0},
}

// shapes and signs are the same, in the plot and in the line below it.
var (
	shapes = []draw.GlyphDrawer{
		draw.CircleGlyph{},
		draw.PyramidGlyph{},
		draw.BoxGlyph{},
		draw.TriangleGlyph{},
		draw.RingGlyph{},
		draw.SquareGlyph{},
	}
	signs = []string{"●", "▲", "■", "△", "○", "□"}
)

// key is a fitter's sign below a plot.
type key struct{ Name, Sign, Colour string }

// keysOf tells the fitters' signs, in the order in which scatterByFitter draws.
func (s speech) keysOf(pairs []*statistics.Pair) (keys []key) {
	for i, name := range statistics.SortedNames(statistics.PartsOf(pairs, s.fitterName)) {
		c := inks[i%len(inks)]
		keys = append(keys, key{name, signs[i%len(signs)], fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)})
	}
	return keys
}

var (
	inkText   = color.NRGBA{0x22, 0x2a, 0x35, 0xff}
	inkBand   = color.NRGBA{0x9a, 0xa5, 0xb1, 0x50}
	inkLine   = color.NRGBA{0x22, 0x2a, 0x35, 0xff}
	inkGrid   = color.NRGBA{0xdd, 0xe1, 0xe6, 0xff}
	inkColumn = color.NRGBA{0x5b, 0x8d, 0xb8, 0xff}
)

// newPlot is an empty plot in the report's type.
func (s speech) newPlot(x, y string) *plot.Plot {
	p := plot.New()
	face := font.Font{Typeface: "Liberation", Variant: "Sans"}
	p.TextHandler = text.Plain{Fonts: font.NewCache(liberation.Collection())}
	for _, s := range []*text.Style{&p.X.Label.TextStyle, &p.Y.Label.TextStyle, &p.X.Tick.Label,
		&p.Y.Tick.Label} {
		s.Font, s.Color, s.Handler = face, inkText, p.TextHandler
		s.Font.Size = plotType
	}
	p.X.Label.Text, p.Y.Label.Text = x, y
	p.X.Padding, p.Y.Padding = 4, 4
	p.X.Tick.Marker, p.Y.Tick.Marker = plainTicks(s), plainTicks(s)
	grid := plotter.NewGrid()
	grid.Vertical.Color, grid.Horizontal.Color = inkGrid, inkGrid
	p.Add(grid)
	return p
}

// differencePlot is Bland and Altman's: each difference over the mean of the two,
// the bias and the limits of agreement with their intervals as bands.
func (s speech) differencePlot(pairs []*statistics.Pair, a *statistics.Agreement) (string, error) {
	p := s.newPlot(s.say("plot.mean", nil), s.say("plot.difference", nil))
	if a != nil {
		low, high := math.Inf(1), math.Inf(-1)
		for _, r := range pairs {
			m := (r.Old + r.Now) / 2
			low, high = math.Min(low, m), math.Max(high, m)
		}
		for _, l := range []struct {
			at     float64
			band   statistics.Interval
			dashed bool
		}{{a.Upper, a.UpperInterval, true}, {a.Bias, a.BiasInterval, false}, {a.Lower, a.LowerInterval, true}} {
			if err := s.level(p, l.at, l.band, low, high+(high-low)/12, l.dashed); err != nil {
				return "", err
			}
		}
	}
	err := s.scatterByFitter(p, pairs, func(p *statistics.Pair) float64 { return (p.Old + p.Now) / 2 })
	if err != nil {
		return "", err
	}
	return svgOf(p, s.say("plot.differences", nil))
}

// level draws a line across, with its confidence band and its value.
func (s speech) level(
	p *plot.Plot,
	at float64,
	band statistics.Interval,
	low, high float64,
	dashed bool,
) error {
	area, err := plotter.NewPolygon(
		plotter.XYs{{X: low, Y: band[0]}, {X: high, Y: band[0]}, {X: high, Y: band[1]}, {X: low, Y: band[1]}},
	)
	if err != nil {
		return err
	}
	area.Color, area.LineStyle.Width = inkBand, 0
	line, err := plotter.NewLine(plotter.XYs{{X: low, Y: at}, {X: high, Y: at}})
	if err != nil {
		return err
	}
	line.Color, line.Width = inkLine, 1.2
	if dashed {
		line.Dashes = []vg.Length{5, 3}
	}
	label, err := plotter.NewLabels(
		plotter.XYLabels{XYs: plotter.XYs{{X: high, Y: at}}, Labels: []string{s.signed(at)}},
	)
	if err != nil {
		return err
	}
	label.TextStyle[0].Font = p.X.Tick.Label.Font
	label.TextStyle[0].Color, label.TextStyle[0].XAlign, label.TextStyle[0].YAlign = inkText, draw.XRight,
		draw.YBottom
	label.Offset = vg.Point{X: -2, Y: 1.5}
	p.Add(area, line, label)
	return nil
}

// scatterByFitter draws the differences, a colour and a shape a fitter.
func (s speech) scatterByFitter(
	p *plot.Plot,
	pairs []*statistics.Pair,
	x func(*statistics.Pair) float64,
) error {
	parts := statistics.PartsOf(pairs, s.fitterName)
	every := len(pairs)/mostPoints + 1
	for i, name := range statistics.SortedNames(parts) {
		var points plotter.XYs
		for k := 0; k < len(parts[name]); k += every {
			points = append(points, plotter.XY{X: x(parts[name][k]), Y: parts[name][k].Difference})
		}
		s, err := plotter.NewScatter(points)
		if err != nil {
			return err
		}
		s.GlyphStyle = draw.GlyphStyle{Color: inks[i%len(inks)], Radius: 1.8, Shape: shapes[i%len(shapes)]}
		p.Add(s)
	}
	return nil
}

// fitterName is the fitter's name, or words for none.
func (s speech) fitterName(p *statistics.Pair) string {
	return cmp.Or(p.Fitter, s.say("fitter_unnamed", nil))
}

// driftPlot is the differences over time with each fitter's line, which outliers
// are not in; empty where nothing is dated.
func (s speech) driftPlot(
	pairs []*statistics.Pair,
	found []statistics.Drift,
	outliers map[int]bool,
) (string, error) {
	dated := statistics.Dated(pairs)
	if len(dated) < 2 || len(found) == 0 {
		return "", nil
	}
	p := s.newPlot(s.say("plot.date", nil), s.say("plot.difference", nil))
	p.X.Tick.Marker = yearTicks{}
	if err := s.scatterByFitter(p, dated, yearNumber); err != nil {
		return "", err
	}
	parts := statistics.PartsOf(dated, s.fitterName)
	for i, name := range statistics.SortedNames(parts) {
		if err := driftLine(
			p,
			statistics.WithoutPlaces(parts[name], outliers),
			inks[i%len(inks)],
		); err != nil {
			return "", err
		}
	}
	return svgOf(p, s.say("plot.over_time", nil))
}

// driftLine draws a fitter's line over the time of the readings.
func driftLine(p *plot.Plot, pairs []*statistics.Pair, ink color.NRGBA) error {
	var x, y []float64
	for _, r := range pairs {
		x, y = append(x, yearNumber(r)), append(y, r.Difference)
	}
	line, ok := statistics.DriftLine(pairs)
	if !ok {
		return nil
	}
	mx, my := stat.Mean(x, nil), stat.Mean(y, nil)
	low, high := slices.Min(x), slices.Max(x)
	l, err := plotter.NewLine(
		plotter.XYs{{X: low, Y: my + line.Slope*(low-mx)}, {X: high, Y: my + line.Slope*(high-mx)}},
	)
	if err != nil {
		return err
	}
	ink.A = 0xff
	l.Color, l.Width = ink, 1.6
	p.Add(l)
	return nil
}

func yearNumber(p *statistics.Pair) float64 { return 1970 + p.Years() }

// yearTicks puts whole years under an axis.
type yearTicks struct{}

// Ticks are at most about a dozen years; plot calls it.
func (yearTicks) Ticks(low, high float64) (ticks []plot.Tick) {
	step := math.Ceil((high - low) / 12)
	for y := math.Ceil(low); y <= high; y += math.Max(1, step) {
		ticks = append(ticks, plot.Tick{Value: y, Label: fmt.Sprintf("%.0f", y)})
	}
	return ticks
}

// plainTicks writes numbers as the text does: 5, not 5.00, and a true minus.
type plainTicks struct{ lang words.Lang }

// mostTicks is how many steps an axis has at most.
const mostTicks = 8

// Ticks are at every 1, 2 or 5 times a power of ten; plot calls it.
func (t plainTicks) Ticks(low, high float64) (ticks []plot.Tick) {
	if !(high > low) {
		return plot.DefaultTicks{}.Ticks(low, high)
	}
	step := math.Pow(10, math.Floor(math.Log10((high-low)/mostTicks)))
	for _, times := range []float64{1, 2, 5, 10} {
		if (high-low)/(times*step) <= mostTicks {
			step *= times
			break
		}
	}
	for k := math.Ceil(low / step); k*step <= high; k++ {
		text := fmt.Sprintf("%.6g", k*step+0)
		_, fraction, _ := strings.Cut(text, ".")
		label := t.lang.Number(k*step+0, len(fraction))
		ticks = append(ticks, plot.Tick{Value: k * step, Label: label})
	}
	return ticks
}

// uncertaintyPlot is the histogram of the new measurements' U, of which so many
// are there of each.
func (s speech) uncertaintyPlot(counts map[float64]int) (string, error) {
	var us plotter.XYs // by value and number
	files := 0
	for _, u := range slices.Sorted(maps.Keys(counts)) {
		us = append(us, plotter.XY{X: u, Y: float64(counts[u])})
		files += counts[u]
	}
	if files == 0 {
		return "", nil
	}
	p := s.newPlot(s.say("plot.u", nil), s.say("plot.files", nil))
	h, err := plotter.NewHistogram(us, histogramBins(files))
	if err != nil {
		return "", err
	}
	h.FillColor, h.LineStyle.Color, h.LineStyle.Width = inkColumn, color.White, 0.5
	p.Add(h)
	p.X.Min, p.Y.Min = 0, 0
	p.Y.Tick.Marker = wholeTicks{p.Y.Tick.Marker}
	return svgOf(p, s.say("plot.histogram", nil))
}

// histogramBins is about the square root of the count, so that a bin holds some.
func histogramBins(n int) int { return max(1, min(40, int(math.Sqrt(float64(n))))) }

// wholeTicks leaves an axis of counts its whole numbers.
type wholeTicks struct{ plot.Ticker }

// Ticks drops labels of parts of a file; plot calls it.
func (w wholeTicks) Ticks(low, high float64) []plot.Tick {
	return slices.DeleteFunc(
		w.Ticker.Ticks(low, high),
		func(t plot.Tick) bool { return t.Value != math.Trunc(t.Value) },
	)
}

// roomy leaves room round the points, but none beyond a count's or an
// uncertainty's zero.
func roomy(a *plot.Axis) {
	room := 0.03 * (a.Max - a.Min)
	a.Max += room
	if a.Min != 0 {
		a.Min -= room
	}
}

var (
	svgHead  = regexp.MustCompile(`(?s)^.*?<svg[^>]*?viewBox="([^"]*)"[^>]*>`)
	svgFonts = regexp.MustCompile(`font-family:[^;"]*`)
)

// svgOf draws a plot as an element to stand in a page: as wide as its place, with
// a name for those who cannot see it.
func svgOf(p *plot.Plot, name string) (string, error) {
	roomy(&p.X)
	roomy(&p.Y)
	c := vgsvg.New(plotWidth, plotHeight)
	p.Draw(draw.New(c))
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return "", err
	}
	s := svgFonts.ReplaceAllString(b.String(), "font-family:Liberation Sans,Arial,Helvetica,sans-serif")
	head := svgHead.FindStringSubmatch(s)
	if head == nil {
		return "", fmt.Errorf("the plot %q came out as no SVG", name)
	}
	return fmt.Sprintf(
		`<svg class="plot" role="img" aria-label="%s" viewBox="%s" xmlns="http://www.w3.org/2000/svg">`,
		name,
		head[1],
	) + s[len(head[0]):], nil
}
