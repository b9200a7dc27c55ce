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
const Caution = "This advises a fitter and diagnoses nobody. A rider with numbness, any loss of feeling, " +
	"pain that stays, or a load on one side " +
	"belongs to a physician or physiotherapist, whatever the width says. The limits that the makers of " +
	"saddle, seat post and frame give always hold."

// Summary is the audit in plain words, a sentence or two an item.
func (a *Account) Summary() []string {
	s := a.Statistics
	t := s.Tally
	out := []string{
		fmt.Sprintf(
			"%s: %d measured, %d for review, %d refused, %d failed, %d duplicates, %d ignored. Each file "+
				"is counted once.",
			files(t.Files), t.Measured, t.Review, t.Refused, t.Failed, t.Duplicates, t.Ignored,
		),
	}
	if u := s.Uncertainty; u != nil {
		out = append(
			out,
			fmt.Sprintf(
				"Half of the new measurements are good to ±%s mm or better, nine of ten to ±%s mm "+
					"(expanded uncertainty, 95 %%).",
				tenth(u.Median), tenth(u.P90),
			),
		)
	}
	if s.Undrawn > 0 {
		out = append(
			out,
			fmt.Sprintf(
				"%s could not be drawn (%s): run the audit again with --resume.",
				plural(s.Undrawn, "overlay", "overlays"), a.Counted.undrawn,
			),
		)
	}
	out = append(out, a.biasWords()...)
	out = append(out, a.fitterWords()...)
	out = append(out, a.widthWords()...)
	return out
}

// biasWords say how far the old way was off: with all readings, and without outliers
// where there are any.
func (a *Account) biasWords() (out []string) {
	s := a.Statistics
	switch {
	case a.Readings.Name == "":
		return []string{"No old readings were given, so nothing is compared; give them by --readings."}
	case s.All == nil && s.Readings.Compared >= 3:
		return []string{
			fmt.Sprintf(
				"All %d old readings that can be compared are of one rider: needed: of two riders to say "+
					"how far the old way was off.",
				s.Readings.Compared,
			),
		}
	case s.All == nil:
		return []string{
			fmt.Sprintf(
				"Only %s can be compared with a new measurement: too few to say how far the old way was off.",
				counted(s.Readings.Compared, "old reading"),
			),
		}
	}
	out = append(out, "On average the "+biasOf(s.All, counted(s.All.N, "old reading"))+".")
	if s.Without != nil && s.Without.All != nil {
		out = append(
			out,
			"Without "+s.outliersWords()+", the "+biasOf(
				s.Without.All, counted(s.Without.All.N, "reading"),
			)+".",
		)
	}
	best := s.Best()
	limits := fmt.Sprintf(
		"A single old reading differs from the new measurement by %s to %s mm in 95 %% of cases (limits "+
			"of agreement)",
		signed(s.All.Lower), signed(s.All.Upper),
	)
	if s.Without != nil && s.Without.All != nil {
		limits += fmt.Sprintf(
			"; without %s, by %s to %s mm", s.outliersWords(), signed(best.All.Lower), signed(best.All.Upper),
		)
	}
	out = append(out, limits+".")
	if p := best.Proportional; p != nil && !p.Interval.Holds(0) {
		way := "less"
		if p.Slope > 0 {
			way = "more"
		}
		out = append(
			out,
			fmt.Sprintf(
				"The old way reads wide riders %s: the difference changes by %s mm for each 10 mm of "+
					"width (95 %%: %s).",
				way, signed(10*p.Slope), span(tenfold(p.Interval)),
			),
		)
	}
	return out
}

func tenfold(i statistics.Interval) statistics.Interval {
	return statistics.Interval{10 * i[0], 10 * i[1]}
}

