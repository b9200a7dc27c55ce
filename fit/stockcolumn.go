package fit

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// column is how one column of the stock's file is read. read puts a cell that
// is not empty into the model and says what it expected where it cannot; a nil
// read keeps the cell as it is.
type column struct {
	header   string
	kind     string // what it is about, whatever the unit; empty for an unknown column
	required bool
	read     func(m *Model, cell string) (expected string)
}

// fault is what a cell of the column is where it cannot be read.
func (c column) fault() FaultCode {
	switch c.kind {
	case "price":
		return BadPrice
	case "qty":
		return BadQuantity
	case "use", "relief", "dampers":
		return BadWord
	}
	return BadNumber
}

// measureKind is a column whose header carries a unit.
type measureKind struct {
	low, high float64            // plausible range in mm or kg
	units     map[string]float64 // factor to mm or kg
	field     func(m *Model) *float64
}

var (
	lengthUnits = map[string]float64{"mm": 1, "cm": 10, "in": 25.4, "inch": 25.4}
	massUnits   = map[string]float64{"kg": 1, "lb": 0.45359237, "lbs": 0.45359237}
)

// measureKinds: the ranges are assumed, and catch a wrong unit or a typing
// slip, not an unusual saddle.
var measureKinds = map[string]measureKind{
	"width":     {minWidthMM, maxWidthMM, lengthUnits, func(m *Model) *float64 { return &m.WidthMM }},
	"support":   {40, maxWidthMM, lengthUnits, func(m *Model) *float64 { return &m.SupportMM }},
	"length":    {80, 450, lengthUnits, func(m *Model) *float64 { return &m.LengthMM }},
	"nose":      {5, 250, lengthUnits, func(m *Model) *float64 { return &m.NoseMM }},
	"max_rider": {20, 500, massUnits, func(m *Model) *float64 { return &m.MaxRiderKg }},
}

// readHeader makes the columns; nil where the header itself is no use.
func (t *table) readHeader(cells []string) (columns []column, currency string) {
	before := len(t.log.faults)
	line, _ := t.position(0)
	seen := make(map[string]bool)
	for i, cell := range cells {
		c, code, expected := columnFor(cell)
		if expected == "" && c.kind != "" && seen[c.kind] {
			expected = "one column for " + c.kind + ", this is the second"
		}
		if expected != "" {
			_, col := t.position(i)
			t.log.add(BadHeader, line, col, "", cell, expected)
		}
		seen[c.kind] = true
		currency += code
		columns = append(columns, c)
	}
	if !seen["width"] {
		t.log.add(BadHeader, line, 0, "", strings.Join(cells, " "),
			"a header with the column width_mm (or width_cm, width_in)")
	}
	if len(t.log.faults) > before {
		return nil, ""
	}
	return columns, currency
}

// longestUnit: what follows a measure's name in a header and is no longer than
// this is taken for a unit that is not known, anything else for another word.
const longestUnit = 2

var headerSigns = regexp.MustCompile(`[^a-z0-9]+`)

// columnFor reads one header cell: "width_mm", "Width (mm)", "price_eur".
func columnFor(cell string) (c column, currency, expected string) {
	c.header = strings.Join(strings.Fields(cell), " ")
	name := strings.Trim(headerSigns.ReplaceAllString(strings.ToLower(c.header), "_"), "_")
	if kind, read := plainColumn(name); read != nil {
		c.kind, c.read = kind, read
		return c, "", ""
	}
	if code, ok := strings.CutPrefix(name, "price_"); ok && len(code) == 3 {
		c.kind, c.read = "price", readPrice
		return c, strings.ToUpper(code), ""
	}
	kind, unit := name, ""
	if cut := strings.LastIndexByte(name, '_'); cut > 0 && measureKinds[name].units == nil {
		kind, unit = name[:cut], name[cut+1:]
	}
	k, known := measureKinds[kind]
	if !known {
		return c, "", ""
	}
	factor, ok := k.units[unit]
	if !ok && len(unit) > longestUnit {
		return c, "", "" // a column about something else, such as length_note
	}
	c.kind, c.required = kind, kind == "width"
	if !ok {
		return c, "", "the unit in the header: " + kind + "_" + strings.Join(unitNames(k.units), " or "+kind+"_")
	}
	c.read = k.reader(unit, factor)
	return c, "", ""
}

