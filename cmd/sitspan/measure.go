package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/shop"
)

const measureLong = `Measure the distance between the sit bones on photos or scans of a seat imprint.

For each PHOTO (JPEG, PNG, TIFF, WebP or HEIC) it prints the spacing with its
95 % interval and what the interval is mostly made of; with a posture (--trunk
or --allowance) also the width to take from the shelf, and why. A photo that
cannot be trusted is refused, or sent to review, with what was seen, what is
needed and what to do.

A good photo: the printed frame flat on the pad, FRONT where the rider faced;
from straight above, from about 1 m, zoomed in (2x), so that the frame fills the
picture; one lamp low to one side, other light dim; in focus. On foam two more
photos help most, from either side at some 20 degrees, the frame where it is
and the lamp moved (--together): a wall that one lamp hides another shows, and
they tell how deep the dents are. Of a single photo a depth gauge's readings
(--depth) tell that: a bottom lies deeper than the frame, and a camera sees it
too close to the other.

--overlay DIR keeps a picture of what was found for each photo: look at it.
--record DIR keeps a record that can be explained and printed years later.

Exit status: 0 measured, 1 a photo could not be read or a file not be written,
2 wrong usage, 3 refused or to be reviewed; of several photos the worst, in the
order 1, 3, 0.`

const measureExample = `  sitspan measure imprint.jpg
  sitspan measure --trunk 45 --trunk-u 2 --stock stock.csv --overlay out imprint.jpg
  sitspan measure --medium foam --depth 14,15.5 imprint.jpg
  sitspan measure --pad gel imprint.heic
  sitspan measure --together above.jpg left.jpg right.jpg
  sitspan measure --sittings first.jpg second-a.jpg,second-b.jpg third.jpg
  sitspan measure --bike winter=gravel:45 --bike city:70 --mass 78 --record records imprint.jpg
  sitspan measure --json --record records *.jpg`

type measureFlags struct {
	riderFlags
	lang                     langFlag
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
		Use:     "measure [flags] PHOTO...",
		Short:   "Measure the spacing on photos of an imprint, and choose a width",
		Long:    measureLong,
		Example: measureExample,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return wrongUsage(cmd, "no photo was named; needed: one or more files, such as sitspan measure "+
					"imprint.jpg")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return p.measure(cmd, f, args) },
	}
	flags := cmd.Flags()
	flags.StringVar(&f.medium, "medium", "",
		"`WORD` for what took the imprint: foam (gel too) or paper; found out if not given")
	flags.StringVar(&f.pad, "pad", "", "`NAME` of a pad profile: foam, gel, paper, or one of the shop's")
	flags.Var(&f.depths, "depth", "depth of the dents below the pad's flat surface: one for both, or "+
		"left,right as the rider sat")
	flags.Var(&f.depthU, "depth-u", "standard uncertainty of a depth")
	flags.StringVar(&f.blank, "blank", "", "`PHOTO` of the empty pad, to take away its old dents and dirt")
	flags.BoolVar(&f.together, "together", false,
		"the photos show one imprint, the lamp or the phone moved between them")
	flags.BoolVar(&f.sittings, "sittings", false,
		"each argument is a sitting of the same rider, its photos joined by commas")
	f.register(cmd)
	f.lang.register(cmd)
	registerData(cmd, &f.data)
	flags.StringVar(&f.overlay, "overlay", "", "`DIR` for a picture of what was found on each photo")
	flags.StringVar(&f.record, "record", "", "`DIR` for a record of each measurement")
	flags.BoolVar(&f.json, "json", false, "print one JSON object a line for each photo")
	flags.BoolVar(&f.timings, "timings", false,
		"say on standard error how long each stage of a measurement took")
	completeWords(cmd, "medium", "foam", "paper")
	completeFolder(cmd, "overlay")
	completeFolder(cmd, "record")
	return cmd
}

// check refuses flags that contradict each other.
func (f *measureFlags) check(cmd *cobra.Command, args []string) error {
	switch {
	case f.medium != "" && f.medium != "foam" && f.medium != "paper":
		return wrongUsage(cmd, "medium %q is not known; needed: foam (gel too, with --pad gel) or paper", f.medium)
	case f.medium == "paper" && len(f.depths.mm) > 0:
		return wrongUsage(cmd, "--depth was given for paper, which has no dents; needed: --medium foam, or no "+
			"--depth")
	case cmd.Flags().Changed("depth-u") && len(f.depths.mm) == 0:
		return wrongUsage(cmd, "--depth-u was given without --depth; needed: both")
	case f.together && f.sittings:
		return wrongUsage(cmd, "--together and --sittings were both given; needed: one of them (a sitting's "+
			"photos are joined by commas)")
	case f.together && len(args) < 2:
		return wrongUsage(cmd, "--together was given with one photo; needed: two or more of the same imprint")
	case f.sittings && len(args) < 2:
		return wrongUsage(cmd, "--sittings was given with one sitting; needed: two or more")
	}
	for _, name := range args {
		if strings.Trim(name, ",") == "" {
			return wrongUsage(cmd, "%q names no photo; needed: a file's name", name)
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
	a, b, found, err := sameContent(names)
	if err == nil && found {
		return wrongUsage(cmd, "%s and %s are the same photo; needed: different ones, each named once", a, b)
	}
	return nil // a file that cannot be read is told where it is measured
}

// checkPad refuses a pad profile of another medium than the one that was named.
func (f *measureFlags) checkPad(cmd *cobra.Command, s shop.Shop) error {
	pad, known := s.Pads[f.pad]
	switch onPaper := pad.Medium == shop.Paper; {
	case f.pad == "":
		return nil
	case !known:
		return wrongUsage(cmd, "there is no pad profile %q; needed: one of %s", f.pad,
			strings.Join(padNames(s), ", "))
	case f.medium != "" && onPaper != (f.medium == shop.Paper):
		return wrongUsage(cmd, "--pad %s is of %s, and --medium says %s; needed: the two to agree, or one of them",
			f.pad, pad.Medium, f.medium)
	case onPaper && len(f.depths.mm) > 0:
		return wrongUsage(cmd, "--depth was given for paper, which has no dents; needed: another --pad, or no "+
			"--depth")
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
		return fmt.Errorf("one depth, or left,right, is needed, such as 14.5,16 with a point for decimals")
	}
	d.mm = nil
	for _, part := range parts {
		v, err := number(part)
		if err != nil {
			return fmt.Errorf("%q is not a number; one depth in mm, or left,right, is needed, such as 14.5,16", part)
		}
		if !(v > 0 && v <= maxDepthMM) {
			return fmt.Errorf("%g mm is no depth of a dent; more than 0, and up to %d mm, is needed, or no --depth", v,
				maxDepthMM)
		}
		d.mm = append(d.mm, v)
	}
	return nil
}

// looksDecimal says whether "14,5" may have meant 14.5: the right depth is one
// digit, and far from the left.
func (d *depths) looksDecimal() bool {
	const far = 5 // mm; dents of one rider differ by less (assumed)
	return len(d.mm) == 2 && d.mm[1] < 10 && d.mm[1] == float64(int(d.mm[1])) && d.mm[0]-d.mm[1] > far
}
