package report

import (
	"image/color"
	"math"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/gonum/stat/distuv"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// panel is one bike's part of the plot. Heights are in units of the
// distribution's peak.
type panel struct {
	*plot.Plot
	a         fit.Recommendation
	lang      words.Lang
	low, high float64 // mm, the axis's ends
}

// The heights at which things stand: the peak is at 1, the lines of the stocked
// widths end above it, and their probabilities stand over them.
const (
	lineTop  = 1.12
	labelTop = 1.16
	panelTop = 1.38
)

func newPanel(a fit.Recommendation, i, of int, lang words.Lang) (*plot.Plot, error) {
	u, _ := a.Requirement.Required.Budget.Expanded(0.95)
	p := panel{Plot: plot.New(), a: a, lang: lang}
	p.low, p.high = ladderRange(a.Choice, a.Choice.RequiredMM, math.Max(u, 4))
	p.sans()
	p.Title.Text = p.title(i, of, u)
	p.X.Label.Text, p.Y.Label.Text = p.lang.Text("plot.axis"), p.lang.Text("plot.density")
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = p.low, p.high, 0, panelTop
	p.X.Tick.Marker, p.Y.Tick.Marker = p.ticks(), plot.ConstantTicks(nil)
	for _, add := range []func() error{p.curve, p.rungs} {
		if err := add(); err != nil {
			return nil, words.Fault("error.plot.part", words.Values{"why": err})
		}
	}
	return p.Plot, nil
}

// title says which bike, by its number and use, and what is needed.
func (p panel) title(i, of int, u float64) string {
	title := ""
	if of > 1 {
		title = p.lang.Say("plot.bike", words.Values{"n": i + 1}) + ", "
	}
	if use := p.a.Bike.Use; use != "" {
		title += p.lang.Term(string(use)) + ", "
	}
	return capital(p.lang.Say("plot.needed", words.Values{"bike": title, "width": p.a.Choice.RequiredMM,
		"u": StatedU(p.lang, u)}))
}

// sans sets all text in the sheet's typeface.
func (p panel) sans() {
	face := func(st *text.Style, points vg.Length, weight bool) {
		st.Font = font.Font{Typeface: "Liberation", Variant: "Sans", Size: points}
		if weight {
			st.Font.Weight = xfont.WeightBold
		}
		st.Color = rgb(black)
	}
	face(&p.Title.TextStyle, 10, true)
	face(&p.X.Label.TextStyle, 8.5, false)
	face(&p.Y.Label.TextStyle, 8.5, false)
	face(&p.X.Tick.Label, 8.5, false)
	p.Title.Padding = 4
	p.X.LineStyle.Color, p.X.Tick.LineStyle.Color = rgb(grey), rgb(grey)
	p.X.Padding, p.Y.LineStyle.Width = 0, 0
}

func rgb(in ink) color.Color { return color.NRGBA{uint8(in.r), uint8(in.g), uint8(in.b), 255} }

// ticks stand at the stocked widths.
func (p panel) ticks() plot.ConstantTicks {
	var ticks plot.ConstantTicks
	for _, r := range rungs(p.a.Choice, p.low, p.high) {
		ticks = append(ticks, plot.Tick{Value: r.MM, Label: p.lang.Plain(r.MM)})
	}
	return ticks
}

// requiredDensity is the probability density of the width needed, per mm:
// Student's distribution or the normal one, as the rule takes it (JCGM
// 101:2008, 6.4.9 and 6.4.7).
func requiredDensity(q fit.Requirement) func(mm float64) float64 {
	x, u, nu := q.Required.Value, q.U(), q.Required.Budget.EffectiveDoF()
	if nu > 1e6 {
		return distuv.Normal{Mu: x, Sigma: u}.Prob
	}
	return distuv.StudentsT{Mu: x, Sigma: u, Nu: nu}.Prob
}

// curve is the distribution; what lies beyond the chosen width, and is not
// held by it, has another colour. Without an uncertainty it is a line.
func (p panel) curve() error {
	q := p.a.Requirement
	if q.U() == 0 {
		return p.upright(q.Required.Value, 1, 1.6, accent)
	}
	limit := p.high
	if w := p.a.Choice.WidthMM; w != nil {
		limit = *w
	}
	density, peak := requiredDensity(q), requiredDensity(q)(q.Required.Value)
	held, beyond := p.area(density, peak, p.low, math.Min(limit, p.high)), p.area(density, peak, limit, p.high)
	for _, part := range []struct {
		points plotter.XYs
		fill   ink
	}{{held, tint}, {beyond, ink{226, 184, 170}}} {
		if len(part.points) == 0 {
			continue
		}
		area, err := plotter.NewPolygon(part.points)
		if err != nil {
			return err
		}
		area.Color, area.LineStyle.Width = rgb(part.fill), 0
		p.Add(area)
	}
	line, err := plotter.NewLine(p.outline(density, peak, p.low, p.high))
	if err != nil {
		return err
	}
	line.Color, line.Width = rgb(accent), 1.2
	p.Add(line)
	return nil
}

// outline is the density over its peak, at 400 places between two widths.
func (p panel) outline(density func(float64) float64, peak, from, to float64) plotter.XYs {
	const n = 400
	points := make(plotter.XYs, 0, n+1)
	for i := range n + 1 {
		x := from + (to-from)*float64(i)/n
		points = append(points, plotter.XY{X: x, Y: density(x) / peak})
	}
	return points
}

// area is the outline closed along the axis; none where it has no width.
func (p panel) area(density func(float64) float64, peak, from, to float64) plotter.XYs {
	if !(to > from) {
		return nil
	}
	points := p.outline(density, peak, from, to)
	return append(append(plotter.XYs{{X: from, Y: 0}}, points...), plotter.XY{X: to, Y: 0})
}

// upright is a line from the axis to a height.
func (p panel) upright(x, height float64, width vg.Length, in ink) error {
	line, err := plotter.NewLine(plotter.XYs{{X: x, Y: 0}, {X: x, Y: height}})
	if err != nil {
		return err
	}
	line.Color, line.Width = rgb(in), width
	p.Add(line)
	return nil
}

// rungs are the stocked widths: a line each, and over it the probability that
// it is wide enough.
func (p panel) rungs() error {
	for _, r := range rungs(p.a.Choice, p.low, p.high) {
		width, in := vg.Length(0.7), grey
		word := ""
		switch {
		case r.Chosen:
			width, in, word = 2, accent, p.lang.Text("width.chosen")
		case r.Other && p.a.Choice.Verdict == fit.OutsideStock:
			width, in, word = 1.4, accent, p.lang.Text("width.order")
		case r.Other && p.a.Choice.Verdict == fit.BetweenSizes:
			width, in, word = 1.4, accent, p.lang.Text("width.other")
		}
		if err := p.upright(r.MM, lineTop, width, in); err != nil {
			return err
		}
		if err := p.label(r.MM, labelTop, p.lang.Percent(p.a.Requirement.ProbabilityWithin(r.MM)), in,
			width > 1); err != nil {
			return err
		}
		if word == "" {
			continue
		}
		if err := p.label(r.MM, labelTop+0.1, word, in, false); err != nil {
			return err
		}
	}
	return nil
}

func (p panel) label(x, y float64, words string, in ink, bold bool) error {
	labels, err := plotter.NewLabels(plotter.XYLabels{XYs: plotter.XYs{{X: x, Y: y}}, Labels: []string{words}})
	if err != nil {
		return err
	}
	st := &labels.TextStyle[0]
	st.Font = font.Font{Typeface: "Liberation", Variant: "Sans", Size: 8.5}
	if bold {
		st.Font.Weight = xfont.WeightBold
	}
	st.XAlign, st.YAlign, st.Color = draw.XCenter, draw.YBottom, rgb(in)
	p.Add(labels)
	return nil
}
