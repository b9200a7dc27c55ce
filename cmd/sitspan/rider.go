package main

import (
	"strings"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/advice"
	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// riderFlags say who a saddle is chosen for, beside what choiceFlags say: the
// bikes, the rider's mass and complaints, and an alias.
type riderFlags struct {
	choiceFlags
	use, alias string
	bikes      []string
	mass       quantity
	complaints []string
}

func (f *riderFlags) register(cmd *cobra.Command) {
	f.choiceFlags.register(cmd)
	f.mass = quantity{unit: "KG", low: 20, high: 250}
	flags := cmd.Flags()
	flags.StringVar(&f.use, "use", "", "")
	flags.StringArrayVar(&f.bikes, "bike", nil, "")
	flags.Var(&f.mass, "mass", "")
	flags.StringArrayVar(&f.complaints, "complaint", nil, "")
	flags.StringVar(&f.alias, "alias", "", "")
	completeWords(cmd, "use", wordsOf(fit.Uses())...)
	completeWords(cmd, "complaint", complaintWords()...)
}

// complaintWords are the complaints as one types them.
func complaintWords() []string {
	words := wordsOf(fit.Complaints())
	for i, w := range words {
		words[i] = strings.ReplaceAll(w, "_", "-")
	}
	return words
}

func wordsOf[T ~string](list []T) []string {
	words := make([]string, len(list))
	for i, w := range list {
		words[i] = string(w)
	}
	return words
}

// givenBikes are the bikes that the flags name; none where they name no posture.
func (f *riderFlags) givenBikes(cmd *cobra.Command) ([]fit.Bike, error) {
	posture, err := f.posture(cmd)
	switch {
	case err != nil && (len(f.bikes) == 0 || f.trunk.given || f.allowance.given):
		return nil, err
	case len(f.bikes) > 0 && (posture != nil || f.use != ""):
		return nil, wrongUsage(cmd, "usage.bike.beside", nil)
	case len(f.bikes) > 0:
		return f.parsedBikes(cmd)
	case posture == nil:
		return nil, nil
	}
	bike := fit.Bike{Posture: *posture}
	if f.use != "" {
		if bike.Use, err = fit.ParseUse(f.use); err != nil {
			return nil, misuse(cmd, err)
		}
	}
	return []fit.Bike{bike}, nil
}

func (f *riderFlags) parsedBikes(cmd *cobra.Command) ([]fit.Bike, error) {
	bikes := make([]fit.Bike, 0, len(f.bikes))
	for _, text := range f.bikes {
		b, err := advice.ParseBike(text, f.trunkU.value)
		if err != nil {
			return nil, misuse(cmd, err)
		}
		bikes = append(bikes, b)
	}
	return bikes, nil
}

// afresh says whether any flag asks for another choice than the record holds.
func (f *riderFlags) afresh(cmd *cobra.Command) bool {
	for _, name := range []string{"bike", "trunk", "trunk-u", "allowance", "use", "mass", "complaint", "stock"} {
		if cmd.Flags().Changed(name) {
			return true
		}
	}
	return false
}

// rider is who the flags name; what they leave out is as the record had it.
func (f *riderFlags) rider(cmd *cobra.Command, before fit.Rider) (fit.Rider, error) {
	bikes, err := f.givenBikes(cmd)
	if err != nil {
		return fit.Rider{}, err
	}
	r := before
	if len(bikes) > 0 {
		r.Bikes = bikes
	} else if f.use != "" && len(r.Bikes) == 1 {
		if r.Bikes[0].Use, err = fit.ParseUse(f.use); err != nil {
			return fit.Rider{}, misuse(cmd, err)
		}
	}
	if f.mass.given {
		r.MassKg = f.mass.value
	}
	if len(f.complaints) > 0 {
		r.Complaints = nil
	}
	for _, word := range f.complaints {
		c, err := fit.ParseComplaint(word)
		if err != nil {
			return fit.Rider{}, wrongUsage(cmd, "usage.complaint", words.Values{
				"word": word, "known": strings.Join(complaintWords(), ", "),
			})
		}
		r.Complaints = append(r.Complaints, c)
	}
	if len(r.Bikes) == 0 {
		return fit.Rider{}, wrongUsage(cmd, "usage.posture.none",
			words.Values{"form": words.Key("usage.bike.form")})
	}
	return r, nil
}

// loadAdvised loads a record and, where flags ask for it, has the choice made
// afresh by the shop's present rules and stock. The file stays as it is.
func (f *riderFlags) loadAdvised(cmd *cobra.Command, path string) (record.Record, error) {
	rec, err := record.Load(path)
	if err != nil {
		return rec, notRead(words.Fault("error.what.record", nil), path, err)
	}
	if err := rec.Contradiction(); err != nil {
		return rec, words.Fault("error.record.contradicts", words.Values{"path": path, "why": err})
	}
	if f.alias != "" {
		rec.Alias = f.alias
	}
	if !f.afresh(cmd) {
		return rec, nil
	}
	before, err := advice.RiderOf(rec)
	if err != nil {
		return rec, err
	}
	rider, err := f.rider(cmd, before)
	if err != nil {
		return rec, err
	}
	advisor, err := f.advisor(cmd)
	if err != nil {
		return rec, err
	}
	if rec, err = advice.Recommend(rec, advisor, rider); err != nil {
		return rec, words.Fault("error.of_file", words.Values{"file": path, "why": err})
	}
	return rec, nil
}

// adviser gives what completes a fresh record: the alias, and where there is a
// posture and a spacing, the recommendation for each bike. Where fit cannot
// choose, the record is left as it is: it holds a warning already.
func (f *riderFlags) adviser(cmd *cobra.Command, o intake.Options) (func(record.Record) record.Record,
	error) {
	named := func(rec record.Record) record.Record {
		rec.Alias = f.alias
		return rec
	}
	if o.Posture == nil && !f.asksForASaddle() {
		return named, nil
	}
	rider, err := f.rider(cmd, fit.Rider{})
	if err != nil {
		return nil, err
	}
	advisor := fit.Advisor{Allowances: o.Shop.Allowances, Rule: o.Shop.Rule, Damping: o.Shop.Damping}
	if o.Stock != nil {
		advisor.Stock = *o.Stock
	} else if advisor.Stock, err = o.Shop.Stock(); err != nil {
		return nil, notRead(words.Fault("error.what.shop_stock", words.Values{"shop": f.shop}), o.Shop.StockFile,
			err)
	}
	return func(rec record.Record) record.Record {
		rec = named(rec)
		if out, err := advice.Recommend(rec, advisor, rider); err == nil {
			return out
		}
		return rec
	}, nil
}

// asksForASaddle says whether a flag was given that means nothing without a
// posture.
func (f *riderFlags) asksForASaddle() bool {
	return f.use != "" || f.mass.given || len(f.complaints) > 0
}

// oneRecord asks for exactly one record's file.
func oneRecord(cmd *cobra.Command, args []string) error {
	if len(args) == 1 {
		return nil
	}
	return wrongUsage(cmd, "usage.records", words.Values{"n": len(args)})
}
