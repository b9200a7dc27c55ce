package shop

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"sitspan/fit"
)

// Identity is how a shop shows itself.
type Identity struct {
	Name, Address string
	Logo          string   // its file's name beside the settings; empty for none
	Languages     []string // that the desk offers; empty for all
	Fitter        string   // who signs the sheet; empty leaves a line for the hand
	NextLook      int      // weeks until the next look; 0 leaves a line for the hand
}

// SaveIdentity writes name, address, logo and languages.
func SaveIdentity(path string, id Identity) error {
	values := []entry{
		{"name", quoted(id.Name)}, {"address", quoted(id.Address)}, {"logo", quoted(id.Logo)},
		{"languages", list(id.Languages)}, {"fitter", quoted(id.Fitter)}, {"next_look_weeks", weeks(id.NextLook)},
	}
	return save(path, change{"error.settings.what.name", func(t *tree) bool { return t.setValues(values) },
		func(s *Shop) {
			s.Name, s.Address, s.Languages, s.LogoFile = id.Name, id.Address, id.Languages, ""
			s.Fitter, s.NextLook = id.Fitter, id.NextLook
			if id.Logo != "" {
				s.LogoFile = beside(path, id.Logo)
			}
		}, byHand(values)})
}

// SaveStock names the stock's CSV file, beside the settings; an empty name takes the stock out.
func SaveStock(path, name string) error {
	values := []entry{{"stock", quoted(name)}}
	return save(path, change{"error.settings.what.stock", func(t *tree) bool { return t.setValues(values) },
		func(s *Shop) {
			s.WidthsMM, s.StockFile = nil, ""
			if name != "" {
				s.StockFile = beside(path, name)
			}
		}, byHand(values)})
}

// SaveCorrection says whether a deviation that checks have proved is taken off.
func SaveCorrection(path string, correct bool) error {
	es := []entry{{"correct", strconv.FormatBool(correct)}}
	return save(path, change{"error.settings.what.choice", func(t *tree) bool {
		return t.setSection("checks",
			es)
	},
		func(s *Shop) { s.CorrectByChecks = correct }, "checks:\n" + lines(es, "  ") + "\n"})
}

// SavePad writes one pad, and leaves the others as they are.
func SavePad(path, name string, p Pad) error {
	key, es := name, p.entries()
	if !plainKey(name) {
		key = strconv.Quote(name)
	}
	return save(path, change{"error.settings.what.pad", func(t *tree) bool { return t.setPad(name, key, es) },
		func(s *Shop) { s.Pads[name] = p }, "pads:\n  " + key + ":\n" + lines(es, "    ") + "\n"})
}

// SaveAllowances writes the table, a row a line. A row's comment stays with the row in its place.
func SaveAllowances(path string, rows []fit.AllowanceRow) error {
	table, err := fit.NewAllowanceTable(rows)
	if err != nil {
		return err
	}
	texts := rowTexts(rows)
	return save(path, change{"error.settings.what.table", func(t *tree) bool {
		return t.setRows("allowance",
			texts)
	},
		func(s *Shop) { s.Allowances = table }, "allowance:\n" + strings.Join(texts, "\n") + "\n"})
}

func rowTexts(rows []fit.AllowanceRow) (texts []string) {
	for _, r := range rows {
		text := fmt.Sprintf("  - {angle_deg: %s, mm: %s", number(r.AngleDeg), number(r.MM))
		if r.UMM != 0 {
			text += ", u_mm: " + number(r.UMM)
		}
		if r.Basis != "" {
			text += ", basis: " + strconv.Quote(r.Basis)
		}
		texts = append(texts, text+"}")
	}
	return texts
}

// entries are a pad's keys, all of them.
func (p Pad) entries() []entry {
	es := []entry{{"medium", p.Medium}, {"depth_mm", number(p.DepthMM)},
		{"depth_u_common_mm", number(p.DepthUCommonMM)}, {"depth_u_difference_mm", number(p.DepthUDifferenceMM)},
		{"card_thickness_mm", number(p.CardThicknessMM)}, {"card_thickness_u_mm", number(p.CardThicknessUMM)}}
	if p.Basis != "" {
		es = append(es, entry{"basis", strconv.Quote(p.Basis)})
	}
	return es
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// quoted is a text's value; empty for none.
func quoted(text string) string {
	if text == "" {
		return ""
	}
	return strconv.Quote(text)
}

// weeks is a number of them; empty for none.
func weeks(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func list(values []string) string {
	if len(values) == 0 {
		return ""
	}
	return "[" + strings.Join(values, ", ") + "]"
}

func byHand(values []entry) string {
	given := slices.DeleteFunc(slices.Clone(values), func(e entry) bool { return e.value == "" })
	return lines(given, "") + "\n"
}

// plainKey tells a key that needs no quotes.
func plainKey(s string) bool {
	return s != "" && strings.Trim(s,
		"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_") == "" &&
		strings.Trim(s, "0123456789-_") != ""
}

// FileBeside is where a file of that name lies beside the settings.
func FileBeside(path, name string) string { return filepath.Join(filepath.Dir(path), name) }
