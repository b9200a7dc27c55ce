package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
)

// knownList prints the checks, and for each pad under each print its mean and its control limits.
func (p *program) knownList(cmd *cobra.Command, f *knownFlags, lang words.Lang, args []string) error {
	if len(args) > 0 {
		return wrongUsage(cmd, "usage.known.list", words.Values{"photo": printable(args[0])})
	}
	dir, err := f.dataDir()
	if err != nil {
		return err
	}
	list, err := store.ChecksIn(cmd.Context(), dir)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		fmt.Fprintln(p.stdout, lang.Text("known.list.none"))
		return nil
	}
	fmt.Fprintln(p.stdout, lang.Text("known.list.head"))
	kept := make([]proof.Kept, len(list))
	for i, c := range list {
		kept[i] = c.Kept()
		fmt.Fprintln(p.stdout, checkLine(lang, c))
	}
	for _, s := range proof.Settings(kept) {
		p.padLines(lang, proof.Of(kept, s.Pad, s.Print), s)
	}
	return nil
}

// checkLine is one check of the list.
func checkLine(lang words.Lang, c store.Check) string {
	measured := []string{lang.Text("known.list.no_number")}
	if c.MeasuredMM != nil && c.MeasuredU != nil {
		measured = []string{
			lang.Number(*c.MeasuredMM, 1) + " ± " + report.StatedU(lang, *c.MeasuredU) + " mm",
			lang.Signed(*c.MeasuredMM-c.DistanceMM, 1) + " mm",
		}
	}
	parts := append([]string{fmt.Sprint(c.ID), lang.Date(c.MadeAt), lang.Number(c.DistanceMM, 1) + " mm"},
		measured...)
	print := c.Print
	if print == "" {
		print = lang.Text("known.list.no_print")
	}
	for _, text := range []string{padTitle(lang, c.Pad), c.Phone, print, c.Light} {
		if text != "" {
			parts = append(parts, printable(text))
		}
	}
	switch {
	case c.LeftOut != "":
		parts = append(parts, lang.Say("known.list.left_out", words.Values{"why": printable(c.LeftOut)}))
	case !c.Accepted:
		parts = append(parts, lang.Text("known.list.not_accepted"))
	}
	return strings.Join(parts, "  ")
}

// padTitle is a pad's name; that of a built-in one is a word of the language.
func padTitle(lang words.Lang, name string) string {
	if _, builtIn := shop.DefaultPads()[name]; builtIn {
		return lang.Term(name)
	}
	return name
}

// padLines are a pad's mean and control chart under one print.
func (p *program) padLines(lang words.Lang, checks []proof.Kept, s proof.Setting) {
	bias, ok := proof.BiasFor(checks, s.Pad, s.Print)
	v := words.Values{"pad": printable(padTitle(lang, s.Pad)), "n": fmt.Sprint(len(checks)),
		"least": fmt.Sprint(proof.LeastChecks)}
	if !ok {
		fmt.Fprintln(p.stdout, lang.Say("known.bias.few", v))
		return
	}
	key := "known.bias.chance"
	if bias.Significant {
		key = "known.bias.significant"
	}
	v["mean"], v["u"] = bias.MeanMM, bias.Expanded()
	fmt.Fprintln(p.stdout, lang.Say(key, v))
	points := make([]float64, len(checks))
	for i, k := range checks {
		points[i] = k.Deviation()
	}
	chart, _ := proof.ChartOf(points)
	v["low"], v["high"], v["centre"] = chart.Lower, chart.Upper, chart.Centre
	fmt.Fprintln(p.stdout, lang.Say("known.chart.limits", v))
	for _, sign := range chart.Signs(points) {
		v := words.Values{"n": fmt.Sprint(checks[sign.At].ID)}
		fmt.Fprintln(p.stdout, lang.Say("known.chart.sign."+string(sign.Rule), v))
	}
}

// registerData is --data: the folder that holds the shop's checks.
func registerData(cmd *cobra.Command, data *string) {
	cmd.Flags().StringVar(data, "data", "", "")
	completeFolder(cmd, "data")
}

// lastCheck says when the shop of a data folder last checked its number, or that it never did.
func lastCheck(ctx context.Context, lang words.Lang, data string) (string, error) {
	dir, err := (&deskFlags{data: data}).dataDir()
	if err != nil {
		return lang.Text("known.last.never"), nil // nowhere to keep a check
	}
	kept, err := store.KeptIn(ctx, dir)
	if err != nil {
		return "", err
	}
	return report.LastCheck(lang, proof.Last(kept)), nil
}
