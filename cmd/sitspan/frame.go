package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"sitspan/calibration"
	"sitspan/calibration/artwork"
	"sitspan/cmd/sitspan/internal/framewords"
	"sitspan/cmd/sitspan/internal/words"
)

type frameFlags struct {
	out, paper, medium string
	dots               int
	dpi                quantity
}

func (p *program) frameCommand() *cobra.Command {
	f := frameFlags{dpi: quantity{value: artwork.DefaultDPI, unit: "DPI", low: 100, high: 600}}
	cmd := &cobra.Command{
		Use:  "frame",
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return p.frame(cmd, &f) },
	}
	flags := cmd.Flags()
	flags.StringVarP(&f.out, "output", "o", "", "")
	flags.StringVar(&f.paper, "paper", string(artwork.A4), "")
	flags.StringVar(&f.medium, "medium", string(calibration.Foam), "")
	flags.IntVar(&f.dots, "dots", 0, "")
	flags.Var(&f.dpi, "dpi", "")
	completeFile(cmd, "output", "pdf", "svg", "png")
	completeWords(cmd, "paper", "a4", "letter")
	completeWords(cmd, "medium", "foam", "paper")
	cmd.AddCommand(p.frameVerifyCommand())
	return cmd
}

func (p *program) frame(cmd *cobra.Command, f *frameFlags) error {
	if f.out == "" {
		return wrongUsage(cmd, "usage.frame.out", nil)
	}
	format, err := artwork.FormatOf(f.out)
	if err != nil {
		return misuse(cmd, err)
	}
	lang, err := languageOf(cmd)
	if err != nil {
		return err
	}
	options, err := f.options(lang)
	if err != nil {
		return misuse(cmd, err)
	}
	drawing, err := f.drawing(cmd, options)
	if err != nil {
		return err
	}
	if err := mustBeFolder(filepath.Dir(f.out)); err != nil {
		return err
	}
	if err := drawing.WriteFile(f.out, f.dpi.value); err != nil {
		return notWritten(f.out, err)
	}
	if f.dots != 0 {
		fmt.Fprintln(
			p.stdout,
			lang.Say(
				"terminal.dots_made",
				words.Values{"file": f.out, "n": f.dots, "paper": paperName(options.Paper)},
			),
		)
		p.hint(lang, "terminal.dots_print", nil)
		return nil
	}
	fmt.Fprintln(p.stdout, lang.Say("terminal.frame_made", words.Values{
		"file": f.out, "paper": paperName(options.Paper), "medium": lang.Text(mediumKey(options.Medium)),
	}))
	if format != artwork.PDF {
		p.hint(lang, "terminal.frame_pdf", nil)
	}
	p.hint(lang, "terminal.frame_measure", nil)
	return nil
}

// drawing is the frame, or a sheet of dots where one was asked for.
func (f *frameFlags) drawing(cmd *cobra.Command, options artwork.Options) (*artwork.Drawing, error) {
	if !cmd.Flags().Changed("dots") {
		return artwork.Draw(calibration.ControlFrame, options)
	}
	if cmd.Flags().Changed("medium") {
		return nil, wrongUsage(cmd, "usage.frame.dots_medium", nil)
	}
	drawing, err := artwork.DrawDots(f.dots, options)
	if err != nil {
		return nil, wrongUsage(cmd, "usage.frame.dots", words.Values{"n": f.dots, "why": err})
	}
	return drawing, nil
}

// options checks the words among the flags.
func (f *frameFlags) options(lang words.Lang) (o artwork.Options, err error) {
	if o.Paper, err = artwork.ParsePaper(f.paper); err != nil {
		return o, err
	}
	if o.Medium, err = calibration.ParseMedium(f.medium); err != nil {
		return o, err
	}
	o.Words = framewords.Of(lang)
	return o, nil
}

func paperName(p artwork.Paper) string {
	if p == artwork.Letter {
		return "US Letter"
	}
	return "A4"
}

func mediumKey(m calibration.Medium) string {
	if m == calibration.Paper {
		return "terminal.paper"
	}
	return "terminal.foam"
}

// mustBeFolder says in one line what is wrong with a folder to write into.
func mustBeFolder(path string) error {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return words.Fault("error.no_folder", words.Values{"path": path})
	case !info.IsDir():
		return words.Fault("error.folder_is_file", words.Values{"path": path})
	}
	return nil
}
