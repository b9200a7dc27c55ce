package main

import (
	"context"
	"encoding/hex"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
	"sitspan/imprint/photo"
)

const knownLong = `Check this shop's own pad, light, phone and printer against a distance that is
known: two equal balls, fixed on a batten, were pressed into the pad, and their
distance was read with a steel rule or a caliper.

The photos are measured as a rider's are. Both numbers are compared by E_n
(ISO/IEC 17043): from -1 to 1 they agree. One sentence says whether the result
may be trusted, and what to do where it may not. The check is kept in the data
folder with its photos; nothing leaves this computer. End an open desk before.

The tool cannot tell a rider's imprint from two balls': it takes your word.
--distance is from centre to centre, in mm: from the left edge of one ball to
the left edge of the other.

Exit status: 0 passed, 1 a photo could not be read, 2 wrong usage, 3 not passed.`

const knownExample = `  sitspan known --distance 120.0 --distance-u 0.3 --diameter 40 --together above.jpg left.jpg right.jpg
  sitspan known --list
  sitspan known leave-out 3 --because "the rule slipped"
  sitspan known export checks`

// The distances that are taken: below it was meant in centimetres, above no window holds both balls.
const leastKnownMM, mostKnownMM = 70, 200

type knownFlags struct {
	distance, distanceU, diameter   quantity
	shape, light, data, medium, pad string
	together, list                  bool
	choiceFlags                     choiceFlags
	lang                            langFlag
}

func (p *program) knownDistanceCommand() *cobra.Command {
	f := &knownFlags{
		distance:  quantity{unit: "MM", low: 0, high: 1000},
		distanceU: quantity{unit: "MM", low: 0.01, high: 5, value: 0.3},
		diameter:  quantity{unit: "MM", low: 10, high: 100},
	}
	cmd := &cobra.Command{
		Use:     "known --distance MM PHOTO...",
		Short:   "Check pad, light, phone and printer against a known distance",
		Long:    knownLong,
		Example: knownExample,
		Args:    cobra.ArbitraryArgs,
		RunE:    func(cmd *cobra.Command, args []string) error { return p.known(cmd, f, args) },
	}
	flags := cmd.Flags()
	flags.Var(&f.distance, "distance", "the known distance of the balls' centres")
	flags.Var(&f.distanceU, "distance-u", "standard uncertainty of that distance")
	flags.Var(&f.diameter, "diameter", "diameter of the balls")
	flags.StringVar(&f.shape, "shape", "ball", "`WORD` for what was pressed: ball")
	flags.BoolVar(&f.together, "together", false,
		"the photos show one imprint, the lamp or the phone moved between them")
	flags.StringVar(&f.medium, "medium", "",
		"`WORD` for what took the imprint: foam (gel too) or paper; found out if not given")
	flags.StringVar(&f.pad, "pad", "", "`NAME` of a pad profile: foam, gel, paper, or one of the shop's")
	flags.StringVar(&f.light, "light", "", "`TEXT` for the light, such as \"desk lamp, left\"")
	flags.BoolVar(&f.list, "list", false, "list the checks, their mean and their control limits")
	flags.StringVar(&f.choiceFlags.shop, "shop", shop.FileName, "the shop's settings `FILE`")
	cmd.PersistentFlags().StringVar(&f.data, "data", "", "data `DIR` (default: sitspan in XDG_DATA_HOME)")
	f.lang.register(cmd)
	completeWords(cmd, "shape", "ball")
	completeWords(cmd, "medium", "foam", "paper")
	cmd.AddCommand(p.knownExportCommand(f), p.knownLeaveOutCommand(f))
	return cmd
}

func (f *knownFlags) dataDir() (string, error) { return (&deskFlags{data: f.data}).dataDir() }

