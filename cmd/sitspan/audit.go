package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/audit"
	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/report"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/cmd/sitspan/internal/worker"
	"sitspan/imprint"
)

// photoLimit is the longest that one photo may take. One of 12 megapixels takes
// about a second, and took 40 s on a machine with ten times as much to do.
const photoLimit = 10 * time.Minute

// auditGarbage is how much garbage, in per cent of what is in use, the audit's own
// process may hold: what it keeps of each reading must fit, and it has little else
// to do.
const auditGarbage = 20

// reviewFlags are what an audit is compared and explained by.
type reviewFlags struct {
	choiceFlags
	readings, out string
	json          bool
}

type auditFlags struct {
	reviewFlags
	medium, pad, shard string
	workers            int
	resume             bool
}

func (f *reviewFlags) register(cmd *cobra.Command) {
	f.choiceFlags.register(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.readings, "readings", "", "")
	flags.StringVar(&f.out, "out", "", "")
	flags.BoolVar(&f.json, "json", false, "")
	completeFile(cmd, "readings", "csv")
	completeFolder(cmd, "out")
}

func (p *program) auditCommand() *cobra.Command {
	f := &auditFlags{}
	cmd := &cobra.Command{
		Use:  "audit",
		Args: oneFolder,
		RunE: func(cmd *cobra.Command, args []string) error { return p.audit(cmd, f, args[0]) },
	}
	f.register(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.medium, "medium", "", "")
	flags.StringVar(&f.pad, "pad", "", "")
	flags.IntVar(&f.workers, "workers", runtime.NumCPU(), "")
	flags.BoolVar(&f.resume, "resume", false, "")
	flags.StringVar(&f.shard, "shard", "", "")
	completeWords(cmd, "medium", "foam", "paper")
	cmd.AddCommand(p.auditMergeCommand())
	return cmd
}

func oneFolder(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return wrongUsage(cmd, "usage.audit.folders", words.Values{"n": len(args)})
	}
	info, err := os.Stat(args[0])
	if err != nil {
		return wrongUsage(cmd, "usage.audit.no_folder", words.Values{"folder": args[0]})
	}
	if !info.IsDir() {
		return wrongUsage(cmd, "usage.audit.file", words.Values{"file": args[0]})
	}
	return nil
}

func (p *program) audit(cmd *cobra.Command, f *auditFlags, folder string) error {
	debug.SetGCPercent(auditGarbage)
	plan, err := f.plan(cmd, folder)
	if err != nil {
		return err
	}
	p.warnOfReadings(plan.Review.Lang, plan.Review.Readings)
	watch := newAuditWatch(p.stderr, plan.Review.Lang)
	plan.Watch = watch.show
	ctx, cancel := context.WithCancel(cmd.Context())
	defer cancel()
	defer context.AfterFunc(cmd.Context(), func() {
		watch.say(plan.Review.Lang.Text("audit.stopping"))
	})()
	a, err := audit.Run(ctx, plan)
	watch.close()
	if stopped := (*archive.Interrupted)(nil); errors.As(err, &stopped) {
		p.say(plan.Review.Lang.Say("audit.go_on", words.Values{"stopped": stopped,
			"command": resumeCommand(os.Args)}))
		return statusError(exitFailure)
	}
	if err != nil {
		return err
	}
	return p.tellAudit(a, plan.Out, f.json)
}

