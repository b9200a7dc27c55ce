package report

import (
	"cmp"
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"strings"

	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/words"
)

// speech is how an audit speaks: in a language, with a fitter's numbers.
type speech struct{ lang words.Lang }

// say gives a text, words' key without its "audit.".
func (s speech) say(key string, v words.Values) string { return s.lang.Say("audit."+key, v) }

// count is say for a number of things, which is the place {n}.
func (s speech) count(key string, n int, v words.Values) string {
	return s.lang.Count("audit."+key, n, v)
}

// signed is a value in mm with its sign, to a tenth; nothing has none.
func (s speech) signed(v float64) string {
	if text := s.lang.Number(v, 1); text == s.lang.Number(0, 1) {
		return text
	}
	return s.lang.Signed(v, 1)
}

// tenth is a value to a tenth.
func (s speech) tenth(v float64) string { return s.lang.Number(v, 1) }

// between are two values as an interval.
func (s speech) between(low, high float64) string {
	return s.say("span", words.Values{"low": s.signed(low), "high": s.signed(high)})
}

// span is an interval in words.
func (s speech) span(i statistics.Interval) string { return s.between(i[0], i[1]) }

// files counts in words.
func (s speech) files(n int) string { return s.count("files", n, nil) }

// Caution stands wherever the audit's findings are read.
func (a *Account) Caution() string { return speech{a.Lang}.say("caution", nil) }

// Summary is the audit in plain words, a sentence or two an item.
func (a *Account) Summary() []string {
	l, s := speech{a.Lang}, a.Statistics
	t := s.Tally
	out := []string{l.say("tally", words.Values{
		"files": l.files(t.Files), "measured": t.Measured, "review": t.Review, "refused": t.Refused,
		"failed": t.Failed, "duplicates": t.Duplicates, "ignored": t.Ignored,
	})}
	if u := s.Uncertainty; u != nil {
		out = append(out, l.say("uncertainty", words.Values{"median": u.Median, "p90": u.P90}))
	}
	if s.Undrawn > 0 {
		out = append(out, l.count("undrawn", s.Undrawn, words.Values{"cause": a.Counted.undrawn}))
	}
	out = append(out, l.biasWords(a)...)
	out = append(out, l.fitterWords(a)...)
	out = append(out, l.widthWords(a)...)
	return out
}

// biasWords say how far the old way was off: with all readings, and without outliers
// where there are any.
func (l speech) biasWords(a *Account) (out []string) {
	s := &a.Statistics
	switch {
	case a.Readings.Name == "":
		return []string{l.say("no_readings", nil)}
	case s.All == nil && s.Readings.Compared >= 3:
		return []string{l.say("one_rider", words.Values{"n": s.Readings.Compared})}
	case s.All == nil:
		return []string{l.count("few", s.Readings.Compared, nil)}
	}
	best, without := s.Best(), s.Without != nil && s.Without.All != nil
	out = append(out, l.biasOf(s.All))
	if without {
		out = append(
			out,
			l.say("without", words.Values{"outliers": l.outliers(s), "text": l.biasOf(s.Without.All)}),
		)
	}
	limits := l.say("limits", words.Values{"low": l.signed(s.All.Lower), "high": l.signed(s.All.Upper)})
	if without {
		limits += " " + l.say("limits.without", words.Values{
			"outliers": l.outliers(s), "low": l.signed(best.All.Lower), "high": l.signed(best.All.Upper),
		})
	}
	out = append(out, limits)
	if p := best.Proportional; p != nil && !p.Interval.Holds(0) {
		key := "wide_riders.less"
		if p.Slope > 0 {
			key = "wide_riders.more"
		}
		out = append(
			out,
			l.say(
				key,
				words.Values{"slope": l.signed(10 * p.Slope), "interval": l.span(tenfold(p.Interval))},
			),
		)
	}
	return out
}

func tenfold(i statistics.Interval) statistics.Interval {
	return statistics.Interval{10 * i[0], 10 * i[1]}
}

// biasOf is a bias with its intervals.
func (l speech) biasOf(a *statistics.Agreement) string {
	v := words.Values{
		"bias":     math.Abs(a.Bias),
		"interval": l.span(a.BiasWithShared),
		"scatter":  l.span(a.BiasInterval),
	}
	key := "bias.wide"
	switch {
	case a.BiasWithShared.Holds(0):
		key, v["bias"] = "bias.none", l.signed(a.Bias)
	case a.Bias < 0:
		key = "bias.narrow"
	}
	return l.count(key, a.N, v)
}

// outliers are how many are left out.
func (l speech) outliers(s *Statistics) string { return l.count("outliers", len(s.Outliers), nil) }