// unitNames lists the units, the usual one first.
func unitNames(units map[string]float64) []string {
	if units["mm"] != 0 {
		return []string{"mm", "cm", "in"}
	}
	return []string{"kg", "lb"}
}

// plainColumn finds the columns that carry no unit.
func plainColumn(name string) (kind string, read func(*Model, string) string) {
	switch name {
	case "model":
		return name, readName
	case "use", "uses":
		return "use", readUses
	case "relief":
		return name, readRelief
	case "dampers", "damper":
		return "dampers", readDampers
	case "price":
		return name, readPrice
	case "qty":
		return name, readQty
	}
	return "", nil
}

// reader reads a measure in a unit and checks its range.
func (k measureKind) reader(unit string, factor float64) func(*Model, string) string {
	expected := fmt.Sprintf("a number from %g to %g (%s)", math.Ceil(k.low/factor*100)/100,
		math.Floor(k.high/factor*100)/100, unit)
	return func(m *Model, cell string) string {
		v, ok := parseDecimal(cell)
		v = roundMM(v * factor)
		if !ok || v < k.low || v > k.high {
			return expected
		}
		*k.field(m) = v
		return ""
	}
}

func readName(m *Model, cell string) string {
	m.Name = strings.Clone(cell)
	return ""
}

// words splits a cell that lists several things.
func words(cell string) []string {
	return strings.FieldsFunc(strings.ToLower(cell), func(r rune) bool {
		switch r {
		case ' ', '/', '|', '+', ',', ';':
			return true
		}
		return false
	})
}

func readUses(m *Model, cell string) string {
	for _, w := range words(cell) {
		u, err := ParseUse(w)
		if err != nil {
			return "uses from: " + useNames()
		}
		if !slices.Contains(m.Uses, u) {
			m.Uses = append(m.Uses, u)
		}
	}
	slices.Sort(m.Uses)
	return ""
}

var reliefWords = map[string]Relief{
	"none": NoRelief, "no": NoRelief, "0": NoRelief, "nein": NoRelief, "keine": NoRelief,
	"channel": ChannelRelief, "groove": ChannelRelief, "rinne": ChannelRelief,
	"cutout": CutoutRelief, "cut-out": CutoutRelief, "hole": CutoutRelief, "aussparung": CutoutRelief,
	"relief": SomeRelief, "yes": SomeRelief, "1": SomeRelief, "ja": SomeRelief,
}

func readRelief(m *Model, cell string) string {
	r, ok := reliefWords[strings.ToLower(cell)]
	if !ok {
		return "none, channel, cutout, yes or no"
	}
	m.Relief = r
	return ""
}

var damperWords = map[string][]Damper{
	"soft": {SoftDamper}, "weich": {SoftDamper},
	"medium": {MediumDamper}, "mittel": {MediumDamper},
	"firm": {FirmDamper}, "hard": {FirmDamper}, "hart": {FirmDamper},
	"all": Dampers(), "yes": Dampers(), "ja": Dampers(), "alle": Dampers(),
	"none": {}, "no": {}, "nein": {}, "keine": {},
}

func readDampers(m *Model, cell string) string {
	m.Dampers = []Damper{}
	for _, w := range words(cell) {
		ds, ok := damperWords[w]
		if !ok {
			return "dampers from: soft, medium, firm (or all, none)"
		}
		m.Dampers = append(m.Dampers, ds...)
	}
	slices.Sort(m.Dampers)
	m.Dampers = slices.Compact(m.Dampers)
	return ""
}

func readPrice(m *Model, cell string) string {
	number := strings.Trim(cell, " €$£\u00a0")
	if ambiguousThousands(number) {
		return "a price whose decimals are clear: 1234.00 or 1234, not 1.234"
	}
	v, ok := parseDecimal(number)
	if !ok || v < 0 {
		return "a price, such as 89.90 or 89,90; the currency belongs in the header: price_eur"
	}
	m.Price = v
	return ""
}

func readQty(m *Model, cell string) string {
	n, err := strconv.Atoi(cell)
	if err != nil || n < 0 || n > 1_000_000 {
		return "a whole number, 0 or more"
	}
	m.Qty = n
	return ""
}
