package main

import (
	"errors"
	"io/fs"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// choiceFlags are the flags by which `size` and `measure` choose a width: the
// posture, the stock and the shop's file.
type choiceFlags struct {
	trunk, trunkU, allowance quantity
	stock, shop              string
}

func (f *choiceFlags) register(cmd *cobra.Command) {
	f.trunk = quantity{unit: "DEG", low: -20, high: 120}
	f.trunkU = quantity{unit: "DEG", low: 0, high: 45}
	f.allowance = quantity{unit: "MM", low: 0, high: 100}
	flags := cmd.Flags()
	flags.Var(&f.trunk, "trunk", "")
	flags.Var(&f.trunkU, "trunk-u", "")
	flags.Var(&f.allowance, "allowance", "")
	flags.StringVar(&f.stock, "stock", "", "")
	flags.StringVar(&f.shop, "shop", shop.FileName, "")
	completeFile(cmd, "stock", "csv")
	completeFile(cmd, "shop", "yaml", "yml")
}

// posture is nil where neither flag was given.
func (f *choiceFlags) posture(cmd *cobra.Command) (*fit.Posture, error) {
	switch {
	case f.trunk.given && f.allowance.given:
		return nil, wrongUsage(cmd, "usage.posture.both", nil)
	case f.trunkU.given && !f.trunk.given:
		return nil, wrongUsage(cmd, "usage.posture.u", nil)
	case f.trunk.given:
		posture := fit.TrunkAngle(f.trunk.value, f.trunkU.value)
		return &posture, nil
	case f.allowance.given:
		posture := fit.AllowanceByHand(f.allowance.value, 0)
		return &posture, nil
	}
	return nil, nil
}

// settings loads the shop's file. One that was named must be there; the usual
// one may be missing.
func (f *choiceFlags) settings(cmd *cobra.Command) (shop.Shop, error) {
	if !cmd.Flags().Changed("shop") {
		s, err := shop.LoadOrDefault(f.shop)
		return s, notRead(words.Fault("error.what.settings", nil), f.shop, err)
	}
	s, err := shop.Load(f.shop)
	if errors.Is(err, fs.ErrNotExist) {
		return s, words.Fault("error.no_settings", words.Values{"file": f.shop})
	}
	return s, notRead(words.Fault("error.what.settings", nil), f.shop, err)
}

// shelf is the stock that --stock names; nil leaves it to the shop's file.
func (f *choiceFlags) shelf() (*fit.Stock, error) {
	if f.stock == "" {
		return nil, nil
	}
	stock, err := fit.LoadStock(f.stock)
	if err != nil {
		return nil, notRead(words.Fault("error.what.stock", nil), f.stock, err)
	}
	return &stock, nil
}

// advisor is what the width is chosen by.
func (f *choiceFlags) advisor(cmd *cobra.Command) (fit.Advisor, error) {
	settings, err := f.settings(cmd)
	if err != nil {
		return fit.Advisor{}, err
	}
	stock, err := f.shelf()
	if err != nil {
		return fit.Advisor{}, err
	}
	if stock == nil {
		advisor, err := settings.Advisor()
		return advisor, notRead(words.Fault("error.what.shop_stock", words.Values{"shop": f.shop}),
			settings.StockFile, err)
	}
	return fit.Advisor{Allowances: settings.Allowances, Rule: settings.Rule, Damping: settings.Damping,
		Stock: *stock}, nil
}

// padNames lists the pad profiles that can be asked for.
func padNames(s shop.Shop) []string { return slices.Sorted(maps.Keys(s.Pads)) }
