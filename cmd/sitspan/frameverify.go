package main

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
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
		return wrongUsage(cmd, "no reading was given; needed: --bar with what a steel rule reads on the 200 mm "+
			"bar, such as --bar 198.6")
	}
	if f.barY.given && f.barY.value == 0 {
		return wrongUsage(cmd, "--bar-y is 0; needed: what a steel rule reads on the 150 mm bar, or leave it out")
	}
	print, err := calibration.VerifyPrint(calibration.BarReading{X: f.bar.value, Y: f.barY.value,
		U: f.barU.value})
	if err != nil {
		return wrongUsage(cmd, "%w", err)
	}
	if err := mustBeFolder(filepath.Dir(f.shop)); err != nil {
		return err
	}
	if doubt := print.Doubtful(); doubt != "" && !f.yes && !p.agreed(cmd, doubt) {
		return wrongUsage(cmd, "nothing was kept: %s; needed: both bars read once more, then --yes if they stay so",
			doubt)
	}
	section := shop.PrintOf(calibration.BarReading{X: f.bar.value, Y: f.barY.value, U: f.barU.value}, print,
		time.Now())
	if err := shop.SavePrint(f.shop, section); err != nil {
		return notWritten(f.shop, err)
	}
	p.printScale(f, print)
	for _, w := range print.Warnings {
		s := codes.OfPrint(string(w.Code)).With(w.Value)
		p.sayf("warning: %s; %s", sentence.Of(words.English, s), sentence.Do(words.English, s))
	}
	return nil
}

// agreed asks at a terminal whether a doubtful reading is to be kept; elsewhere nobody
// can be asked, and it is not.
func (p *program) agreed(cmd *cobra.Command, doubt string) bool {
	in := cmd.InOrStdin()
	if f, ok := in.(*os.File); ok {
		if info, err := f.Stat(); err != nil || info.Mode()&os.ModeCharDevice == 0 {
			return false
		}
	}
	p.sayf("%s; keep them all the same? [y/N]", doubt)
	answer, _ := bufio.NewReader(in).ReadString('\n') // the end of the input is a no
	answer = strings.ToLower(strings.TrimSpace(answer))
	return answer == "y" || answer == "yes"
}

// printScale tells what was recorded, and what it means on a usual spacing.
func (p *program) printScale(f verifyFlags, print calibration.Print) {
	fmt.Fprintf(p.stdout, "scale across the page  %.4f (u = %.4f)\n", print.ScaleX, print.UX)
	fmt.Fprintf(p.stdout, "scale down the side    %.4f (u = %.4f)\n", print.ScaleY, print.UY)
	const usual = 125 // mm
	fmt.Fprintf(p.stdout, "kept in %s; a spacing of %d mm on this print would be read %+.1f mm wrong without "+
		"it\n",
		f.shop, usual, usual/print.ScaleX-usual)
}
