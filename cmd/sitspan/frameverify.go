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

type verifyFlags struct {
	bar, barY, barU quantity
	shop, medium    string
	yes             bool
}

func (p *program) frameVerifyCommand() *cobra.Command {
	f := verifyFlags{
		bar:  quantity{unit: "MM", low: 0, high: 1000},
		barY: quantity{unit: "MM", low: 0, high: 1000},
		barU: quantity{unit: "MM", low: 0.01, high: 2, value: calibration.DefaultBarU},
	}
	cmd := &cobra.Command{
		Use:  "verify",
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return p.frameVerify(cmd, f) },
	}
	flags := cmd.Flags()
	flags.Var(&f.bar, "bar", "")
	flags.Var(&f.barY, "bar-y", "")
	flags.Var(&f.barU, "bar-u", "")
	flags.StringVar(&f.medium, "medium", string(calibration.Foam), "")
	completeWords(cmd, "medium", "foam", "paper")
	flags.StringVar(&f.shop, "shop", shop.FileName, "")
	flags.BoolVar(&f.yes, "yes", false, "")
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
	medium, err := calibration.ParseMedium(f.medium)
	if err != nil {
		return misuse(cmd, err)
	}
	of := shop.OnCard
	if medium == calibration.Paper {
		of = shop.OnPaper
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
	section := shop.VerifiedPrint(calibration.BarReading{X: f.bar.value, Y: f.barY.value, U: f.barU.value},
		print,
		time.Now())
	if err := shop.SavePrint(f.shop, of, section); err != nil {
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
	if f, ok := in.(*os.File); ok && !isTerminal(f) {
		return false
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
