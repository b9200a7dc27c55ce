package main

import (
	"cmp"
	"errors"
	"fmt"
	"image"
	"io"
	"io/fs"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
)

// overlayEnding is what an overlay's name ends in, beside its record's.
const overlayEnding = ".overlay.jpg"

type sheetFlags struct {
	riderFlags
	out, paper, overlay string
	data                string
	fitter, next        string
}

func (p *program) sheetCommand() *cobra.Command {
	f := &sheetFlags{}
	cmd := &cobra.Command{
		Use:  "sheet",
		Args: oneRecord,
		RunE: func(cmd *cobra.Command, args []string) error { return p.sheet(cmd, f, args[0]) },
	}
	flags := cmd.Flags()
	flags.StringVarP(&f.out, "output", "o", "", "")
	registerData(cmd, &f.data)
	flags.StringVar(&f.paper, "paper", string(report.A4), "")
	flags.StringVar(&f.overlay, "overlay", "", "")
	flags.StringVar(&f.fitter, "fitter", "", "")
	flags.StringVar(&f.next, "next", "", "")
	f.register(cmd)
	completeFile(cmd, "output", "pdf")
	completeFile(cmd, "overlay", "jpg", "png")
	completeWords(cmd, "paper", "a4", "letter")
	return cmd
}

func (p *program) sheet(cmd *cobra.Command, f *sheetFlags, path string) error {
	options, err := f.check(cmd)
	if err != nil {
		return err
	}
	rec, err := f.loadAdvised(cmd, path)
	if err != nil {
		return err
	}
	m, reviewer := rec.Current()
	if m.Spacing == nil {
		return p.noSheet(options.Lang, path, m)
	}
	if err := f.addShop(cmd, rec, &options); err != nil {
		return err
	}
	if err := f.sign(cmd, rec, &options); err != nil {
		return err
	}
	if options.Proof, err = lastCheck(cmd.Context(), options.Lang, f.data); err != nil {
		return err
	}
	if options.Overlay, err = f.picture(path, reviewer != ""); err != nil {
		return err
	}
	if spoken := report.OverlayLang(overlayBeside(path)); options.Overlay != nil && f.overlay == "" &&
		spoken != "" && spoken != options.Lang {
		options.Overlay = nil
		p.hint(options.Lang, "terminal.sheet_overlay", words.Values{"file": overlayBeside(path),
			"lang": string(options.Lang)})
	}
	if err := wholefile.Write(f.out, func(w io.Writer) error {
		return report.WriteSheet(w, rec,
			options)
	}); err != nil {
		return notWritten(f.out, err)
	}
	fmt.Fprintf(p.stdout, "%s\n", f.out)
	if len(rec.Recommendations) == 0 && len(m.Width) == 0 {
		p.hint(options.Lang, "terminal.sheet_no_width", nil)
	}
	if m.Status == record.Review {
		p.warn(options.Lang, "terminal.sheet_review", words.Values{"file": path})
		return statusError(exitReview)
	}
	return nil
}

// check reads the words among the flags.
func (f *sheetFlags) check(cmd *cobra.Command) (o report.SheetOptions, err error) {
	switch {
	case f.out == "":
		return o, wrongUsage(cmd, "usage.sheet.out", nil)
	case !strings.EqualFold(filepath.Ext(f.out), ".pdf"):
		return o, wrongUsage(cmd, "usage.sheet.pdf", words.Values{"file": f.out})
	}
	if o.Lang, err = languageOf(cmd); err != nil {
		return o, err
	}
	if o.Paper, err = report.ParsePaper(f.paper); err != nil {
		return o, misuse(cmd, err)
	}
	return o, mustBeFolder(filepath.Dir(f.out))
}

// noSheet tells why there is nothing to hand over.
func (p *program) noSheet(lang words.Lang, path string, m record.Measurement) error {
	p.say(lang.Say("terminal.sheet_none", words.Values{"file": path, "status": lang.Text("status." + m.Status)}))
	for _, line := range report.Trouble(m, lang) {
		p.say(line)
	}
	return statusError(exitReview)
}

// addShop gives the sheet the shop's address and logo, and the name in the shop's file that --shop names,
// else the record's, else the usual shop's file's.
func (f *sheetFlags) addShop(cmd *cobra.Command, rec record.Record, o *report.SheetOptions) error {
	s, err := f.settings(cmd)
	if err != nil {
		return err
	}
	o.Shop, o.Address = s.Name, s.Address
	if rec.Settings.Shop != "" && !cmd.Flags().Changed("shop") {
		o.Shop = rec.Settings.Shop
	}
	o.Logo, err = s.Logo()
	return err
}

// sign gives the sheet the fitter's name and the day of the next look: those of the flags, else by the shop's
// file.
func (f *sheetFlags) sign(cmd *cobra.Command, rec record.Record, o *report.SheetOptions) error {
	s, err := f.settings(cmd)
	if err != nil {
		return err
	}
	o.Fitter = cmp.Or(strings.TrimSpace(f.fitter), s.Fitter)
	o.Next = s.NextAfter(rec.MadeAt)
	if f.next == "" {
		return nil
	}
	if o.Next, err = time.Parse(time.DateOnly, f.next); err != nil {
		return wrongUsage(cmd, "usage.sheet.next", words.Values{"text": f.next})
	}
	if made := rec.MadeAt; !made.IsZero() && o.Next.Before(made.Truncate(24*time.Hour)) {
		return wrongUsage(cmd, "usage.sheet.next_before", words.Values{"text": f.next,
			"made": made.Format(time.DateOnly)})
	}
	return nil
}

// overlayBeside is where a record's overlay lies.
func overlayBeside(recordPath string) string {
	return strings.TrimSuffix(recordPath, record.Extension) + overlayEnding
}

// picture is the overlay that was named or, for an automatic measurement, the
// one beside the record. A reviewer's centres are not on that one.
func (f *sheetFlags) picture(recordPath string, reviewed bool) (image.Image, error) {
	switch {
	case f.overlay == "none":
		return nil, nil
	case f.overlay != "":
		return report.LoadOverlay(f.overlay)
	case reviewed:
		return nil, nil
	}
	picture, err := report.LoadOverlay(overlayBeside(recordPath))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return picture, err
}
