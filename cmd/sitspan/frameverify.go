package main

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sitspan/calibration"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
)

const frameVerifyLong = `Tell sitspan how large your printer really made the control frame.

Lay a steel rule along the 200 mm check bar, read from the middle of one end
line to the middle of the other, and enter millimetres. The 150 mm bar down the
side tells whether the page was stretched one way. Every later measurement uses
the reading and carries its uncertainty.

The reading is kept in the shop's file; all else in it stays as it is. Each new
print is to be measured anew.`

const frameVerifyExample = `  sitspan frame verify --bar 198.6 --bar-y 149.1
  sitspan frame verify --bar 200.3 --bar-u 0.2
  sitspan frame verify --bar 198.6 --shop counter.yaml`

type verifyFlags struct {
	bar, barY, barU quantity
	shop            string
	yes             bool
}

func (p *program) frameVerifyCommand() *cobra.Command {
	f := verifyFlags{
		bar:  quantity{unit: "MM", low: 0, high: 1000},
		barY: quantity{unit: "MM", low: 0, high: 1000},
		barU: quantity{unit: "MM", low: 0.01, high: 2, value: calibration.DefaultBarU},
	}
	cmd := &cobra.Command{
		Use:     "verify --bar MM",
		Short:   "Record what a steel rule reads on the print's check bars",
		Long:    frameVerifyLong,
		Example: frameVerifyExample,
		Args:    noArguments,
		RunE:    func(cmd *cobra.Command, _ []string) error { return p.frameVerify(cmd, f) },
	}
	flags := cmd.Flags()
	flags.Var(&f.bar, "bar", "reading of the 200 mm bar along the bottom")
	flags.Var(&f.barY, "bar-y", "reading of the 150 mm bar down the side")
	flags.Var(&f.barU, "bar-u", "standard uncertainty of a reading")
	flags.StringVar(&f.shop, "shop", shop.FileName, "the shop's `FILE` to keep it in")
	flags.BoolVar(&f.yes, "yes", false, "keep readings that look wrong, without being asked")
	completeFile(cmd, "shop", "yaml", "yml")
	return cmd
}

func (p *program) frameVerify(cmd *cobra.Command, f verifyFlags) error {
	if !f.bar.given {
		return wrongUsage(cmd, "usage.verify.bar", nil)
	}
	if f.barY.given && f.barY.value == 0 {
		return wrongUsage(cmd, "usage.verify.bar_y", nil)
	}
	print, err := calibration.VerifyPrint(calibration.BarReading{X: f.bar.value, Y: f.barY.value,
		U: f.barU.value})
	if err != nil {
		return misuse(cmd, err)
	}
	if err := mustBeFolder(filepath.Dir(f.shop)); err != nil {
		return err
	}
	if doubt := print.Doubtful(); doubt != nil && !f.yes && !p.agreed(cmd, doubt) {
		return wrongUsage(cmd, "usage.verify.doubt", words.Values{"why": doubt})
	}
	section := shop.PrintOf(calibration.BarReading{X: f.bar.value, Y: f.barY.value, U: f.barU.value}, print,
		time.Now())
	if err := shop.SavePrint(f.shop, section); err != nil {
		return notWritten(f.shop, err)
	}
	p.printScale(f, print)
	for _, w := range print.Warnings {
		s := codes.OfPrint(string(w.Code)).With(w.Value)
		lang := p.language()
		p.say(lang.Say("terminal.warning", words.Values{
			"text": lang.Joined(sentence.Of(lang, s), sentence.Do(lang, s)),
		}))
	}
	return nil
}

// agreed asks at a terminal whether a doubtful reading is to be kept; elsewhere nobody
// can be asked, and it is not.
func (p *program) agreed(cmd *cobra.Command, doubt error) bool {
	in := cmd.InOrStdin()
	if f, ok := in.(*os.File); ok {
		if info, err := f.Stat(); err != nil || info.Mode()&os.ModeCharDevice == 0 {
			return false
		}
	}
	p.tell("terminal.verify.ask", words.Values{"why": doubt})
	answer, _ := bufio.NewReader(in).ReadString('\n') // the end of the input is a no
	answer = strings.ToLower(strings.TrimSpace(answer))
	yes := p.language().Text("terminal.verify.yes") + " y yes"
	return slices.Contains(strings.Fields(yes), answer)
}

// printScale tells what was recorded, and what it means on a usual spacing.
func (p *program) printScale(f verifyFlags, print calibration.Print) {
	lang := p.language()
	axis := func(key string, scale, u float64) {
		fmt.Fprintf(p.stdout, "%-22s %s (u = %s)\n", lang.Text(key), lang.Number(scale, 4), lang.Number(u, 4))
	}
	axis("terminal.verify.across", print.ScaleX, print.UX)
	axis("terminal.verify.down", print.ScaleY, print.UY)
	const usual = 125 // mm
	fmt.Fprintln(p.stdout, lang.Say("terminal.verify.kept",
		words.Values{"file": f.shop, "usual": usual, "wrong": usual/print.ScaleX - usual}))
}
