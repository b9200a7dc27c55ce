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

type explainFlags struct {
	riderFlags
	plot     string
	data     string
	simulate bool
}

func (p *program) explainCommand() *cobra.Command {
	f := &explainFlags{}
	cmd := &cobra.Command{
		Use:  "explain",
		Args: oneRecord,
		RunE: func(cmd *cobra.Command, args []string) error { return p.explain(cmd, f, args[0]) },
	}
	flags := cmd.Flags()
	flags.StringVar(&f.plot, "plot", "", "")
	flags.BoolVar(&f.simulate, "simulate", false, "")
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
