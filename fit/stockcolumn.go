package fit

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"sitspan/calibration/fault"
)

// column is how one column of the stock's file is read. read puts a cell that
// is not empty into the model and says what it expected where it cannot; a nil
// read keeps the cell as it is.
type column struct {
	header   string
	kind     string // what it is about, whatever the unit; empty for an unknown column
	required bool
	read     func(m *Model, cell string) (expected *fault.Fault)
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
		if expected == nil && c.kind != "" && seen[c.kind] {
			expected = wantOnce.With("column", c.kind)
		}
		if expected != nil {
			_, col := t.position(i)
			t.log.add(line, col, "", cell, expected)
		}
		seen[c.kind] = true
		currency += code
		columns = append(columns, c)
	}
	if !seen["width"] {
		t.log.add(line, 0, "", strings.Join(cells, " "),
			wantWidth.With())
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
func columnFor(cell string) (c column, currency string, expected *fault.Fault) {
	c.header = strings.Join(strings.Fields(cell), " ")
	name := strings.Trim(headerSigns.ReplaceAllString(strings.ToLower(c.header), "_"), "_")
	if kind, read := plainColumn(name); read != nil {
		c.kind, c.read = kind, read
		return c, "", nil
	}
	if code, ok := strings.CutPrefix(name, "price_"); ok && len(code) == 3 {
		c.kind, c.read = "price", readPrice
		return c, strings.ToUpper(code), nil
	}
	kind, unit := name, ""
	if cut := strings.LastIndexByte(name, '_'); cut > 0 && measureKinds[name].units == nil {
		kind, unit = name[:cut], name[cut+1:]
	}
	k, known := measureKinds[kind]
	if !known {
		return c, "", nil
	}
	factor, ok := k.units[unit]
	if !ok && len(unit) > longestUnit {
		return c, "", nil // a column about something else, such as length_note
	}
	c.kind, c.required = kind, kind == "width"
	if !ok {
		return c, "", wantUnit.With("known", unitNames(kind, k.units))
	}
	c.read = k.reader(unit, factor)
	return c, "", nil
}

// unitNames lists a measure's headers by unit, the usual one first.
func unitNames(kind string, units map[string]float64) []string {
	if units["mm"] != 0 {
		return []string{kind + "_mm", kind + "_cm", kind + "_in"}
	}
	return []string{kind + "_kg", kind + "_lb"}
}

// plainColumn finds the columns that carry no unit.
func plainColumn(name string) (kind string, read func(*Model, string) *fault.Fault) {
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
func (k measureKind) reader(unit string, factor float64) func(*Model, string) *fault.Fault {
	expected := wantNumber.With("low", math.Ceil(k.low/factor*100)/100,
		"high", math.Floor(k.high/factor*100)/100, "unit", unit)
	return func(m *Model, cell string) *fault.Fault {
		v, ok := parseDecimal(cell)
		v = roundMM(v * factor)
		if !ok || v < k.low || v > k.high {
			return expected
		}
		*k.field(m) = v
		return nil
	}
}

func readName(m *Model, cell string) *fault.Fault {
	m.Name = strings.Clone(cell)
	return nil
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

func readUses(m *Model, cell string) *fault.Fault {
	for _, w := range words(cell) {
		u, err := ParseUse(w)
		if err != nil {
			return wantUses.With("known", useNames())
		}
		if !slices.Contains(m.Uses, u) {
			m.Uses = append(m.Uses, u)
		}
	}
	slices.Sort(m.Uses)
	return nil
}

var reliefWords = map[string]Relief{
	"none": NoRelief, "no": NoRelief, "0": NoRelief, "nein": NoRelief, "keine": NoRelief,
	"channel": ChannelRelief, "groove": ChannelRelief, "rinne": ChannelRelief,
	"cutout": CutoutRelief, "cut-out": CutoutRelief, "hole": CutoutRelief, "aussparung": CutoutRelief,
	"relief": SomeRelief, "yes": SomeRelief, "1": SomeRelief, "ja": SomeRelief,
}

func readRelief(m *Model, cell string) *fault.Fault {
	r, ok := reliefWords[strings.ToLower(cell)]
	if !ok {
		return wantRelief.With()
	}
	m.Relief = r
	return nil
}

var damperWords = map[string][]Damper{
	"soft": {SoftDamper}, "weich": {SoftDamper},
	"medium": {MediumDamper}, "mittel": {MediumDamper},
	"firm": {FirmDamper}, "hard": {FirmDamper}, "hart": {FirmDamper},
	"all": Dampers(), "yes": Dampers(), "ja": Dampers(), "alle": Dampers(),
	"none": {}, "no": {}, "nein": {}, "keine": {},
}

func readDampers(m *Model, cell string) *fault.Fault {
	m.Dampers = []Damper{}
	for _, w := range words(cell) {
		ds, ok := damperWords[w]
		if !ok {
			return wantDampers.With()
		}
		m.Dampers = append(m.Dampers, ds...)
	}
	slices.Sort(m.Dampers)
	m.Dampers = slices.Compact(m.Dampers)
	return nil
}

func readPrice(m *Model, cell string) *fault.Fault {
	number := strings.Trim(cell, " €$£\u00a0")
	if ambiguousThousands(number) {
		return wantClearPrice.With()
	}
	v, ok := parseDecimal(number)
	if !ok || v < 0 {
		return wantPrice.With()
	}
	m.Price = v
	return nil
}

func readQty(m *Model, cell string) *fault.Fault {
	n, err := strconv.Atoi(cell)
	if err != nil || n < 0 || n > 1_000_000 {
		return wantQty.With()
	}
	m.Qty = n
	return nil
}