// check refuses what cannot be meant.
func (f *knownFlags) check(cmd *cobra.Command, args []string) error {
	d := f.distance.value
	switch {
	case !f.distance.given:
		return wrongUsage(cmd, "no distance was given; needed: --distance with the balls' distance in mm, such "+
			"as 120.0")
	case d < leastKnownMM && 10*d >= leastKnownMM && 10*d <= mostKnownMM:
		return wrongUsage(cmd, "--distance %g is too short for mm; was it read in cm? needed: mm, such as %g", d,
			10*d)
	case d < leastKnownMM || d > mostKnownMM:
		return wrongUsage(cmd, "--distance %g mm is no distance for this; needed: %d to %d mm, from centre to "+
			"centre",
			d, leastKnownMM, mostKnownMM)
	case f.diameter.given && f.diameter.value >= d:
		return wrongUsage(cmd, "balls of %g mm do not fit at %g mm; needed: --distance from centre to centre",
			f.diameter.value, d)
	case f.shape != "ball":
		return wrongUsage(cmd, "shape %q is not known; needed: ball", f.shape)
	case len(args) == 0:
		return wrongUsage(cmd, "no photo was named; needed: one or more files, such as above.jpg")
	}
	m := &measureFlags{medium: f.medium, pad: f.pad, together: f.together}
	return m.check(cmd, args)
}

func (p *program) known(cmd *cobra.Command, f *knownFlags, args []string) error {
	lang, err := f.lang.of(cmd)
	if err != nil {
		return err
	}
	if f.list {
		return p.knownList(cmd, f, lang, args)
	}
	if err := f.check(cmd, args); err != nil {
		return err
	}
	options := intake.Options{Medium: f.medium, Pad: f.pad}
	if options.Shop, err = f.choiceFlags.settings(cmd); err != nil {
		return err
	}
	if err := (&measureFlags{medium: f.medium, pad: f.pad}).checkPad(cmd, options.Shop); err != nil {
		return err
	}
	dir, err := f.dataDir()
	if err != nil {
		return err
	}
	kept, err := store.Open(dir, "by sitspan known")
	if err != nil {
		return err
	}
	defer kept.Close()
	s, err := p.open(options)
	if err != nil {
		return err
	}
	defer s.close()
	return p.checkAll(cmd.Context(), &checking{f, lang, options.Shop, kept, s}, args)
}

// checking is what a run of checks is made with.
type checking struct {
	*knownFlags
	lang    words.Lang
	shop    shop.Shop
	kept    *store.Store
	station *station
}

