package main

import (
	"context"
	"encoding/json"
	"fmt"
	"image"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/words"
)

// outcome is one measurement and what can be drawn of it.
type outcome struct {
	Record  record.Record
	Overlay func(maxSide int, lang words.Lang) (image.Image, error)
	Phone   string // the camera's model; empty where it is not known
}

// station is what `measure` asks of an intake.Station; scripts put records in
// its place.
type station struct {
	measure  func(ctx context.Context, path string) outcome
	together func(ctx context.Context, paths []string) outcome
	sittings func(ctx context.Context, sittings [][]string) outcome
	close    func() error
}

// openStation loads what it takes to measure.
func openStation(o intake.Options) (*station, error) {
	intake.Version = toolVersion()
	s, err := intake.NewStation(o)
	if err != nil {
		return nil, err
	}
	plain := func(o intake.Outcome) outcome { return outcome{o.Record, o.Overlay, o.Phone()} }
	return &station{
		measure:  func(ctx context.Context, path string) outcome { return plain(s.Measure(ctx, path)) },
		together: func(ctx context.Context, paths []string) outcome { return plain(s.Together(ctx, paths)) },
		sittings: func(ctx context.Context, sittings [][]string) outcome {
			return plain(s.Sittings(ctx,
				sittings))
		},
		close: s.Close,
	}, nil
}

// job is one measurement to make, and what its files' names end in.
type job struct {
	run    func(ctx context.Context) outcome
	path   string // as the photo was named, where there is one
	suffix string
	press  bool // no rider made the imprint
}

func (p *program) measure(cmd *cobra.Command, f *measureFlags, args []string) error {
	lang, err := languageOf(cmd)
	if err != nil {
		return err
	}
	options, err := f.options(cmd, args)
	if err != nil {
		return err
	}
	out, err := openOutputs(f.overlay, f.record)
	if err != nil {
		return err
	}
	advise, err := f.adviser(cmd, options)
	if err != nil {
		return err
	}
	p.addChecks(cmd.Context(), f.data, &options)
	s, err := p.open(options)
	if err != nil {
		return err
	}
	defer s.close()
	p.hintBefore(lang, f, options)
	status, notes, numbers := exitMeasured, &report.Footnotes{}, false
	due := reminder{checks: options.Checks, pad: f.pad, shop: options.Shop}
	for _, j := range f.jobs(s, args) {
		ctx, clock := timed(cmd.Context(), f.timings)
		o := j.run(ctx)
		if err := cmd.Context().Err(); err != nil {
			return err
		}
		o.Record = advise(o.Record)
		status = worst(status, p.deliver(o, j, lang, f.json, notes, out))
		clock.tell(p, lang)
		numbers = numbers || o.Record.Measurement.Spacing != nil
		due.see(o)
	}
	if numbers && options.Posture == nil && !f.json {
		p.hint(lang, "terminal.no_posture", nil)
	}
	if due.reason != proof.NotDue && !f.json {
		p.hint(lang, "known.due."+string(due.reason), nil)
	}
	if status != exitMeasured {
		return statusError(status)
	}
	return nil
}

// options gathers what the flags and the shop's file say.
func (f *measureFlags) options(cmd *cobra.Command, args []string) (o intake.Options, err error) {
	if err = f.check(cmd, args); err != nil {
		return o, err
	}
	bikes, err := f.givenBikes(cmd)
	if err != nil {
		return o, err
	}
	if len(bikes) > 0 {
		o.Posture = &bikes[0].Posture
	}
	if o.Shop, err = f.settings(cmd); err != nil {
		return o, err
	}
	if o.Stock, err = f.shelf(); err != nil {
		return o, err
	}
	if err = f.checkPad(cmd, o.Shop); err != nil {
		return o, err
	}
	o.Medium, o.Pad, o.Blank = f.medium, f.pad, f.blank
	o.DepthMM, o.DepthU = f.depths.mm, f.depthU.value
	return o, nil
}

// hintBefore tells what may have been meant otherwise, or forgotten.
func (p *program) hintBefore(lang words.Lang, f *measureFlags, o intake.Options) {
	if f.depths.looksDecimal() {
		p.warn(lang, "terminal.two_depths", words.Values{"left": fmt.Sprint(o.DepthMM[0]),
			"right": fmt.Sprint(o.DepthMM[1])})
	}
	if len(f.bikes) > 1 {
		p.hint(lang, "terminal.first_bike", nil)
	}
	p.hintAtTrunk(lang, f.choiceFlags)
}

// jobs are one a photo, or one in all for a joint measurement.
func (f *measureFlags) jobs(s *station, args []string) []job {
	switch {
	case f.together:
		run := func(ctx context.Context) outcome { return s.together(ctx, args) }
		return []job{{run: run, suffix: "-together"}}
	case f.sittings:
		run := func(ctx context.Context) outcome { return s.sittings(ctx, splitSittings(args)) }
		return []job{{run: run, suffix: "-sittings"}}
	}
	jobs := make([]job, len(args))
	for i, path := range args {
		jobs[i] = job{run: func(ctx context.Context) outcome { return s.measure(ctx, path) }, path: path}
	}
	return jobs
}

// splitSittings takes a sitting's photos apart at the commas; a file whose own
// name has one is a photo.
func splitSittings(args []string) [][]string {
	sittings := make([][]string, len(args))
	for i, arg := range args {
		if _, err := os.Stat(arg); err == nil {
			sittings[i] = []string{arg}
			continue
		}
		sittings[i] = strings.FieldsFunc(arg, func(r rune) bool { return r == ',' })
	}
	return sittings
}

// deliver keeps one outcome's files, prints it, and gives its exit status: what
// is kept is there also where nobody reads what is printed to its end. What is
// printed names the photo as the caller did, who may have two of one name; what
// is kept names no folder.
func (p *program) deliver(o outcome, j job, lang words.Lang, asJSON bool, notes *report.Footnotes,
	out outputs) int {
	kept, errs := out.keep(o, lang, j.suffix)
	m := o.Record.Measurement
	if j.path != "" {
		m.Photo = j.path
	}
	text := report.Text
	if j.press {
		text = report.TextOfPress
	}
	said := text(onOneLine(m), lang, notes)
	status := statusOf(m.Status)
	if asJSON {
		line, err := jsonLine(m)
		if err != nil {
			p.say(lang.Say("error.json", words.Values{"photo": m.Photo, "why": err}))
			return exitFailure
		}
		p.stdout.Write(line)
	} else {
		fmt.Fprint(p.stdout, said)
	}
	m = onOneLine(m)
	for _, k := range kept {
		if !asJSON {
			fmt.Fprint(p.stdout, report.PathRow(lang, k.what, printable(k.path)))
		}
	}
	if m.Spacing == nil {
		for _, line := range report.Trouble(m, lang) {
			p.say(line)
		}
	}
	p.tellFootnotes(notes)
	for _, err := range errs {
		p.say(lang.Say("error.of_file", words.Values{"file": m.Photo, "why": err}))
		status = exitFailure
	}
	return status
}

// statusOf is a measurement's exit status.
func statusOf(status string) int {
	switch status {
	case record.Measured:
		return exitMeasured
	case record.Review, record.Refused:
		return exitReview
	}
	return exitFailure
}

// jsonLine is the object of the contract: lists are never null.
func jsonLine(m record.Measurement) ([]byte, error) {
	if m.Reasons == nil {
		m.Reasons = []record.Reason{}
	}
	if m.Budget == nil {
		m.Budget = []record.BudgetLine{}
	}
	line, err := json.Marshal(m)
	return append(line, '\n'), err
}
