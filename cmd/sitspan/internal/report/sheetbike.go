package report

import (
	"slices"
	"strings"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// bikes sets a card for each of the first bikes, and a line for each further
// one.
func (s *sheet) bikes(y float64) float64 {
	if len(s.advice) == 0 {
		s.line(s.left(), y, s.right(), y, 0.25, pale)
		return s.text(s.left(), y+s.gap(2.5), s.inner(), s.body(), s.lang.Text("sheet.no_width"))
	}
	for i, a := range s.advice[:min(s.cards, len(s.advice))] {
		if i > 0 {
			y += s.gap(3)
		}
		s.line(s.left(), y, s.right(), y, 0.25, pale)
		y = s.card(y+s.gap(2.6), i, a)
	}
	return s.alsoBikes(y)
}

// card is one bike: what is needed, which width, which saddle, and why.
func (s *sheet) card(y float64, i int, a fit.Recommendation) float64 {
	const gutter = 7.0
	first, second := (s.inner()-2*gutter)*0.31, (s.inner()-2*gutter)*0.27
	third := s.inner() - 2*gutter - first - second
	x2 := s.left() + first + gutter
	x3 := x2 + second + gutter
	bottom := max(s.needed(s.left(), y, first, i, a), s.width(x2, y, second, a))
	var said []string
	for _, n := range cardNotes(a) {
		said = append(said, s.cardNote(n))
	}
	bottom = s.text(s.left(), bottom+s.gap(1.4), first+gutter+second, s.small(), strings.Join(said, " "))
	return max(bottom, s.saddle(x3, y, third, a))
}

// cardNotes are the sentences under a card: all that fit says about the choice,
// but where the allowance comes from, which the page says once.
func cardNotes(a fit.Recommendation) []fit.Note {
	quiet := []string{"allowance.default_table", "allowance.shop_table", "allowance.by_hand"}
	return slices.DeleteFunc(slices.Concat(a.Choice.Notes, a.Notes),
		func(n fit.Note) bool { return slices.Contains(quiet, n.Code) })
}

// cardNote is a note's sentence; what it tells the shop is told the rider in
// other words.
func (s *sheet) cardNote(n fit.Note) string {
	if n.Code == "stock.example" {
		return s.lang.Text("sheet.example_stock")
	}
	return s.lang.Note(n.Code, n.Params)
}

// needed is the bike's name, the posture, and the sum of equation (3).
func (s *sheet) needed(x, y, w float64, i int, a fit.Recommendation) float64 {
	name, text := s.head().shrunk(bikeName(a.Bike, i, len(s.advice), s.lang), 2*w, 1)
	y = s.text(x, y, w, name, text)
	y = s.text(x, y+s.gap(0.6), w, s.quiet(), s.postureLine(a.Bike))
	y += s.gap(1.8)
	c := a.Choice
	edge := x + min(w, s.gap(44))
	y = s.sumLine(x, edge, y, s.lang.Text("sheet.sit_bones"), s.lang.Number(a.Requirement.Spacing.Value, 1),
		s.small())
	y = s.sumLine(x, edge, y, "+ "+s.lang.Text("sheet.posture"), s.lang.Number(c.AllowanceMM, 1), s.small())
	s.line(x, y+s.gap(0.4), edge, y+s.gap(0.4), 0.2, grey)
	y += s.gap(0.9)
	st := s.small()
	st.bold = true
	y = s.sumLine(x, edge, y, s.lang.Text("width.needed"), s.lang.Number(c.RequiredMM, 1)+" mm", st)
	u, _ := a.Requirement.Required.Budget.Expanded(0.95)
	if u > 0 {
		s.putRight(edge, y+ascent*s.small().pt*mmPerPoint, plusMinus(s.lang, u), s.quiet())
		y += s.small().height()
	}
	return y
}

// sumLine is a word and a number that ends at the edge.
func (s *sheet) sumLine(x, edge, y float64, what, number string, st style) float64 {
	base := y + ascent*st.pt*mmPerPoint
	s.put(x, base, what, st)
	s.putRight(edge, base, number, st)
	return y + st.height()
}

// postureLine is the use, where the name does not say it, and the posture.
func (s *sheet) postureLine(b fit.Bike) string {
	var parts []string
	if b.Use != "" && oneLine(b.Name) != "" {
		parts = append(parts, s.lang.Term(string(b.Use)))
	}
	if deg, _, ok := b.Posture.TrunkDeg(); ok {
		parts = append(parts, s.lang.Say("posture.trunk", words.Values{"angle": deg}))
	} else {
		parts = append(parts, s.lang.Text("posture.by_hand"))
	}
	return strings.Join(parts, " · ")
}

// width is the width to take, large, and below it where it lies among the
// stocked ones.
func (s *sheet) width(x, y, w float64, a fit.Recommendation) float64 {
	c := a.Choice
	head, value := s.lang.Text("sheet.width"), ""
	switch {
	case c.Verdict == fit.BetweenSizes && c.WidthMM != nil && c.AlternativeMM != nil:
		head, value = s.lang.Text("sheet.between"),
			s.lang.Plain(*c.WidthMM)+" "+s.lang.Text("sheet.or")+" "+s.lang.Plain(*c.AlternativeMM)
	case c.Verdict == fit.OutsideStock && c.AlternativeMM != nil:
		head, value = s.lang.Text("sheet.order_width"), s.lang.Plain(*c.AlternativeMM)
	case c.Verdict == fit.Clear && c.WidthMM != nil:
		value = s.lang.Plain(*c.WidthMM)
	}
	y = s.text(x, y, w, s.label(), head)
	if value == "" {
		y = s.text(x, y+s.gap(2), w, style{15 * s.scale, true, accent}, s.lang.Text("sheet.measure_again"))
		return s.ladder(x, y+s.gap(2), w, a)
	}
	unit := style{11 * s.scale, false, accent}
	big, value := style{27 * s.scale, true, accent}.shrunk(value, w-unit.width(" mm"), 0.6)
	base := y + s.gap(1.2) + 27*s.scale*mmPerPoint*0.73
	s.put(x, base, value, big)
	s.put(x+big.width(value)+unit.width(" "), base, "mm", unit)
	return s.ladder(x, base+s.gap(3), w, a)
}

// saddle is the model to take and why, the next one, and the damper.
func (s *sheet) saddle(x, y, w float64, a fit.Recommendation) float64 {
	y = s.text(x, y, w, s.label(), s.lang.Text("sheet.saddle"))
	best, ok := a.Best()
	if !ok {
		return s.text(x, y+s.gap(1), w, s.small(), s.noSaddle(a))
	}
	y = s.text(x, y+s.gap(0.8), w, s.head(), modelName(best.Model, s.lang))
	y = s.text(x, y+s.gap(0.5), w, s.small(), s.reasons(best))
	if same := a.Equals(); same != nil {
		y = s.text(x, y+s.gap(1.3), w, s.small(), s.lang.Say("sheet.equal",
			words.Values{"models": modelNames(same, namedEquals)}))
	}
	if next, ok := a.RunnerUp(); ok && (len(a.AlternativeModels) > 0 || a.Equals() == nil) {
		head := s.lang.Text("sheet.runner_up")
		if a.Choice.Verdict == fit.BetweenSizes && len(a.AlternativeModels) > 0 {
			head = s.lang.Text("sheet.other_size")
		}
		runs := []run{{s.lang.Head(head) + " ", true}, {modelName(next.Model, s.lang), true},
			{s.difference(best, next), false}}
		y = s.paragraph(x, y+s.gap(1.3), w, s.small(), runs...)
	}
	if text := s.damper(a, best); text != "" {
		y = s.text(x, y+s.gap(1.3), w, s.small(), text)
	}
	return y
}

// namedEquals is how many equal models a sheet names; explain names all.
const namedEquals = 6

// modelNames are the names of models of one width, at most so many of them.
func modelNames(models []fit.RankedModel, most int) string {
	var names []string
	for _, m := range models[:min(most, len(models))] {
		names = append(names, oneLine(m.Name))
	}
	if most < len(models) {
		names = append(names, "…")
	}
	return strings.Join(names, ", ")
}

func (s *sheet) noSaddle(a fit.Recommendation) string {
	switch {
	case len(a.Excluded) > 0:
		return s.lang.Text("sheet.none_fit")
	case a.Choice.Verdict == fit.Clear || a.Choice.Verdict == fit.BetweenSizes:
		return s.lang.Text("sheet.no_models")
	case a.Choice.Verdict == fit.MeasureAgain:
		return s.lang.Text("sheet.none_yet")
	}
	return s.lang.Text("sheet.none_here")
}

// modelName is a model's name with its width.
func modelName(m fit.Model, lang words.Lang) string {
	return oneLine(m.Name) + ", " + lang.Plain(m.WidthMM) + " mm"
}

// briefReasons is how many reasons a brief sheet gives besides those against.
const briefReasons = 2

// reasons is a sentence of what speaks for a model, and what against.
func (s *sheet) reasons(m fit.RankedModel) string {
	var said []string
	for i, r := range m.Reasons {
		text := s.reason(r, m.Model)
		if text == "" || s.brief && i >= briefReasons && r.Grade == fit.For {
			continue
		}
		said = append(said, text)
	}
	if len(said) == 0 {
		return ""
	}
	return capital(s.lang.Joined(said...)) + "."
}

// reason is one reason; empty where the stock does not say. The rider's mass
// stays off the page, and that a limit is not known is always said.
func (s *sheet) reason(r fit.Reason, m fit.Model) string {
	switch {
	case r.Criterion == fit.ByMass && m.MaxRiderKg > 0:
		return s.lang.Say("sheet.mass_limit", words.Values{"limit": m.MaxRiderKg})
	case r.Criterion == fit.ByMass:
		return s.lang.Text("sheet.no_mass_limit")
	case r.Criterion == fit.ByStock && r.Grade == fit.For:
		return s.lang.Text("sheet.in_stock") // how many there are is the shop's own affair
	case r.Grade == fit.NotStated:
		return ""
	}
	return s.lang.Note(r.Note.Code, r.Note.Params)
}

// difference is why a model stands behind the best: the first reason in which
// the two are not alike.
func (s *sheet) difference(best, next fit.RankedModel) string {
	for i := range min(len(best.Reasons), len(next.Reasons)) {
		r := next.Reasons[i]
		if best.Reasons[i].Grade == r.Grade {
			continue
		}
		if text := s.reason(r, next.Model); text != "" {
			return "– " + text + "."
		}
		return "– " + s.lang.Note(r.Note.Code, r.Note.Params) + "."
	}
	return ""
}

// damper names the damper for the rider's mass where the model offers it.
func (s *sheet) damper(a fit.Recommendation, m fit.RankedModel) string {
	d := a.Damping
	offered := func(x fit.Damper) bool { return x != "" && slices.Contains(m.Dampers, x) }
	switch {
	case offered(d.Damper) && offered(d.Other):
		return s.lang.Say("sheet.damper_or", words.Values{"damper": d.Damper, "other": d.Other})
	case offered(d.Damper):
		return s.lang.Say("sheet.damper", words.Values{"damper": d.Damper})
	case offered(d.Other):
		return s.lang.Say("sheet.damper", words.Values{"damper": d.Other})
	}
	return ""
}

// alsoBikes gives each further bike a line: name, width, saddle.
func (s *sheet) alsoBikes(y float64) float64 {
	if len(s.advice) <= s.cards {
		return y
	}
	y += s.gap(3)
	s.line(s.left(), y, s.right(), y, 0.25, pale)
	y = s.text(s.left(), y+s.gap(2), s.inner(), s.label(), s.lang.Text("sheet.also_bikes"))
	for i := s.cards; i < min(len(s.advice), maxBikes); i++ {
		a := s.advice[i]
		base := y + s.gap(0.4) + ascent*s.small().pt*mmPerPoint
		cells := []struct {
			x, w float64
			text string
		}{
			{0, 0.36, bikeName(a.Bike, i, len(s.advice), s.lang)},
			{0.38, 0.24, s.shortWidth(a.Choice)},
			{0.64, 0.36, s.shortSaddle(a)},
		}
		for j, cell := range cells {
			st := s.small()
			st.bold = j == 1
			st, text := st.shrunk(cell.text, cell.w*s.inner(), 0.85)
			s.put(s.left()+cell.x*s.inner(), base, text, st)
		}
		y += s.small().height() + s.gap(0.4)
	}
	if more := len(s.advice) - maxBikes; more > 0 {
		y = s.text(s.left(), y+s.gap(0.4), s.inner(), s.small(),
			s.lang.Say("sheet.more_bikes", words.Values{"n": more}))
	}
	return y
}

// shortWidth is a choice in a few words.
func (s *sheet) shortWidth(c fit.Choice) string {
	switch {
	case c.Verdict == fit.BetweenSizes && c.WidthMM != nil && c.AlternativeMM != nil:
		return s.lang.Plain(*c.WidthMM) + " " + s.lang.Text("sheet.or") + " " + s.lang.Plain(*c.AlternativeMM) +
			" mm"
	case c.Verdict == fit.OutsideStock && c.AlternativeMM != nil:
		return s.lang.Text("sheet.order_width") + " " + s.lang.Plain(*c.AlternativeMM) + " mm"
	case c.Verdict == fit.Clear && c.WidthMM != nil:
		return s.lang.Plain(*c.WidthMM) + " mm"
	}
	return s.lang.Text("sheet.measure_again")
}

func (s *sheet) shortSaddle(a fit.Recommendation) string {
	if best, ok := a.Best(); ok {
		return oneLine(best.Name)
	}
	return "–"
}
