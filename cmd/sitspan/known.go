package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/bare"
	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/known"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/photo"
)

type knownFlags struct {
	distance, distanceU, diameter   quantity
	shape, light, data, medium, pad string
	together, list                  bool
	choiceFlags                     choiceFlags
}

func (p *program) knownDistanceCommand() *cobra.Command {
	f := &knownFlags{
		distance:  quantity{unit: "MM", low: 0, high: 1000},
		distanceU: quantity{unit: "MM", low: 0.01, high: 5, value: known.DefaultU},
		diameter:  quantity{unit: "MM", low: 10, high: 100},
	}
	cmd := &cobra.Command{
		Use:  "known",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error { return p.known(cmd, f, args) },
	}
	flags := cmd.Flags()
	flags.Var(&f.distance, "distance", "")
	flags.Var(&f.distanceU, "distance-u", "")
	flags.Var(&f.diameter, "diameter", "")
	flags.StringVar(&f.shape, "shape", "ball", "")
	flags.BoolVar(&f.together, "together", false, "")
	flags.StringVar(&f.medium, "medium", "", "")
	flags.StringVar(&f.pad, "pad", "", "")
	flags.StringVar(&f.light, "light", "", "")
	flags.BoolVar(&f.list, "list", false, "")
	flags.StringVar(&f.choiceFlags.shop, "shop", shop.FileName, "")
	cmd.PersistentFlags().StringVar(&f.data, "data", "", "")
	completeWords(cmd, "shape", "ball")
	completeWords(cmd, "medium", "foam", "paper")
	cmd.AddCommand(p.knownExportCommand(f), p.knownLeaveOutCommand(f))
	return cmd
}

func (f *knownFlags) dataDir() (string, error) { return (&deskFlags{data: f.data}).dataDir() }

// of is what the flags say of the imprint; under what print it was taken is known when its medium is.
func (f *knownFlags) of() known.Distance {
	return known.Distance{MM: f.distance.value, U: f.distanceU.value, DiameterMM: f.diameter.value, Pad: f.pad,
		Light: f.light}
}

// check refuses what cannot be meant.
func (f *knownFlags) check(cmd *cobra.Command, args []string) error {
	d, fault := f.distance.value, f.of().Fault()
	switch {
	case !f.distance.given:
		return wrongUsage(cmd, "usage.known.distance", nil)
	case fault == known.Centimetres:
		return wrongUsage(cmd, "usage.known.cm", words.Values{"d": d, "mm": 10 * d})
	case fault == known.OutOfRange:
		return wrongUsage(cmd, "usage.known.range", words.Values{"d": d, "low": known.LeastMM,
			"high": known.MostMM})
	case fault == known.BallsTooBig:
		return wrongUsage(cmd, "usage.known.balls", words.Values{"ball": f.diameter.value, "d": d})
	case f.shape != "ball":
		return wrongUsage(cmd, "usage.known.shape", words.Values{"shape": f.shape})
	case len(args) == 0:
		return wrongUsage(cmd, "usage.known.photo", nil)
	}
	m := &measureFlags{medium: f.medium, pad: f.pad, together: f.together}
	return m.check(cmd, args)
}

func (p *program) known(cmd *cobra.Command, f *knownFlags, args []string) error {
	lang, err := languageOf(cmd)
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
	dir, err := f.dataDir()
	if err != nil {
		return err
	}
	if _, options.Shop, err = shopOf(cmd, f.choiceFlags.shop, dir); err != nil {
		return err
	}
	if err := (&measureFlags{medium: f.medium, pad: f.pad}).checkPad(cmd, options.Shop); err != nil {
		return err
	}
	kept, err := store.OpenForChecks(dir)
	if err != nil {
		return err
	}
	defer kept.Close()
	s, err := p.open(options)
	if err != nil {
		return err
	}
	defer s.close()
	c := &checking{f, lang, options.Shop, kept, s, map[string]barePhoto{}}
	if err := c.take(cmd, args); err != nil {
		return err
	}
	return p.checkAll(cmd.Context(), c, args)
}

// checking is what a run of checks is made with.
type checking struct {
	*knownFlags
	lang    words.Lang
	shop    shop.Shop
	kept    *store.Store
	station *station
	photos  map[string]barePhoto // by their paths
}

