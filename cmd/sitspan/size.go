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
		Use:  "size",
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return p.size(cmd, f) },
	}
	cmd.Flags().Var(&f.spacing, "spacing", "")
	cmd.Flags().Var(&f.u, "u", "")
	f.register(cmd)
	cmd.Flags().BoolVar(&f.json, "json", false, "")
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
