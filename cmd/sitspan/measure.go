package main

import (
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/words"
)

type measureFlags struct {
	riderFlags
	medium, pad, blank       string
	depths                   depths
	depthU                   quantity
	overlay, record, data    string
	together, sittings, json bool
	timings                  bool
}

func (p *program) measureCommand() *cobra.Command {
	f := &measureFlags{depthU: quantity{unit: "MM", low: 0.01, high: 20, value: 1}}
	cmd := &cobra.Command{
		Use: "measure",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return wrongUsage(cmd, "usage.measure.photo", nil)
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return p.measure(cmd, f, args) },
	}
	flags := cmd.Flags()
	flags.StringVar(&f.medium, "medium", "", "")
	flags.StringVar(&f.pad, "pad", "", "")
	flags.Var(&f.depths, "depth", "")
	flags.Var(&f.depthU, "depth-u", "")
	flags.StringVar(&f.blank, "blank", "", "")
	flags.BoolVar(&f.together, "together", false, "")
	flags.BoolVar(&f.sittings, "sittings", false, "")
	f.register(cmd)
	registerData(cmd, &f.data)
	flags.StringVar(&f.overlay, "overlay", "", "")
	flags.StringVar(&f.record, "record", "", "")
	flags.BoolVar(&f.json, "json", false, "")
	flags.BoolVar(&f.timings, "timings", false, "")
	completeWords(cmd, "medium", "foam", "paper")
	completeFolder(cmd, "overlay")
	completeFolder(cmd, "record")
	return cmd
}

// check refuses flags that contradict each other.
func (f *measureFlags) check(cmd *cobra.Command, args []string) error {
	switch {
	case f.medium != "" && f.medium != "foam" && f.medium != "paper":
		return wrongUsage(cmd, "usage.medium", words.Values{"word": f.medium})
	case f.medium == "paper" && len(f.depths.mm) > 0:
		return wrongUsage(cmd, "usage.depth.paper", nil)
	case cmd.Flags().Changed("depth-u") && len(f.depths.mm) == 0:
		return wrongUsage(cmd, "usage.depth.u", nil)
	case f.together && f.sittings:
		return wrongUsage(cmd, "usage.both_joint", nil)
	case f.together && len(args) < 2:
		return wrongUsage(cmd, "usage.together.one", nil)
	case f.sittings && len(args) < 2:
		return wrongUsage(cmd, "usage.sittings.one", nil)
	}
	for _, name := range args {
		if strings.Trim(name, ",") == "" {
			return wrongUsage(cmd, "usage.measure.name", words.Values{"name": name})
		}
	}
	return f.checkTwice(cmd, args)
}

// checkTwice refuses a photo that a joint measurement was given twice: it would
// count as two, and the interval would come out too narrow.
func (f *measureFlags) checkTwice(cmd *cobra.Command, args []string) error {
	if !f.together && !f.sittings {
		return nil
	}
	names := args
	if f.sittings {
		names = slices.Concat(splitSittings(args)...)
	}
	if a, b, found := sameContent(names); found {
		return wrongUsage(cmd, "usage.same_photo", words.Values{"a": a, "b": b})
	}
	return nil
}

// checkPad refuses a pad profile of another medium than the one that was named.
func (f *measureFlags) checkPad(cmd *cobra.Command, s shop.Shop) error {
	pad, known := s.Pads[f.pad]
	switch onPaper := pad.Medium == shop.Paper; {
	case f.pad == "":
		return nil
	case !known:
		return wrongUsage(cmd, "usage.pad", words.Values{
			"pad": f.pad, "known": strings.Join(padNames(s), ", "),
		})
	case f.medium != "" && onPaper != (f.medium == shop.Paper):
		return wrongUsage(cmd, "usage.pad.medium", words.Values{
			"pad": f.pad, "is": pad.Medium, "said": f.medium,
		})
	case onPaper && len(f.depths.mm) > 0:
		return wrongUsage(cmd, "usage.depth.paper_pad", nil)
	}
	return nil
}

// depths are one or two depths in mm, as --depth gives them.
type depths struct{ mm []float64 }

// String is empty: there is no default; pflag asks for it.
func (d *depths) String() string { return "" }

// Type is the placeholder that the help shows; pflag asks for it.
func (d *depths) Type() string { return "L,R" }

// maxDepthMM bounds a depth: thicker pads are not made for imprints (assumed).
const maxDepthMM = 60

// Set reads the flag's text; pflag calls it. The comma stands between left and
// right here, so decimals have a point.
func (d *depths) Set(text string) error {
	parts := strings.Split(text, ",")
	if len(parts) > 2 {
		return words.Fault("usage.depth.form", nil)
	}
	d.mm = nil
	for _, part := range parts {
		bare, factor := withoutUnit(part, "MM")
		v, err := number(bare)
		v = inUnit(v, factor)
		if err != nil {
			return words.Fault("usage.depth.number", words.Values{"text": part})
		}
		if !(v > 0 && v <= maxDepthMM) {
			return words.Fault("usage.depth.range", words.Values{"mm": v, "most": maxDepthMM})
		}
		d.mm = append(d.mm, v)
	}
	return nil
}

// looksDecimal says whether "14,9" may have meant 14.9: the right depth is one digit, the left is two.
func (d *depths) looksDecimal() bool {
	whole := func(mm float64) bool { return mm == math.Trunc(mm) }
	return len(d.mm) == 2 && whole(d.mm[0]) && whole(d.mm[1]) && d.mm[1] < 10 && d.mm[0] >= 10
}
