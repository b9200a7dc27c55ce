package report

import (
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/contour"
)

// The heights of a relief's panels: the map's holds a window of 212 x 136 mm at
// the plot's width.
const (
	mapHeight     = 11.4 * vg.Centimeter
	sectionHeight = 5.6 * vg.Centimeter
)

// strongest is how many steps lie between the stronger contour lines, and
// between the ticks that have a number.
const strongest = 5

// reliefPlot is a panel of a relief.
type reliefPlot struct {
	*plot.Plot
	measuredRelief
	lang    words.Lang
	spacing string // with its U
}

// reliefPanels are the contour map and the section; none without a relief.
func (r reading) reliefPanels(lang words.Lang) ([]plotPanel, error) {
	s, ok := r.relief()
	if !ok {
		return nil, nil
	}
	p := reliefPlot{
		measuredRelief: s,
		lang:           lang,
		spacing:        lang.Number(*r.m.Spacing, 1) + " mm",
	}
	if r.m.U != nil {
		p.spacing = lang.Number(*r.m.Spacing, 1) + " " + plusMinus(lang, *r.m.U)
	}
	contours, err := p.contourMap()
	if err != nil {
		return nil, words.Fault("error.plot.part", words.Values{"why": err})
	}
	section, err := p.sectionPlot()
	if err != nil {
		return nil, words.Fault("error.plot.part", words.Values{"why": err})
	}
	return []plotPanel{{mapHeight, contours}, {sectionHeight, section}}, nil
}

// blank is a panel in the plot's own type, y downward.
func (p reliefPlot) blank(title, x, y string) reliefPlot {
	p.Plot = plot.New()
	panel{Plot: p.Plot}.sans()
	p.Title.Text, p.X.Label.Text, p.Y.Label.Text = title, x, y
	p.Y.Scale = plot.InvertedScale{Normalizer: plot.LinearScale{}}
	p.Y.Tick.Label.Font, p.Y.Tick.Label.Color = p.X.Tick.Label.Font, p.X.Tick.Label.Color
	p.Y.LineStyle.Width, p.Y.LineStyle.Color = p.X.LineStyle.Width, rgb(grey)
	p.Y.Tick.LineStyle.Color = rgb(grey)
	p.Y.Padding = 0
	return p
}

// contourMap is the relief seen from above, to one scale along both axes.
func (p reliefPlot) contourMap() (func(draw.Canvas), error) {
	p = p.blank(p.lang.Text("relief.map"), p.lang.Text("relief.across"), p.lang.Text("relief.down"))
	least, largest, _ := p.grid.Range()
	for level := int(math.Ceil(least)); level <= int(math.Floor(largest)); level++ {
		width, in := vg.Length(0.5), ink{120, 160, 164}
		if level%strongest == 0 {
			width, in = 1.3, accent
		}
		for _, line := range p.grid.Lines(float64(level)) {
			if err := p.line(xysOf(line), width, in, nil); err != nil {
				return nil, err
			}
			if level%strongest == 0 && line.Length() > 40 {
				if err := p.words(middleOf(line), strconv.Itoa(level), accent, true); err != nil {
					return nil, err
				}
			}
		}
	}
	samples := p.profile.Samples
	ends := plotter.XYs{
		{X: samples[0].X, Y: samples[0].Y},
		{X: samples[len(samples)-1].X, Y: samples[len(samples)-1].Y},
	}
	if err := p.line(ends, 0.7, grey, []vg.Length{3, 3}); err != nil {
		return nil, err
	}
	halfX, halfY := p.grid.X(p.Columns-1), p.grid.Y(p.Rows-1)
	// The words stand at the rear, off the dents, and the lines give way.
	for _, at := range []contour.Point{p.left, p.right} {
		if err := p.ground(at.X, halfY-1); err != nil {
			return nil, err
		}
	}
	if err := p.points([2]contour.Point{p.left, p.right}, [2]float64{halfY - 1, halfY - 1}); err != nil {
		return nil, err
	}
	return func(c draw.Canvas) {
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = -halfX, halfX, -halfY, halfY
		p.X.Tick.Marker, p.Y.Tick.Marker = numbered(-halfX, halfX, 10), numbered(-halfY, halfY, 10)
		w, h := p.dataSize(c)
		// The narrower scale holds for both axes.
		mm := math.Max(2*halfX/w, 2*halfY/h)
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = -mm*w/2, mm*w/2, -mm*h/2, mm*h/2
		p.Draw(c)
	}, nil
}

// ground is a white ground for a point's words over a place of the map, mm.
func (p reliefPlot) ground(x, y float64) error {
	const half, height = 16, 6
	area, err := plotter.NewPolygon(plotter.XYs{
		{X: x - half, Y: y}, {X: x + half, Y: y}, {X: x + half, Y: y - height}, {X: x - half, Y: y - height},
	})
	if err != nil {
		return err
	}
	area.Color, area.LineStyle.Width = rgb(white), 0
	p.Add(area)
	return nil
}

// middleOf is where a line is labelled: nearest to the front, where the map has
// most room.
func middleOf(line contour.Line) (at plotter.XY) {
	at.Y = math.Inf(1)
	for _, q := range line {
		if q.Y < at.Y {
			at = plotter.XY{X: q.X, Y: q.Y}
		}
	}
	return at
}

