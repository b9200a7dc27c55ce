package shop

import (
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"sitspan/calibration"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// checker turns a document into settings, and gathers every fault with its
// place in the file.
type checker struct {
	path   string
	file   *ast.File
	faults []Fault
}

// key is one step of a path in the file: a key's name or an index.
type key any

// add reports a fault at the deepest part of the path that the file has.
func (c *checker) add(why error, path ...key) {
	at := words.Fault("error.settings.at", words.Values{"path": pathText(path), "why": why})
	c.faults = append(c.faults, faultAt(c.path, c.tokenAt(path), at))
}

func (c *checker) err() error {
	if len(c.faults) == 0 {
		return nil
	}
	slices.SortStableFunc(c.faults, func(a, b Fault) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return &Faults{c.faults}
}

func (c *checker) tokenAt(path []key) *token.Token {
	for n := len(path); n > 0; n-- {
		b := (&yaml.PathBuilder{}).Root()
		for _, k := range path[:n] {
			switch k := k.(type) {
			case string:
				b = b.Child(k)
			case int:
				b = b.Index(uint(k))
			}
		}
		if node, err := b.Build().FilterFile(c.file); err == nil && node != nil {
			return beginOf(node)
		}
	}
	return nil
}

// beginOf is where a node begins for a reader: a section's token is the colon
// of its first key.
func beginOf(node ast.Node) *token.Token {
	if m, ok := node.(*ast.MappingNode); ok && !m.IsFlowStyle && len(m.Values) > 0 {
		return m.Values[0].Key.GetToken()
	}
	return node.GetToken()
}

// pathText writes a path as a person would: pads.foam.depth_mm, allowance row 2.
func pathText(path []key) any {
	before, after, row := "", "", 0
	for _, k := range path {
		switch k := k.(type) {
		case string:
			if before+after != "" {
				k = "." + k
			}
			if row > 0 {
				after += k
			} else {
				before += k
			}
		case int:
			row = k + 1
		}
	}
	if row == 0 {
		return before
	}
	return words.Fault("error.settings.row", words.Values{"before": before, "row": row, "after": after})
}

// number puts a value that is there and within its range into dst.
func (c *checker) number(dst *float64, v *float64, low, high float64, unit string, path ...key) {
	if v == nil {
		return
	}
	if !(*v >= low && *v <= high) { // NaN too
		c.add(outOf("error.settings.range", unit, words.Values{"value": *v, "low": low, "high": high}),
			path...)
		return
	}
	*dst = *v
}

// outOf is a range that a number is not in. Units are the same in every language
// but that of an angle.
func outOf(key, unit string, v words.Values) error {
	switch unit { // those that languages call otherwise
	case " deg":
		return words.Fault(key+".deg", v)
	case " weeks":
		return words.Fault(key+".weeks", v)
	}
	v["unit"] = unit
	return words.Fault(key, v)
}

// required is number for a key that must be there.
func (c *checker) required(dst *float64, v *float64, low, high float64, unit string, path ...key) {
	if v == nil {
		c.add(outOf("error.settings.missing", unit, words.Values{"low": low, "high": high}), path...)
		return
	}
	c.number(dst, v, low, high, unit, path...)
}

func (c *checker) shop(d document) Shop {
	s := Default()
	s.Name, s.Fitter, s.CorrectByChecks = d.Name, d.Fitter, d.Checks.Correct
	c.letterhead(&s, d)
	s.Languages = c.languages(d.Languages)
	s.Print, s.PrintPaper = c.print(d.Print, string(OnCard)), c.print(d.PrintPaper, string(OnPaper))
	builtIn := DefaultPads()
	for _, name := range slices.Sorted(maps.Keys(d.Pads)) {
		s.Pads[name] = c.pad(name, d.Pads[name], builtIn)
	}
	if d.Allowance != nil {
		s.Allowances = c.allowance(d.Allowance)
	}
	c.rule(&s.Rule, d.Rule)
	c.damping(&s.Damping, d.Damping)
	c.stock(&s, d.Stock)
	return s
}

// languages takes codes of ISO 639; which of them have words is known elsewhere.
func (c *checker) languages(codes []string) []string {
	for i, code := range codes {
		if len(code) != 2 || strings.Trim(code, "abcdefghijklmnopqrstuvwxyz") != "" {
			c.add(words.Fault("error.settings.language", words.Values{"is": code}), "languages", i)
		}
	}
	return codes
}

// The smallest uncertainty of a scale or a reading that is not a slip: a steel
// rule is not read to better than a hundredth of a millimetre (assumed).
const (
	minScaleU = 1e-5
	minBarU   = 0.01
	maxBarU   = 2
)

// maxNextLookWeeks is ten years; maxAddressLines is what a sheet's head has room for.
const (
	maxNextLookWeeks = 520
	maxAddressLines  = 4
)

// letterhead checks what the rider's sheet shows of the shop.
func (c *checker) letterhead(s *Shop, d document) {
	s.Address = strings.TrimSpace(d.Address)
	if n := strings.Count(s.Address, "\n") + 1; n > maxAddressLines {
		c.add(words.Fault("error.settings.lines", words.Values{"n": n, "most": maxAddressLines}), "address")
	}
	if logo := strings.TrimSpace(d.Logo); logo != "" {
		s.LogoFile = beside(c.path, logo)
		switch strings.ToLower(filepath.Ext(logo)) {
		case ".png", ".jpg", ".jpeg":
		default:
			c.add(words.Fault("error.settings.logo", words.Values{"is": logo}), "logo")
		}
	}
	weeks := 0.0
	c.number(&weeks, d.NextLookWeeks, 1, maxNextLookWeeks, " weeks", "next_look_weeks")
	if s.NextLook = int(weeks); float64(s.NextLook) != weeks {
		c.add(words.Fault("error.settings.weeks", words.Values{"weeks": weeks}), "next_look_weeks")
	}
}

// print reads the verification in a section; nil where there is none.
func (c *checker) print(d *printSection, section string) *Print {
	if d == nil {
		return nil
	}
	low, high := 1-calibration.MaxScaleError, 1+calibration.MaxScaleError
	p := &Print{Date: d.Date}
	c.required(&p.ScaleX, d.ScaleX, low, high, "", section, "scale_x")
	c.required(&p.ScaleXU, d.ScaleXU, minScaleU, calibration.MaxScaleError, "", section, "scale_x_u")
	if d.ScaleY != nil || d.ScaleYU != nil {
		c.required(&p.ScaleY, d.ScaleY, low, high, "", section, "scale_y")
		c.required(&p.ScaleYU, d.ScaleYU, minScaleU, calibration.MaxScaleError, "", section, "scale_y_u")
	}
	c.number(&p.CorrelationXY, d.CorrelationXY, -1, 1, "", section, "correlation_xy")
	c.number(&p.BarMM, d.BarMM, 200*low, 200*high, " mm", section, "bar_mm")
	c.number(&p.BarYMM, d.BarYMM, 150*low, 150*high, " mm", section, "bar_y_mm")
	c.number(&p.BarUMM, d.BarUMM, minBarU, maxBarU, " mm", section, "bar_u_mm")
	if _, err := time.Parse(time.DateOnly, d.Date); d.Date != "" && err != nil {
		c.add(words.Fault("error.settings.date", words.Values{"is": d.Date}), section, "date")
	}
	return p
}

// maxPadMM bounds a pad's depths: thicker pads are not made for imprints
// (assumed, as in calibration).
const maxPadMM = 60

// pad starts from the built-in profile of that name, or of its medium, and puts
// over it what the shop has written.
func (c *checker) pad(name string, d padRow, known map[string]Pad) Pad {
	p, builtIn := known[name]
	switch {
	case d.Medium == Foam || d.Medium == Gel || d.Medium == Paper:
		if !builtIn {
			p = known[d.Medium]
		}
		p.Medium = d.Medium
	case d.Medium != "":
		c.add(words.Fault("error.settings.medium", words.Values{"is": d.Medium}), "pads", name, "medium")
	case !builtIn:
		c.add(words.Fault("error.settings.no_medium", nil), "pads", name, "medium")
	}
	changed := d.DepthMM != nil || d.DepthUCommonMM != nil || d.DepthUDifferenceMM != nil
	lengths := []struct {
		key string
		dst *float64
		v   *float64
	}{
		{"depth_mm", &p.DepthMM, d.DepthMM},
		{"depth_u_common_mm", &p.DepthUCommonMM, d.DepthUCommonMM},
		{"depth_u_difference_mm", &p.DepthUDifferenceMM, d.DepthUDifferenceMM},
		{"card_thickness_mm", &p.CardThicknessMM, d.CardThicknessMM},
		{"card_thickness_u_mm", &p.CardThicknessUMM, d.CardThicknessUMM},
	}
	for _, l := range lengths {
		c.number(l.dst, l.v, 0, maxPadMM, " mm", "pads", name, l.key)
	}
	if p.Medium != Paper && d.DepthUCommonMM != nil && *d.DepthUCommonMM == 0 {
		c.add(words.Fault("error.settings.no_spread", nil), "pads", name, "depth_u_common_mm")
	}
	switch {
	case d.Basis != "":
		p.Basis = d.Basis
	case changed:
		p.Basis = "shop's settings, basis not stated"
	}
	return p
}

// allowance makes the table. Rows with a number missing or out of range are
// reported at their own place, what is wrong between rows at the list.
func (c *checker) allowance(rows []allowanceRow) fit.AllowanceTable {
	before := len(c.faults)
	list := make([]fit.AllowanceRow, len(rows))
	for i, d := range rows {
		list[i].Basis = d.Basis
		c.required(&list[i].AngleDeg, d.AngleDeg, -20, 120, " deg", "allowance", i, "angle_deg")
		c.required(&list[i].MM, d.MM, 0, 100, " mm", "allowance", i, "mm")
		c.number(&list[i].UMM, d.UMM, 0, 100, " mm", "allowance", i, "u_mm")
	}
	if len(c.faults) > before {
		return fit.DefaultAllowanceTable()
	}
	table, err := fit.NewAllowanceTable(list)
	for _, e := range parts(err) {
		c.add(e, "allowance")
	}
	return table
}

// parts takes a joined error apart. A fault is one thing, whatever it wraps.
func parts(err error) []error {
	if err == nil {
		return nil
	}
	if _, sentence := err.(interface {
		Coded() (string, map[string]any)
	}); sentence {
		return []error{err} // with errors among its values, or none
	}
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		var all []error
		for _, e := range joined.Unwrap() {
			all = append(all, parts(e)...)
		}
		return all
	}
	return []error{err}
}

func (c *checker) rule(r *fit.Rule, d ruleSection) {
	if d.Level == nil {
		return
	}
	r.Level = *d.Level
	if err := r.Validate(); err != nil {
		c.add(err, "rule", "level")
	}
}

func (c *checker) damping(t *fit.DampingTable, d dampingSection) {
	c.number(&t.SoftUpToKg, d.SoftUpToKg, 1, 400, " kg", "damping", "soft_up_to_kg")
	c.number(&t.FirmFromKg, d.FirmFromKg, 1, 400, " kg", "damping", "firm_from_kg")
	c.number(&t.NearKg, d.NearKg, 0, 50, " kg", "damping", "near_kg")
	switch {
	case d.Basis != "":
		t.Basis = d.Basis
	case d.SoftUpToKg != nil || d.FirmFromKg != nil:
		t.Basis = "shop's settings, basis not stated"
	}
	for _, e := range parts(t.Validate()) {
		c.add(e, "damping")
	}
}

func (c *checker) stock(s *Shop, d stockSection) {
	switch {
	case !d.given:
	case d.file != "":
		s.StockFile = beside(c.path, d.file)
	case len(d.widths) == 0:
		c.add(words.Fault("error.settings.no_stock", nil), "stock")
	default:
		s.WidthsMM = d.widths
		_, err := fit.StockOfWidths(d.widths)
		for _, e := range parts(err) {
			c.add(e, "stock")
		}
	}
}