// barePhoto is a photo as a check keeps it, without its place and owner, or why there is none.
type barePhoto struct {
	content   []byte
	extension string
	err       error
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

// take makes what is kept of the photos, and refuses a photo that counts already: in an earlier
// check, or by another name in this run.
func (c *checking) take(cmd *cobra.Command, paths []string) error {
	list, err := c.kept.Checks(cmd.Context())
	if err != nil {
		return err
	}
	seen := map[string]string{}
	for _, path := range paths {
		data, err := readPhoto(path)
		if err != nil { // which is told where it is measured
			c.photos[path] = barePhoto{err: notRead(words.Fault("error.what.photo", nil), path, err)}
			continue
		}
		sums := []string{sumOf(data)}
		var p barePhoto
		if p.content, p.extension, p.err = bare.Make(data, path, photo.Limits{}); p.err == nil {
			sums = append(sums, sumOf(p.content))
		}
		c.photos[path] = p
		for _, sum := range sums {
			if id := known.CountedIn(list, sum); id > 0 {
				return words.Fault("error.known.counted", words.Values{"photo": printable(path), "n": id})
			}
			if other, twice := seen[sum]; twice {
				return wrongUsage(cmd, "usage.same_photo", words.Values{"a": other, "b": path})
			}
		}
		for _, sum := range sums {
			seen[sum] = path
		}
	}
	return nil
}

// keep puts a check and its photos into the shop's store.
func (c *checking) keep(
	ctx context.Context, d known.Distance, rec record.Record, made known.Made, paths []string,
) (id int64, err error) {
	var photos []store.CheckPhoto
	defer func() {
		for _, kept := range photos {
			os.Remove(kept.Path)
		}
	}()
	for _, path := range paths {
		p := c.photos[path]
		delete(c.photos, path)
		if p.err != nil {
			return 0, p.err
		}
		kept, _, err := c.kept.Receive(bytes.NewReader(p.content), int64(len(p.content)))
		if err != nil {
			return 0, err
		}
		photos = append(photos, store.CheckPhoto{Path: kept, Extension: p.extension})
	}
	return d.Keep(ctx, c.kept, rec, made, photos)
}

// readPhoto is a file's content, and of one that is larger than a photo may be no more than shows that.
func readPhoto(path string) ([]byte, error) {
	if err := mustBeRegular(path); err != nil {
		return nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, photo.DefaultBytes+1))
}

// sumOf is a file's SHA-256 as the store names it.
func sumOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// checkOne says what a measurement of the known distance comes to, and keeps it.
func (p *program) checkOne(
	ctx context.Context, c *checking, o outcome, paths []string, notes *report.Footnotes,
) (int, error) {
	m := o.Record.Measurement
	status := p.deliver(o, job{path: paths[0], press: true}, c.lang, false, notes, outputs{})
	if m.Status == record.Failed {
		return status, nil // there is no photo to keep
	}
	distance := c.of()
	distance.Print = c.shop.PrintKey(m.Medium)
	made := distance.Compare(m)
	if made.OneBall {
		p.say(c.lang.Text("known.one_ball"))
	}
	if made.ShallowMM > 0 {
		p.tell("known.shallow", words.Values{"depth": made.ShallowMM, "least": known.DeepEnough})
	}
	if made.LikeBallMM > 0 {
		p.tell("known.like_ball", words.Values{"ball": made.LikeBallMM, "said": made.DiameterMM})
	}
	p.printVerdict(c.lang, made)
	id, err := c.keep(ctx, distance, o.Record, made, paths)
	if err != nil {
		return exitFailure, err
	}
	p.say(c.lang.Say("known.kept", words.Values{"n": fmt.Sprint(id)}))
	if !made.Verdict.Trusted() {
		status = worst(status, exitReview)
	}
	return status, nil
}

// printVerdict prints what a check comes to.
func (p *program) printVerdict(lang words.Lang, made known.Made) {
	scale := 0.0
	if made.Number {
		scale, _ = made.PrintScale()
		en := lang.Say("known.en", words.Values{"en": made.En()})
		fmt.Fprint(p.stdout, report.Row(lang, "terminal.known.distance", en))
	}
	said := lang.Say("known.verdict."+string(made.Verdict), words.Values{
		"measured": made.MeasuredMM, "u": report.StatedU(lang, made.MeasuredU), "distance": made.DistanceMM,
		"scale": 100 * scale,
	})
	if hint := verdictHints[made.Verdict]; hint != "" {
		said += " " + lang.Text(hint)
	}
	fmt.Fprint(p.stdout, report.Row(lang, "terminal.known.verdict", said))
}

// verdictHints are the commands that help with a verdict, as keys of the words.
var verdictHints = map[proof.Verdict]string{
	proof.PassedWide: "known.hint.together", proof.Fitted: "known.hint.verify",
	proof.PrintOrNot: "known.hint.verify",
}