// fitterWords name fitters who read differently, or whose readings went astray.
func (l speech) fitterWords(a *Account) (out []string) {
	s := &a.Statistics
	best := s.Best()
	for _, d := range best.Drifts {
		if d.Drifts {
			out = append(out, l.say("drift", words.Values{
				"fitter":   d.Fitter,
				"slope":    l.signed(d.Slope.Slope),
				"interval": l.span(d.Interval),
				"years":    d.Years,
				"rest":     l.driftWithAll(s, d.Fitter),
			}))
		}
	}
	var parts []string
	for _, g := range best.ByFitter {
		if g.Agreement != nil {
			parts = append(parts, g.Name+" "+l.signed(g.Mean)+" mm ("+l.span(g.Agreement.BiasInterval)+")")
		}
	}
	if len(best.ByFitter) > 1 && len(parts) > 0 {
		v, key := words.Values{"list": strings.Join(parts, ", ")}, "by_fitter"
		if s.Without != nil {
			key, v["outliers"] = "by_fitter.without", l.outliers(s)
		}
		out = append(out, l.say(key, v))
	}
	if n := len(s.Outliers); n > 0 {
		out = append(out, l.count("slips", n, nil))
	}
	return out
}

// driftWithAll adds what the outliers make of a fitter's drift.
func (l speech) driftWithAll(s *Statistics, fitter string) string {
	if s.Without == nil {
		return ""
	}
	v := words.Values{"outliers": l.outliers(s)}
	i := slices.IndexFunc(s.Drifts, func(d statistics.Drift) bool { return d.Fitter == fitter })
	if i < 0 {
		return " " + l.say("drift.only", v)
	}
	v["slope"], v["interval"] = l.signed(s.Drifts[i].Slope.Slope), l.span(s.Drifts[i].Interval)
	return " " + l.say("drift.both", v)
}

// widthWords say what follows for the riders.
func (l speech) widthWords(a *Account) (out []string) {
	s := a.Statistics
	if w := s.Widths; w.Wider+w.Narrower+w.Same+w.Open > 0 {
		out = append(out, l.count("widths", w.Wider+w.Narrower, words.Values{
			"wider": w.Wider, "narrower": w.Narrower, "same": w.Same, "open": w.Open,
		}))
	}
	if n := len(s.CallBacks); n > 0 {
		out = append(out, l.count("call_back", n, nil))
	}
	return out
}

// settingsWords are the settings that a shop chose; what it left alone is the
// program's own.
func (a *Account) settingsWords() string {
	l := speech{a.Lang}
	var v struct {
		Medium, Pad string
		Print       *printScales
		PrintPaper  *printScales `json:"print_paper"`
	}
	if json.Unmarshal(a.Identity.Settings, &v) != nil {
		return string(a.Identity.Settings)
	}
	or := func(value, key string) string {
		if value == "" {
			return l.say(key, nil)
		}
		return value
	}
	medium := l.say("setting.medium", words.Values{"value": or(v.Medium, "setting.medium.found")})
	pad := l.say("setting.pad", words.Values{"value": or(v.Pad, "setting.pad.own")})
	all := []string{medium, pad}
	if v.Print != nil {
		all = append(all, l.say("setting.print.card", v.Print.values()))
	}
	if v.PrintPaper != nil {
		all = append(all, l.say("setting.print.paper", v.PrintPaper.values()))
	}
	if len(all) == 2 {
		all = append(all, l.say("setting.print.never", nil))
	}
	return l.lang.Joined(all...)
}

// printScales are a verified print's scales, as the settings hold them: true mm per nominal mm, that down the
// side 0 where its own bar was not read.
type printScales struct{ ScaleX, ScaleY float64 }

// values are both in percent.
func (p printScales) values() words.Values {
	return words.Values{"x": 100 * p.ScaleX, "y": 100 * cmp.Or(p.ScaleY, p.ScaleX)}
}

// rateWords tell how long a photo took.
func (a *Account) rateWords() string {
	t := a.Throughput
	if t.Photos == 0 || t.Seconds == 0 {
		return ""
	}
	return speech{a.Lang}.count("rate", t.Photos, words.Values{
		"seconds": t.Seconds / float64(t.Photos), "decode": 100 * t.DecodeSeconds / t.Seconds,
	})
}

func (l speech) mm(v *float64) string {
	if v == nil {
		return "–"
	}
	return l.tenth(*v)
}

func (l speech) signedPtr(v *float64) string {
	if v == nil {
		return "–"
	}
	return l.signed(*v)
}

// whole is a saddle's width as stock lists have it: 145 or 142.5.
func (l speech) whole(v *float64) string {
	if v == nil {
		return "–"
	}
	_, fraction, _ := strings.Cut(strconv.FormatFloat(*v, 'f', -1, 64), ".")
	return l.lang.Number(*v, len(fraction))
}

// typeset keeps a number and its unit on one line, and writes the sign that a
// record has as two.
func typeset(text string) string {
	return strings.NewReplacer("+- ", "±\u00a0", "± ", "±\u00a0", " mm", "\u00a0mm", " %", "\u00a0%", " MB",
		"\u00a0MB").
		Replace(text)
}

// percentPtr never says 0 or 100 where it is not.
func (l speech) percentPtr(v *float64) string {
	switch {
	case v == nil:
		return "–"
	case *v < 0.01:
		return "< 1 %"
	case *v > 0.99:
		return "> 99 %"
	}
	return l.lang.Number(math.Round(100**v), 0) + " %"
}
