package shop

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"sitspan/calibration"
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
func (c *checker) add(message string, path ...key) {
	c.faults = append(c.faults, faultAt(c.path, c.tokenAt(path), pathText(path)+": "+message))
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
func pathText(path []key) string {
	text := ""
	for _, k := range path {
		switch k := k.(type) {
		case string:
			if text != "" {
				text += "."
			}
			text += k
		case int:
			text += fmt.Sprintf("[row %d]", k+1)
		}
	}
	return text
}

// number puts a value that is there and within its range into dst.
func (c *checker) number(dst *float64, v *float64, low, high float64, unit string, path ...key) {
	if v == nil {
		return
	}
	if !(*v >= low && *v <= high) { // NaN too
		c.add(fmt.Sprintf("is %g%s, needed: %g to %g%s", *v, unit, low, high, unit), path...)
		return
	}
	*dst = *v
}

// required is number for a key that must be there.
func (c *checker) required(dst *float64, v *float64, low, high float64, unit string, path ...key) {
	if v == nil {
		c.add(fmt.Sprintf("is missing, needed: a number from %g to %g%s", low, high, unit), path...)
		return
	}
	c.number(dst, v, low, high, unit, path...)
}

func (c *checker) shop(d document) Shop {
	s := Default()
	s.Name, s.Address, s.CorrectByChecks = d.Name, d.Address, d.Checks.Correct
	if d.Logo != "" {
		s.LogoFile = beside(c.path, d.Logo)
	}
	s.Languages = c.languages(d.Languages)
	if d.Print != nil {
		p := c.print(*d.Print)
		s.Print = &p
	}
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
			c.add(fmt.Sprintf("is %q, needed: a language's code, such as de", code), "languages", i)
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

func (c *checker) print(d printSection) Print {
	low, high := 1-calibration.MaxScaleError, 1+calibration.MaxScaleError
	p := Print{Date: d.Date}
	c.required(&p.ScaleX, d.ScaleX, low, high, "", "print", "scale_x")
	c.required(&p.ScaleXU, d.ScaleXU, minScaleU, calibration.MaxScaleError, "", "print", "scale_x_u")
	if d.ScaleY != nil || d.ScaleYU != nil {
		c.required(&p.ScaleY, d.ScaleY, low, high, "", "print", "scale_y")
		c.required(&p.ScaleYU, d.ScaleYU, minScaleU, calibration.MaxScaleError, "", "print", "scale_y_u")
	}
	c.number(&p.CorrelationXY, d.CorrelationXY, -1, 1, "", "print", "correlation_xy")
	c.number(&p.BarMM, d.BarMM, 200*low, 200*high, " mm", "print", "bar_mm")
	c.number(&p.BarYMM, d.BarYMM, 150*low, 150*high, " mm", "print", "bar_y_mm")
	c.number(&p.BarUMM, d.BarUMM, minBarU, maxBarU, " mm", "print", "bar_u_mm")
	if _, err := time.Parse(time.DateOnly, d.Date); d.Date != "" && err != nil {
		c.add(fmt.Sprintf("is %q, needed: a date as 2026-05-31", d.Date), "print", "date")
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
		c.add(fmt.Sprintf("is %q, needed: foam, gel or paper", d.Medium), "pads", name, "medium")
	case !builtIn:
		c.add("is missing, needed: foam, gel or paper", "pads", name, "medium")
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
		c.add("is 0, needed: the spread of your readings in mm, at least the gauge's", "pads", name,
			"depth_u_common_mm")
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
		c.add(e.Error(), "allowance")
	}
	return table
}

// parts takes a joined error apart. A fault is one thing, whatever it wraps.
func parts(err error) []error {
	if err == nil {
		return nil
	}
	if _, fault := err.(interface {
		Coded() (string, map[string]any)
	}); fault {
		return []error{err}
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
		c.add(err.Error(), "rule", "level")
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
		c.add(e.Error(), "damping")
	}
}

func (c *checker) stock(s *Shop, d stockSection) {
	switch {
	case !d.given:
	case d.file != "":
		s.StockFile = beside(c.path, d.file)
	case len(d.widths) == 0:
		c.add("is empty, needed: a path to a CSV file or a list of widths in mm", "stock")
	default:
		s.WidthsMM = d.widths
		_, err := fit.StockOfWidths(d.widths)
		for _, e := range parts(err) {
			c.add(e.Error(), "stock")
		}
	}
}