// dataSize is the room in points of what lies between a panel's axes.
func (p reliefPlot) dataSize(c draw.Canvas) (w, h float64) {
	size := p.DataCanvas(c).Size()
	return float64(size.X), float64(size.Y)
}

// sectionPlot is the section through both deepest points, its depth so many
// times as large as its length as the title says.
func (p reliefPlot) sectionPlot() (func(draw.Canvas), error) {
	p = p.blank(p.spacing, p.lang.Text("relief.along"), p.lang.Text("relief.depth"))
	if err := p.curve(); err != nil {
		return nil, err
	}
	top, bottom := p.profile.Range()
	return func(c draw.Canvas) {
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = -p.profile.A, p.profile.Length()-p.profile.A, top, bottom
		p.X.Tick.Marker, p.Y.Tick.Marker = numbered(p.X.Min, p.X.Max, 10), numbered(top, bottom, 1)
		w, h := p.dataSize(c)
		times := p.profile.Exaggeration(w, h)
		p.Title.Text = p.lang.Say("relief.section_equal", words.Values{"spacing": p.spacing})
		if times != 1 {
			values := words.Values{"times": times, "spacing": p.spacing}
			p.Title.Text = p.lang.Say("relief.section_times", values)
		}
		p.Y.Max = p.Y.Min + h*p.profile.Length()/w/times
		p.Draw(c)
	}, nil
}

// curve is the section with its band and both deepest points.
func (p reliefPlot) curve() error {
	var line, upper, lower plotter.XYs
	for i, s := range p.profile.Samples {
		x, wide := s.Along-p.profile.A, p.profile.Band(i)
		line = append(line, plotter.XY{X: x, Y: s.Z})
		upper = append(upper, plotter.XY{X: x, Y: s.Z - wide})
		lower = append(lower, plotter.XY{X: x, Y: s.Z + wide})
	}
	for i := len(lower) - 1; i >= 0; i-- {
		upper = append(upper, lower[i])
	}
	band, err := plotter.NewPolygon(upper)
	if err != nil {
		return err
	}
	band.Color, band.LineStyle.Width = rgb(tint), 0
	p.Add(band)
	if err := p.line(line, 1.3, accent, nil); err != nil {
		return err
	}
	if s := p.SurfaceMM; s != nil {
		ends := plotter.XYs{{X: -p.profile.A, Y: *s}, {X: p.profile.Length() - p.profile.A, Y: *s}}
		if err := p.line(ends, 0.6, grey, []vg.Length{4, 3}); err != nil {
			return err
		}
	}
	// The words stand in the dents' hollows, half-way down.
	a, b := p.profile.DepthAt(p.profile.A), p.profile.DepthAt(p.profile.B)
	return p.points([2]contour.Point{{X: 0, Y: a}, {X: p.profile.B - p.profile.A, Y: b}},
		[2]float64{a / 2, b / 2})
}

// points marks both deepest points by crosses, and writes their sides and
// depths at their x and the heights y.
func (p reliefPlot) points(at [2]contour.Point, y [2]float64) error {
	for i, along := range []float64{p.profile.A, p.profile.B} {
		cross, err := plotter.NewScatter(plotter.XYs{{X: at[i].X, Y: at[i].Y}})
		if err != nil {
			return err
		}
		cross.GlyphStyle = draw.GlyphStyle{Color: rgb(warning), Radius: 4, Shape: draw.PlusGlyph{}}
		p.Add(cross)
		said := p.lang.Text([]string{"side.left", "side.right"}[i])
		said += ", " + p.lang.Number(p.profile.DepthAt(along), 1) + " mm"
		if err := p.words(plotter.XY{X: at[i].X, Y: y[i]}, said, warning, false); err != nil {
			return err
		}
	}
	return nil
}

// line adds a line, dashed where dashes are given.
func (p reliefPlot) line(points plotter.XYs, width vg.Length, in ink, dashes []vg.Length) error {
	line, err := plotter.NewLine(points)
	if err != nil {
		return err
	}
	line.Color, line.Width, line.Dashes = rgb(in), width, dashes
	p.Add(line)
	return nil
}

// words adds a text over a place.
func (p reliefPlot) words(at plotter.XY, text string, in ink, bold bool) error {
	return panel{Plot: p.Plot}.label(at.X, at.Y, text, in, bold)
}

func xysOf(line contour.Line) plotter.XYs {
	points := make(plotter.XYs, len(line))
	for i, q := range line {
		points[i] = plotter.XY{X: q.X, Y: q.Y}
	}
	return points
}

// numbered are ticks a step apart, every fifth with its number.
func numbered(low, high, step float64) (ticks plot.ConstantTicks) {
	for k := int(math.Ceil(low / step)); float64(k)*step <= high; k++ {
		t := plot.Tick{Value: float64(k) * step}
		if k%strongest == 0 {
			t.Label = words.English.Plain(t.Value) // whole numbers read alike in all languages
		}
		ticks = append(ticks, t)
	}
	return ticks
}