// biasOf is a bias as the end of a sentence.
func biasOf(a *statistics.Agreement, readings string) string {
	if a.BiasWithShared.Holds(0) {
		return fmt.Sprintf(
			"%s differ by %s mm from the new measurements (95 %%: %s mm): no bias can be told from none",
			readings, signed(a.Bias), span(a.BiasWithShared),
		)
	}
	way := "too wide"
	if a.Bias < 0 {
		way = "too narrow"
	}
	return fmt.Sprintf("%s are %s mm %s (95 %%: %s mm; by their scatter alone %s mm)",
		readings, tenth(math.Abs(a.Bias)), way, span(a.BiasWithShared), span(a.BiasInterval))
}

// outliersWords are how many are left out.
func (s *Statistics) outliersWords() string {
	if len(s.Outliers) == 1 {
		return "the outlier"
	}
	return "the " + plural(len(s.Outliers), "outlier", "outliers")
}

// fitterWords name fitters who read differently, or whose readings went astray.
func (a *Account) fitterWords() (out []string) {
	s := a.Statistics
	best := s.Best()
	for _, d := range best.Drifts {
		if d.Drifts {
			out = append(
				out, "The readings of "+d.Fitter+" drifted by "+driftWords(d)+s.driftWithAll(d.Fitter)+".",
			)
		}
	}
	if len(best.ByFitter) > 1 {
		var parts []string
		for _, g := range best.ByFitter {
			if g.Agreement != nil {
				parts = append(
					parts,
					fmt.Sprintf("%s %s mm (%s)", g.Name, signed(g.Mean), span(g.Agreement.BiasInterval)),
				)
			}
		}
		if len(parts) > 0 {
			by := "By fitter"
			if s.Without != nil {
				by += " without " + s.outliersWords()
			}
			out = append(out, by+", with 95 % intervals by scatter alone: "+strings.Join(parts, ", ")+".")
		}
	}
	if n := len(s.Outliers); n > 0 {
		out = append(out, fmt.Sprintf(
			"%s so far off that the fitter’s others do not explain it: look for a slip of the pen or a "+
				"picture under another name.",
			plural(n, "old reading is", "old readings are"),
		))
	}
	return out
}

func driftWords(d statistics.Drift) string {
	return fmt.Sprintf(
		"%s mm a year (95 %%: %s mm a year, over %s years)", signed(d.Slope.Slope), span(d.Interval),
		tenth(d.Years),
	)
}

// driftWithAll adds what the outliers make of a fitter's drift.
func (s *Statistics) driftWithAll(fitter string) string {
	if s.Without == nil {
		return ""
	}
	for _, d := range s.Drifts {
		if d.Fitter == fitter {
			return fmt.Sprintf(
				" without %s, and by %s (%s) with all", s.outliersWords(), signed(d.Slope.Slope),
				span(d.Interval),
			)
		}
	}
	return " without " + s.outliersWords()
}

// widthWords say what follows for the riders.
func (a *Account) widthWords() (out []string) {
	s := a.Statistics
	if w := s.Widths; w.Wider+w.Narrower+w.Same+w.Open > 0 {
		out = append(
			out,
			fmt.Sprintf(
				"The width would change for %s: %d wider, %d narrower. For %d it stays, for %d the "+
					"measurement leaves it open between two sizes.",
				plural(
					w.Wider+w.Narrower, "rider's imprint", "imprints",
				),
				w.Wider,
				w.Narrower,
				w.Same,
				w.Open,
			),
		)
	}
	if n := len(s.CallBacks); n > 0 {
		out = append(
			out,
			fmt.Sprintf(
				"Call back %s: the saddle that was sold last is narrower than the width now required.",
				plural(n, "rider", "riders, each named with the imprint"),
			),
		)
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
	out := "medium: " + cmp.Or(
		v.Medium, "found out for each picture",
	) + "; pad: " + cmp.Or(
		v.Pad, "the medium’s own",
	)
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
	return strings.NewReplacer(
		"+- ", "±\u00a0", "± ", "±\u00a0", " mm", "\u00a0mm", " %", "\u00a0%", " MB", "\u00a0MB").
		Replace(text)
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
