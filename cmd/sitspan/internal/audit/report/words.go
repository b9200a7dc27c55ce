package report

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"strings"

	"sitspan/cmd/sitspan/internal/audit/statistics"
)

// signed is a value in mm with its sign, to a tenth.
func signed(v float64) string {
	switch s := fmt.Sprintf("%.1f", math.Abs(v)); {
	case s == "0.0":
		return "0.0"
	case v < 0:
		return "−" + s
	default:
		return "+" + s
	}
}

// tenth is a value to a tenth.
func tenth(v float64) string { return strings.Replace(fmt.Sprintf("%.1f", v), "-", "−", 1) }

// span is an interval in words.
func span(i statistics.Interval) string { return signed(i[0]) + " to " + signed(i[1]) }

// files counts in words.
func files(n int) string { return counted(n, "file") }

func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return thousands(n) + " " + noun + "s"
}

// thousands sets a thin space between thousands.
func thousands(n int) string {
	s := fmt.Sprint(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "\u202f" + s[i:]
	}
	return s
}

// Caution stands wherever the audit's findings are read.
const Caution = "This advises a fitter and diagnoses nobody. A rider with numbness, any loss of feeling, pain that stays, or a load on one side " +
	"belongs to a physician or physiotherapist, whatever the width says. The limits that the makers of saddle, seat post and frame give always hold."

// Summary is the audit in plain words, a sentence or two an item.
func (a *Account) Summary() []string {
	s := a.Statistics
	t := s.Tally
	out := []string{fmt.Sprintf("%s: %d measured, %d for review, %d refused, %d failed, %d duplicates, %d ignored. Each file is counted once.",
		files(t.Files), t.Measured, t.Review, t.Refused, t.Failed, t.Duplicates, t.Ignored)}
	if u := s.Uncertainty; u != nil {
		out = append(out, fmt.Sprintf("Half of the new measurements are good to ±%s mm or better, nine of ten to ±%s mm (expanded uncertainty, 95 %%).", tenth(u.Median), tenth(u.P90)))
	}
	out = append(out, a.biasWords()...)
	out = append(out, a.fitterWords()...)
	out = append(out, a.widthWords()...)
	return out
}

// biasWords say how far the old way was off.
func (a *Account) biasWords() (out []string) {
	s := a.Statistics
	switch {
	case a.Readings.Name == "":
		return []string{"No old readings were given, so nothing is compared; give them by --readings."}
	case s.All == nil:
		return []string{fmt.Sprintf("Only %s can be compared with a new measurement: too few to say how far the old way was off.", counted(s.Readings.Compared, "old reading"))}
	case s.All.BiasWithShared.Holds(0):
		out = append(out, fmt.Sprintf("On average the %d old readings differ by %s mm from the new measurements (95 %%: %s mm): no bias can be told from none.",
			s.All.N, signed(s.All.Bias), span(s.All.BiasWithShared)))
	default:
		way := "too wide"
		if s.All.Bias < 0 {
			way = "too narrow"
		}
		out = append(out, fmt.Sprintf("On average the %d old readings are %s mm %s (95 %%: %s mm; by their scatter alone %s mm).",
			s.All.N, tenth(math.Abs(s.All.Bias)), way, span(s.All.BiasWithShared), span(s.All.BiasInterval)))
	}
	out = append(out, fmt.Sprintf("A single old reading differs from the new measurement by %s to %s mm in 95 %% of cases (limits of agreement).", signed(s.All.Lower), signed(s.All.Upper)))
	if p := s.Proportional; p != nil && !p.Interval.Holds(0) {
		way := "less"
		if p.Slope > 0 {
			way = "more"
		}
		out = append(out, fmt.Sprintf("The old way reads wide riders %s: the difference changes by %s mm for each 10 mm of width (95 %%: %s).", way, signed(10*p.Slope), span(statistics.Interval{10 * p.Interval[0], 10 * p.Interval[1]})))
	}
	return out
}