// checkAll makes one check of all photos together, or one a photo.
func (p *program) checkAll(ctx context.Context, c *checking, args []string) error {
	groups := [][]string{args}
	if !c.together {
		groups = nil
		for _, path := range args {
			groups = append(groups, []string{path})
		}
	}
	if err := c.counted(ctx, args); err != nil {
		return err
	}
	status, notes := exitMeasured, &report.Footnotes{}
	for _, paths := range groups {
		var o outcome
		if len(paths) > 1 {
			o = c.station.together(ctx, paths)
		} else {
			o = c.station.measure(ctx, paths[0])
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		made, err := p.checkOne(ctx, c, o, paths, notes)
		if err != nil {
			return err
		}
		status = worst(status, made)
	}
	p.say(c.lang.Text("known.own_word"))
	if status != exitMeasured {
		return statusError(status)
	}
	return nil
}

// counted refuses a photo that counts in a check already: the same photos again prove nothing anew.
func (c *checking) counted(ctx context.Context, paths []string) error {
	list, err := c.kept.Checks(ctx)
	if err != nil {
		return err
	}
	in := map[string]int64{}
	for _, k := range list {
		for _, name := range k.Photos {
			if hash, _, _ := strings.Cut(name, "."); k.LeftOut == "" {
				in[hash] = k.ID
			}
		}
	}
	for _, path := range paths {
		sum, err := contentSum(path)
		if id := in[hex.EncodeToString(sum[:])]; err == nil && id > 0 {
			return fmt.Errorf("%s is in check %d already; needed: another imprint's photo, or first leave that "+
				"check out: "+
				"sitspan known leave-out %d --because TEXT", printable(path), id, id)
		}
	}
	return nil // a file that cannot be read is told where it is measured
}

// checkOne says what a measurement of the known distance comes to, and keeps it.
func (p *program) checkOne(
	ctx context.Context, c *checking, o outcome, paths []string, notes *report.Footnotes,
) (int, error) {
	m := o.Record.Measurement
	status := p.deliver(o, job{path: paths[0]}, c.lang, false, notes, outputs{})
	if m.Status == record.Failed {
		return status, nil // there is no photo to keep
	}
	if oneBall(m) {
		p.say(c.lang.Text("known.one_ball"))
	}
	check, number := c.compare(m)
	verdict := proof.NoNumber
	if number {
		verdict = verdictOf(check, m)
	}
	scale := 0.0
	if number {
		scale, _ = check.PrintScale()
		en := c.lang.Say("known.en", words.Values{"en": check.En()})
		fmt.Fprint(p.stdout, report.Row(c.lang, "terminal.known.distance", en))
	}
	said := c.lang.Say("known.verdict."+string(verdict), words.Values{
		"measured": check.MeasuredMM, "u": check.MeasuredU, "distance": check.DistanceMM, "scale": 100 * scale,
	})
	fmt.Fprint(p.stdout, report.Row(c.lang, "terminal.known.verdict", said))
	id, err := c.keep(ctx, o.Record, check, number, verdict, paths)
	if err != nil {
		return exitFailure, err
	}
	p.say(c.lang.Say("known.kept", words.Values{"n": fmt.Sprint(id)}))
	if !verdict.Trusted() {
		status = worst(status, exitReview)
	}
	return status, nil
}

// compare is the check as numbers; false where the photos gave none that may be used.
func (c *checking) compare(m record.Measurement) (proof.Check, bool) {
	check := proof.Check{DistanceMM: c.distance.value, DistanceU: c.distanceU.value,
		DiameterMM: c.diameter.value}
	if m.Status != record.Measured || m.Spacing == nil || m.U == nil {
		return check, false
	}
	check.MeasuredMM, check.MeasuredU = *m.Spacing, *m.U
	return check, true
}

// verdictOf is the check's, where the dents are a pair.
func verdictOf(c proof.Check, m record.Measurement) proof.Verdict {
	var pair proof.Pair
	if d := m.DepthContrast; d != nil {
		pair.ContrastMM, pair.ContrastU = d.Value, d.U
	}
	if r := m.Relief; r != nil && r.LeftRadius != nil && r.RightRadius != nil {
		pair.LeftRadius, pair.RightRadius = *r.LeftRadius, *r.RightRadius
	}
	if !pair.Alike() {
		return proof.Unlike
	}
	return c.Verdict()
}

// oneBall tells a measurement that found one dent only.
func oneBall(m record.Measurement) bool {
	for _, r := range m.Reasons {
		if codes.OneDent.Is(r.Said()) {
			return true
		}
	}
	return false
}

// keep puts a check and its photos into the shop's store.
func (c *checking) keep(
	ctx context.Context, rec record.Record, check proof.Check, number bool, v proof.Verdict, paths []string,
) (int64, error) {
	k := store.Check{
		Medium: rec.Measurement.Medium, Pad: proof.PadKey(c.pad, rec.Measurement.Medium),
		Print: c.shop.PrintKey(rec.Measurement.Medium), Light: c.light,
		DistanceMM: check.DistanceMM, DistanceU: check.DistanceU, DiameterMM: check.DiameterMM,
		Accepted: number && v != proof.Unlike, Verdict: string(v),
	}
	if number {
		k.MeasuredMM, k.MeasuredU = &check.MeasuredMM, &check.MeasuredU
	}
	var photos []store.CheckPhoto
	for _, path := range paths {
		model, extension, err := modelOf(path)
		if err != nil {
			return 0, err
		}
		if k.Phone == "" {
			k.Phone = model
		}
		photos = append(photos, store.CheckPhoto{Path: path, Extension: extension})
	}
	return c.kept.AddCheck(ctx, k, photos)
}

// modelOf is the camera that took a photo, and its file's extension.
func modelOf(path string) (model, extension string, err error) {
	p, err := photo.Read(path, photo.Limits{})
	if err != nil {
		return "", "", err
	}
	return p.Model, map[photo.Format]string{
		photo.JPEG: ".jpg", photo.PNG: ".png", photo.TIFF: ".tif", photo.WebP: ".webp", photo.HEIC: ".heic",
	}[p.Format], nil
}
