package desk

import (
	"fmt"
	"math"
	"strings"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
)

// The chart's size in units of its own, and the white round its field.
const (
	chartWidth, chartHeight = 760.0, 280.0
	chartLeft, chartRight   = 52.0, 64.0
	chartTop, chartBottom   = 26.0, 30.0
)

// chart is a control chart as the page draws it; places are in the chart's own units.
type chart struct {
	Width, Height float64
	Left, Right   float64 // the field's edges
	TickX         float64 // where the ticks' numbers end
	Top, Bottom   float64
	Label         string // for those who do not see it
	Ticks         []chartTick
	Zero          float64
	Points        []chartPoint
	Run           string // the points in their order, as a path
	Limits        []chartLimit
	Changes       []chartChange
}

type chartTick struct {
	Y    float64
	Text string
}

type chartPoint struct {
	X, Y, Low, High float64
	ID              int64
	Out, Sign       bool
	Text            string
}

// chartLimit are mean and limits of the points of one print, from its first to its last.
type chartLimit struct {
	X1, X2, Low, Centre, High float64
	LabelLow, LabelHigh       string
}

type chartChange struct {
	X    float64
	Text string
}

// chartOf draws a pad's checks in their order, and says what the chart says. Limits are for each print by
// itself, and come from package proof.
func chartOf(lang words.Lang, checks []store.Check) (*chart, []string) {
	c := &chart{Width: chartWidth, Height: chartHeight, Left: chartLeft, TickX: chartLeft - 8,
		Right: chartWidth - chartRight,
		Top:   chartTop, Bottom: chartHeight - chartBottom}
	signs, limits, texts := judged(lang, checks)
	y := c.scale(lang, checks, limits)
	step := (c.Right - c.Left) / float64(len(checks))
	x := func(i int) float64 { return c.Left + (float64(i)+0.5)*step }
	var run []string
	for i, k := range checks {
		d := *k.MeasuredMM - k.DistanceMM
		u := k.Kept().U()
		p := chartPoint{X: x(i), Y: y(d), Low: y(d - u), High: y(d + u), ID: k.ID, Out: k.LeftOut != "",
			Sign: signs[k.ID], Text: fmt.Sprintf("%s: %s ± %s mm",
				lang.ShortDate(k.MadeAt.Local()), lang.Signed(d, 1), lang.Number(u, 1))}
		c.Points = append(c.Points, p)
		if !p.Out {
			run = append(run, fmt.Sprintf("%.1f %.1f", p.X, p.Y))
		}
		if i > 0 {
			c.Changes = append(c.Changes, changeBetween(lang, checks[i-1], k, x(i)-step/2)...)
		}
	}
	c.Run = "M" + strings.Join(run, "L")
	if len(run) == 0 {
		c.Run = ""
	}
	for _, l := range limits {
		c.Limits = append(c.Limits, chartLimit{X1: x(l.first) - step/2, X2: x(l.last) + step/2, Low: y(l.of.Lower),
			Centre: y(l.of.Centre), High: y(l.of.Upper), LabelLow: lang.Signed(l.of.Lower, 1),
			LabelHigh: lang.Signed(l.of.Upper, 1)})
	}
	c.Label = strings.Join(texts, " ")
	return c, texts
}

// limitsOf are a chart's limits from its first check to its last.
type limitsOf struct {
	first, last int
	of          proof.Chart
}

// judged are the checks that are a sign of a change, the limits of each print, and what they say.
func judged(lang words.Lang, checks []store.Check) (signs map[int64]bool, limits []limitsOf, texts []string) {
	kept := make([]proof.Kept, len(checks))
	for i, c := range checks {
		kept[i] = c.Kept()
	}
	signs = map[int64]bool{}
	for _, s := range proof.Settings(kept) {
		of := proof.Of(kept, s.Pad, s.Print)
		points := make([]float64, len(of))
		for i, k := range of {
			points[i] = k.Deviation()
		}
		ch, ok := proof.ChartOf(points)
		if !ok {
			texts = append(texts, say(lang, "proof.chart.few", "n", len(of), "least", proof.LeastPoints))
			continue
		}
		l := limitsOf{first: len(checks), of: ch}
		for i, c := range checks {
			if c.Print == s.Print && c.LeftOut == "" {
				l.first, l.last = min(l.first, i), i
			}
		}
		limits = append(limits, l)
		texts = append(texts, say(lang, "proof.chart.text", "n", len(of), "mean", lang.Signed(ch.Centre, 1), "low",
			lang.Signed(ch.Lower, 1), "high", lang.Signed(ch.Upper, 1)))
		texts = append(texts, biasText(lang, kept, s)...)
		broken := ch.Signs(points)
		for _, sign := range broken {
			signs[of[sign.At].ID] = true
			texts = append(texts, say(lang, "proof.sign."+string(sign.Rule), "n", of[sign.At].ID))
		}
		if len(broken) == 0 {
			texts = append(texts, say(lang, "proof.steady"))
		}
	}
	return signs, limits, texts
}

func biasText(lang words.Lang, kept []proof.Kept, s proof.Setting) []string {
	b, ok := proof.BiasFor(kept, s.Pad, s.Print)
	if !ok {
		return nil
	}
	key := "proof.bias.chance"
	if b.Significant {
		key = "proof.bias.significant"
	}
	return []string{say(lang, key, "mean", lang.Signed(b.MeanMM, 1), "u", lang.Number(b.Expanded(), 1))}
}

// scale chooses what the field holds, in mm, with ticks at round values, and gives the place of a value.
func (c *chart) scale(lang words.Lang, checks []store.Check, limits []limitsOf) func(mm float64) float64 {
	low, high := 0.0, 0.0
	for _, k := range checks {
		d, u := *k.MeasuredMM-k.DistanceMM, k.Kept().U()
		low, high = min(low, d-u), max(high, d+u)
	}
	for _, l := range limits {
		low, high = min(low, l.of.Lower), max(high, l.of.Upper)
	}
	step := roundStep((high - low) / 5)
	low, high = math.Floor(low/step)*step, math.Ceil(high/step)*step
	y := func(mm float64) float64 { return c.Bottom - (mm-low)/(high-low)*(c.Bottom-c.Top) }
	digits := 0
	if step < 1 {
		digits = 1
	}
	for i := range int(math.Round((high-low)/step)) + 1 {
		mm := low + float64(i)*step
		text := lang.Signed(mm, digits)
		if math.Abs(mm) < step/2 {
			text = lang.Number(0, digits)
		}
		c.Ticks = append(c.Ticks, chartTick{y(mm), text})
	}
	c.Zero = y(0)
	return y
}

// roundStep is the next of 1, 2 and 5 times a power of ten, at least 0.5 mm.
func roundStep(v float64) float64 {
	for _, step := range []float64{0.5, 1, 2, 5, 10, 20, 50} {
		if v <= step {
			return step
		}
	}
	return 100
}

// changeBetween is what became another between two checks of one pad.
func changeBetween(lang words.Lang, before, after store.Check, x float64) []chartChange {
	var texts []string
	if before.Print != after.Print {
		texts = append(texts, say(lang, "proof.change.print"))
	}
	if before.Phone != after.Phone {
		texts = append(texts, say(lang, "proof.change.phone"))
	}
	if before.Light != after.Light {
		texts = append(texts, say(lang, "proof.change.light"))
	}
	if len(texts) == 0 {
		return nil
	}
	return []chartChange{{x, strings.Join(texts, ", ")}}
}
