package main

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/advice"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

const sizeLong = `Choose a saddle's width for a spacing that you know already.

The width needed is the spacing plus an allowance for the posture: the more
upright the rider, the wider. Of the widths in stock the smallest is taken that
holds with the rule's probability (95 % unless the shop's file says otherwise).
It is never rounded down; where the measurement is too uncertain to tell two
sizes apart, both are shown.

--u is a standard uncertainty: half of the ± that "sitspan measure" prints.`

const sizeExample = `  sitspan size --spacing 125 --u 0.8 --trunk 45 --trunk-u 2
  sitspan size --spacing 125 --u 0.8 --allowance 20 --stock stock.csv
  sitspan size --spacing 125 --allowance 20 --json`

type sizeFlags struct {
	choiceFlags
	spacing, u quantity
	json       bool
}

func (p *program) sizeCommand() *cobra.Command {
	f := &sizeFlags{
		spacing: quantity{unit: "MM", low: 40, high: 300},
		u:       quantity{unit: "MM", low: 0, high: 50},
	}
	cmd := &cobra.Command{
		Use:     "size --spacing MM (--trunk DEG | --allowance MM)",
		Short:   "Choose a width for a known spacing",
		Long:    sizeLong,
		Example: sizeExample,
		Args:    noArguments,
		RunE:    func(cmd *cobra.Command, _ []string) error { return p.size(cmd, f) },
	}
	cmd.Flags().Var(&f.spacing, "spacing", "distance between the sit bones")
	cmd.Flags().Var(&f.u, "u", "standard uncertainty of the spacing (0 if not given)")
	f.register(cmd)
	cmd.Flags().BoolVar(&f.json, "json", false, "print one JSON object")
	return cmd
}

func (p *program) size(cmd *cobra.Command, f *sizeFlags) error {
	if !f.spacing.given {
		return wrongUsage(cmd, "usage.size.spacing", nil)
	}
	lang, err := languageOf(cmd)
	if err != nil {
		return err
	}
	posture, err := f.posture(cmd)
	if err != nil {
		return err
	}
	if posture == nil {
		return wrongUsage(cmd, "usage.size.posture", nil)
	}
	advisor, err := f.advisor(cmd)
	if err != nil {
		return err
	}
	choice, err := advice.WidthFor(fit.StatedSpacing(f.spacing.value, f.u.value), advisor, *posture)
	if err != nil {
		return err
	}
	notes := &report.Footnotes{}
	text := report.Width(choice, lang, notes)
	if f.json {
		if err := json.NewEncoder(p.stdout).Encode(choice); err != nil {
			return err
		}
	} else {
		fmt.Fprint(p.stdout, text)
	}
	p.tellFootnotes(notes)
	p.hintAtTrunk(lang, f.choiceFlags)
	return nil
}

// tellFootnotes writes the warnings that the printed numbers refer to.
func (p *program) tellFootnotes(notes *report.Footnotes) {
	for _, n := range notes.Take() {
		p.say(n)
	}
}

// hintAtTrunk says that an angle without an uncertainty was taken as exact.
func (p *program) hintAtTrunk(lang words.Lang, f choiceFlags) {
	if f.trunk.given && !f.trunkU.given {
		p.hint(lang, "terminal.trunk_exact", nil)
	}
}