// fitterWords name fitters who read differently, or whose readings went astray.
func (a *Account) fitterWords() (out []string) {
	s := a.Statistics
	for _, d := range s.Drifts {
		if d.Drifts {
			out = append(out, fmt.Sprintf("The readings of %s drifted by %s mm a year (95 %%: %s mm a year, over %s years).", d.Fitter, signed(d.Slope.Slope), span(d.Interval), tenth(d.Years)))
		}
	}
	if len(s.ByFitter) > 1 {
		var parts []string
		for _, g := range s.ByFitter {
			if g.Agreement != nil {
				parts = append(parts, fmt.Sprintf("%s %s mm (%s)", g.Name, signed(g.Mean), span(g.Agreement.BiasInterval)))
			}
		}
		if len(parts) > 0 {
			out = append(out, "By fitter, with 95 % intervals by scatter alone: "+strings.Join(parts, ", ")+".")
		}
	}
	if n := len(s.Outliers); n > 0 {
		out = append(out, fmt.Sprintf("%s so far off that the rest do not explain it: look for a slip of the pen or a picture under another name.", plural(n, "old reading is", "old readings are")))
	}
	return out
}

// widthWords say what follows for the riders.
func (a *Account) widthWords() (out []string) {
	s := a.Statistics
	if w := s.Widths; w.Wider+w.Narrower+w.Same+w.Open > 0 {
		out = append(out, fmt.Sprintf("The width would change for %s: %d wider, %d narrower. For %d it stays, for %d the measurement leaves it open between two sizes.",
			plural(w.Wider+w.Narrower, "rider's imprint", "imprints"), w.Wider, w.Narrower, w.Same, w.Open))
	}
	if n := len(s.CallBacks); n > 0 {
		out = append(out, fmt.Sprintf("Call back %s: the saddle that was sold is narrower than the width now required.", plural(n, "rider", "riders, each named with the imprint")))
	}
	return out
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return thousands(n) + " " + many
}

// settingsWords are the settings that a shop chose; what it left alone is the
// program's own.
func (a *Account) settingsWords() string {
	var v struct {
		Medium, Pad string
		Print       any
	}
	if json.Unmarshal(a.Identity.Settings, &v) != nil {
		return string(a.Identity.Settings)
	}
	out := "medium: " + cmp.Or(v.Medium, "found out for each picture") + "; pad: " + cmp.Or(v.Pad, "the medium’s own")
	if v.Print != nil {
		text, err := json.Marshal(v.Print)
		if err != nil {
			return out
		}
		return out + "; print verified: " + string(text)
	}
	return out + "; the frame’s print was never verified"
}

// rateWords tell how long a photo took.
func (a *Account) rateWords() string {
	t := a.Throughput
	if t.Photos == 0 || t.Seconds == 0 {
		return ""
	}
	return fmt.Sprintf("%s measured in %.2f s each of a worker's time, of which %.0f %% to read and decode.",
		counted(t.Photos, "picture"), t.Seconds/float64(t.Photos), 100*t.DecodeSeconds/t.Seconds)
}

func mm(v *float64) string {
	if v == nil {
		return "–"
	}
	return tenth(*v)
}

func signedPtr(v *float64) string {
	if v == nil {
		return "–"
	}
	return signed(*v)
}

// whole is a saddle's width as stock lists have it: 145 or 142.5.
func whole(v *float64) string {
	if v == nil {
		return "–"
	}
	return fmt.Sprintf("%g", *v)
}

// typeset keeps a number and its unit on one line, and writes the sign that a
// record has as two.
func typeset(text string) string {
	return strings.NewReplacer("+- ", "±\u00a0", "± ", "±\u00a0", " mm", "\u00a0mm", " %", "\u00a0%", " MB", "\u00a0MB").Replace(text)
}

// percentPtr never says 0 or 100 where it is not.
func percentPtr(v *float64) string {
	switch {
	case v == nil:
		return "–"
	case *v < 0.01:
		return "< 1 %"
	case *v > 0.99:
		return "> 99 %"
	}
	return fmt.Sprintf("%.0f %%", math.Round(100**v))
}
