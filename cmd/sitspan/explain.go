package main

import (
	"fmt"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
)

const explainLong = `Tell the whole way from a picture's pixels to a saddle's width: the picture and
its hash, the marks and the camera, both centres, the spacing on the frame's plane
and the parallax correction of each side, the budget line by line, the allowance
and what it rests on, the width needed, the probability that each stocked width
is wide enough, and the verdict.

RECORD is a file that "sitspan measure --record" wrote. With a posture given here
the choice is made afresh, as in "sitspan sheet". --plot draws the distribution of
the width needed over the stocked widths, and of a dotted pad the contour map
and the section of its relief. --simulate draws the budget's lines by their
distributions and prints the interval so found beside that of the budget.`

const explainExample = `  sitspan explain records/imprint-1a2b3c4d.json
  sitspan explain imprint.json --trunk 45 --trunk-u 2 --stock stock.csv
  sitspan explain imprint.json --bike road:40 --bike city:70 --plot widths.svg --lang de`

type explainFlags struct {
	riderFlags
	plot     string
	data     string
	simulate bool
}

func (p *program) explainCommand() *cobra.Command {
	f := &explainFlags{}
	cmd := &cobra.Command{
		Use:     "explain RECORD",
		Short:   "Explain a record from the pixels to the width",
		Long:    explainLong,
		Example: explainExample,
		Args:    oneRecord,
		RunE:    func(cmd *cobra.Command, args []string) error { return p.explain(cmd, f, args[0]) },
	}
	flags := cmd.Flags()
	flags.StringVar(&f.plot, "plot", "",
		"`FILE` for a plot of the width needed, and of a measured relief: .svg or .png")
	flags.BoolVar(&f.simulate, "simulate", false,
		"check the interval by drawing the budget's lines a million times")
	registerData(cmd, &f.data)
	f.register(cmd)
	completeFile(cmd, "plot", "svg", "png")
	return cmd
}

func (p *program) explain(cmd *cobra.Command, f *explainFlags, path string) error {
	lang, err := languageOf(cmd)
	if err != nil {
		return err
	}
	var format report.PlotFormat
	if f.plot != "" {
		if format, err = report.PlotFormatOf(f.plot); err != nil {
			return misuse(cmd, err)
		}
		if err := mustBeFolder(filepath.Dir(f.plot)); err != nil {
			return err
		}
	}
	rec, err := f.loadAdvised(cmd, path)
	if err != nil {
		return err
	}
	if err := report.Explain(p.stdout, rec, lang); err != nil {
		return err
	}
	said, err := lastCheck(cmd.Context(), lang, f.data)
	if err != nil {
		return err
	}
	fmt.Fprintf(p.stdout, "\n%s\n  %s\n", lang.Text("explain.proof"), said)
	if f.simulate {
		if err := report.Simulate(p.stdout, rec, lang); err != nil {
			return err
		}
	}
	if f.plot == "" {
		return nil
	}
	err = wholefile.Write(f.plot, func(w io.Writer) error { return report.Plot(w, rec, lang, format) })
	if err != nil {
		return words.Fault("error.plot", words.Values{"why": notWritten(f.plot, err)})
	}
	fmt.Fprintf(p.stdout, "\n%s\n", f.plot)
	return nil
}