// plan gathers what the flags, the shop's file and the readings say.
func (f *auditFlags) plan(cmd *cobra.Command, folder string) (plan audit.Plan, err error) {
	switch {
	case f.medium != "" && f.medium != "foam" && f.medium != "paper":
		return plan, wrongUsage(cmd, "usage.medium", words.Values{"word": f.medium})
	case f.workers < 1 || f.workers > 1024:
		return plan, wrongUsage(cmd, "usage.workers", words.Values{"n": f.workers})
	}
	plan = audit.Plan{Folder: folder, Out: f.out, Resume: f.resume, Shard: archive.Shard{Number: 1, Of: 1}}
	if f.shard != "" {
		if plan.Shard, err = archive.ParseShard(f.shard); err != nil {
			return plan, wrongUsage(cmd, "usage.shard", words.Values{"why": err})
		}
	}
	if plan.Out == "" {
		path, err := filepath.Abs(folder)
		if err != nil {
			return plan, err
		}
		plan.Out = filepath.Base(path) + "-audit"
	}
	settings, err := f.settings(cmd)
	if err != nil {
		return plan, err
	}
	if _, known := settings.Pads[f.pad]; f.pad != "" && !known {
		return plan, wrongUsage(cmd, "usage.pad", words.Values{
			"pad": f.pad, "known": strings.Join(padNames(settings), ", "),
		})
	}
	if plan.Review, err = f.review(cmd); err != nil {
		return plan, err
	}
	plan.Identity, plan.Bench, err = f.bench(settings)
	return plan, err
}

// review is what the measurements are compared by.
func (f *reviewFlags) review(cmd *cobra.Command) (v audit.Review, err error) {
	if v.Lang, err = languageOf(cmd); err != nil {
		return v, err
	}
	if v.Posture, err = f.posture(cmd); err != nil {
		return v, err
	}
	v.TrunkU = f.trunkU.value
	if v.Advisor, err = f.advisor(cmd); err != nil {
		return v, err
	}
	if f.readings != "" {
		v.Readings, err = statistics.LoadReadings(f.readings)
	}
	return v, err
}

// bench says under what is measured, and by whom.
func (f *auditFlags) bench(settings shop.Shop) (id archive.Identity, b archive.Bench, err error) {
	id.Version, id.Model = auditVersion(), imprint.ModelSHA256()
	if id.Settings, err = json.Marshal(map[string]any{
		"medium": f.medium, "pad": f.pad, "print": settings.Print, "print_paper": settings.PrintPaper,
		"pads": settings.Pads,
	}); err != nil {
		return id, b, err
	}
	s := worker.Settings{Medium: f.medium, Pad: f.pad, Threads: max(1, runtime.NumCPU()/f.workers)}
	if settings.Path != "" {
		if s.Shop, err = filepath.Abs(settings.Path); err != nil {
			return id, b, err
		}
	}
	newHand := func() *worker.Hand {
		return &worker.Hand{Command: worker.Program(workerName), Settings: s, Limit: photoLimit}
	}
	return id, archive.Bench{Workers: f.workers, NewHand: newHand}, nil
}

// warnOfReadings tells the rows that cannot be used before hours are spent.
func (p *program) warnOfReadings(lang words.Lang, r statistics.Readings) {
	for _, f := range r.Faults {
		p.say(lang.Say("terminal.warning", words.Values{"text": lang.Error(f)}))
	}
	if len(r.Unread) > 0 {
		p.hint(lang, "audit.unread", words.Values{"file": r.Name, "columns": strings.Join(r.Unread, ", ")})
	}
}

// tellAudit prints what was found and where it lies.
func (p *program) tellAudit(a *report.Account, out string, asJSON bool) error {
	if asJSON {
		if err := json.NewEncoder(p.stdout).Encode(a.Statistics); err != nil {
			return err
		}
	} else {
		for _, line := range a.Summary() {
			fmt.Fprintln(p.stdout, wrapped(line, widestLine))
		}
		fmt.Fprintf(p.stdout, "\n%s\n", wrapped(a.Caution(), widestLine))
		for _, made := range [][2]string{{"audit.report", "report.html"}, {"audit.rows", "rows.csv"}} {
			fmt.Fprintf(p.stdout, "%-11s%s\n", a.Lang.Text(made[0]), filepath.Join(out, made[1]))
		}
	}
	if n := a.Readings.BadRows(); n > 0 {
		rows := a.Lang.Count("audit.bad_rows", n, words.Values{"file": a.Readings.Name})
		p.say(a.Lang.Say("terminal.warning", words.Values{"text": rows}))
		return statusError(exitReview)
	}
	return nil
}
