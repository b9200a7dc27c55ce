package desk

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// shopDay is a day of the settings as the page writes it.
func shopDay(r *http.Request, day string) string {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return ""
	}
	return language(r).ShortDate(t)
}

// padLine is a pad in the list.
type padLine struct {
	Name, Title string
	shop.Pad
	Own bool // the shop has put numbers of its own over the built-in ones
}

// padTitle is a pad's name on a page: the built-in ones have words.
func padTitle(lang words.Lang, name string) string {
	if _, builtIn := shop.DefaultPads()[name]; builtIn {
		return capital(lang.Term(name))
	}
	return name
}

func (d *Desk) padsPage(w http.ResponseWriter, r *http.Request) error {
	s, builtIn := d.shopNow(), shop.DefaultPads()
	var lines []padLine
	for _, name := range padNames(s) {
		p := s.Pads[name]
		lines = append(lines, padLine{name, padTitle(language(r), name), p, p != builtIn[name]})
	}
	return d.show(w, r, "settings-pads", frame{Title: d.say(r, "shop.pads"), Data: struct {
		Pads  []padLine
		Saved bool
	}{lines, r.URL.Query().Has("saved")}})
}

// padFields are the numbers of a pad, with the words' keys of their labels.
var padFields = []struct {
	name, label string
	of          func(*shop.Pad) *float64
}{
	{"depth", "pad.depth", func(p *shop.Pad) *float64 { return &p.DepthMM }},
	{"common", "pad.common", func(p *shop.Pad) *float64 { return &p.DepthUCommonMM }},
	{"difference", "pad.difference", func(p *shop.Pad) *float64 { return &p.DepthUDifferenceMM }},
	{"card", "pad.card", func(p *shop.Pad) *float64 { return &p.CardThicknessMM }},
	{"card_u", "pad.card.u", func(p *shop.Pad) *float64 { return &p.CardThicknessUMM }},
}

// padData is what a pad's page shows.
type padData struct {
	form
	New     bool
	Name    string
	Title   string
	Fields  []field
	Mediums []string
}

func (d *Desk) showPad(w http.ResponseWriter, r *http.Request, status int, f form, name string) error {
	data := padData{form: f, New: name == "", Name: name, Title: padTitle(f.lang, name),
		Mediums: []string{shop.Foam, shop.Gel, shop.Paper}}
	if data.New {
		data.Title = say(f.lang, "pad.new")
	}
	for _, p := range padFields {
		data.Fields = append(data.Fields, f.Field(p.name, p.label, "mm", p.label+".help"))
	}
	return d.showStatus(w, r, status, "settings-pad", frame{Title: data.Title, Data: data,
		Here: "/settings/pad?name=" + url.QueryEscape(name)})
}

func (d *Desk) padPage(w http.ResponseWriter, r *http.Request) error {
	name := r.URL.Query().Get("name")
	p, known := d.shopNow().Pads[name]
	if !known && name != "" {
		name = ""
	}
	if name == "" {
		p = shop.DefaultPads()[shop.Foam]
	}
	f := d.newForm(r)
	for _, of := range padFields {
		f.Values[of.name] = f.lang.Plain(*of.of(&p))
	}
	f.Values["medium"], f.Values["basis"] = p.Medium, ownBasis(name, p)
	return d.showPad(w, r, http.StatusOK, f, name)
}

// ownBasis is where the shop says that a pad's numbers come from; empty where it says nothing: ours is no
// basis of the shop's own numbers.
func ownBasis(name string, p shop.Pad) string {
	if p == shop.DefaultPads()[name] || name == "" || p.Basis == say(words.English, "pad.basis.none") {
		return ""
	}
	return p.Basis
}

func (d *Desk) savePad(w http.ResponseWriter, r *http.Request) error {
	f := d.typedForm(r)
	name := f.Values["pad"]
	p, known := d.shopNow().Pads[name]
	p.Medium = map[string]string{shop.Gel: shop.Gel, shop.Paper: shop.Paper}[f.Values["medium"]]
	if p.Medium == "" {
		p.Medium = shop.Foam
	}
	for _, of := range padFields {
		*of.of(&p) = f.number(of.name, of.label, "mm", 0, 60, *of.of(&p))
	}
	if p.Medium != shop.Paper && p.DepthUCommonMM == 0 {
		f.Faults["common"] = say(f.lang, "pad.common.zero")
	}
	p.Basis = f.text("basis", "pad.basis", 200)
	if p.Basis == "" {
		p.Basis = say(words.English, "pad.basis.none") // what the settings say of numbers without one
	}
	if !known {
		if name = strings.Join(strings.Fields(f.text("name", "pad.name", 40)), " "); name == "" {
			f.Faults["name"] = say(f.lang, "field.empty", "what", say(f.lang, "pad.name"))
		} else if _, taken := d.shopNow().Pads[name]; taken {
			f.Faults["name"] = say(f.lang, "pad.taken")
		}
	}
	shown := name
	if !known {
		shown = ""
	}
	again := func(status int, f form) error { return d.showPad(w, r, status, f, shown) }
	if !f.good() {
		return again(http.StatusUnprocessableEntity, f)
	}
	err := d.saveShop(f.Was, func(path string) error { return shop.SavePad(path, name, p) })
	now := d.shopNow().Pads[name]
	there := []difference{f.both("basis", "pad.basis", ownBasis(name, now))}
	for _, of := range padFields {
		there = append(there, f.both(of.name, of.label, f.lang.Plain(*of.of(&now))))
	}
	return d.savedTo(w, r, f, err, "/settings/pads?saved", there, again)
}

// allowanceLine is a row of the table as it was typed.
type allowanceLine struct {
	N                        int
	Angle, MM, U, Basis      string
	AngleFault, Fault, Label string
}

// spareRows are empty rows at the table's end, to be filled in.
const spareRows = 2

type allowancesData struct {
	form
	Rows    []allowanceLine
	Default bool
}

func (d *Desk) showAllowances(w http.ResponseWriter, r *http.Request, status int, f form,
	rows []allowanceLine) error {
	for i := range rows {
		rows[i].N = i + 1
	}
	isDefault := len(d.shopNow().Allowances.Rows()) == len(shop.Default().Allowances.Rows()) &&
		d.shopNow().Allowances.Rows()[0] == shop.Default().Allowances.Rows()[0]
	return d.showStatus(w, r, status, "settings-allowances", frame{Title: d.say(r, "shop.allowances"),
		Here: "/settings/allowances", Data: allowancesData{f, rows, isDefault}})
}

func (d *Desk) allowancesPage(w http.ResponseWriter, r *http.Request) error {
	f := d.newForm(r)
	var rows []allowanceLine
	for _, row := range d.shopNow().Allowances.Rows() {
		line := allowanceLine{Angle: f.lang.Plain(row.AngleDeg), MM: f.lang.Plain(row.MM),
			Basis: basisSaid(f.lang, row.Basis)}
		if row.UMM > 0 {
			line.U = f.lang.Plain(row.UMM)
		}
		rows = append(rows, line)
	}
	return d.showAllowances(w, r, http.StatusOK, f, append(rows, make([]allowanceLine, spareRows)...))
}

func (d *Desk) saveAllowances(w http.ResponseWriter, r *http.Request) error {
	f := d.typedForm(r)
	lines, rows := typedAllowances(f, r)
	again := func(status int, f form) error { return d.showAllowances(w, r, status, f, lines) }
	if f.good() {
		f.checkAllowances(rows)
	}
	if !f.good() {
		return again(http.StatusUnprocessableEntity, f)
	}
	err := d.saveShop(f.Was, func(path string) error { return shop.SaveAllowances(path, rows) })
	there := difference{say(f.lang, "shop.allowances"), rowsText(f.lang, rows),
		rowsText(f.lang, d.shopNow().Allowances.Rows())}
	return d.savedTo(w, r, f, err, "/settings/allowances?saved", []difference{there}, again)
}

// rowsText says a table in a line.
func rowsText(lang words.Lang, rows []fit.AllowanceRow) string {
	var texts []string
	for _, row := range rows {
		text := lang.Plain(row.AngleDeg) + "°: " + lang.Plain(row.MM)
		if row.UMM > 0 {
			text += " ± " + lang.Plain(row.UMM)
		}
		texts = append(texts, text+" mm")
	}
	return strings.Join(texts, "; ")
}

// builtInBasis is what the settings say of the built-in table's numbers.
var builtInBasis = fit.DefaultAllowanceTable().Rows()[0].Basis

// basisSaid is a row's basis as a page says it: the built-in table's in the page's language.
func basisSaid(lang words.Lang, basis string) string {
	if basis == builtInBasis {
		return say(lang, "allowances.basis")
	}
	return basis
}

// basisOf is a row's basis as the settings keep it, whatever the language of the page that it was typed on.
func basisOf(said string) string {
	for _, lang := range words.Langs() {
		if said == say(lang, "allowances.basis") {
			return builtInBasis
		}
	}
	return said
}

// typedAllowances reads the table as it was sent; rows that nobody filled in are left out.
func typedAllowances(f form, r *http.Request) (lines []allowanceLine, rows []fit.AllowanceRow) {
	at := func(name string, i int) string {
		if list := r.PostForm[name]; i < len(list) {
			return strings.TrimSpace(list[i])
		}
		return ""
	}
	const most = 24
	for i := range min(len(r.PostForm["angle"]), most) {
		l := allowanceLine{Angle: at("angle", i), MM: at("mm", i), U: at("u", i), Basis: at("basis", i)}
		if l.Angle == "" && l.MM == "" {
			lines = append(lines, l)
			continue
		}
		var row fit.AllowanceRow
		read := func(to *float64, text, label, unit string, low, high float64) string {
			v, err := typed(text, say(f.lang, label), unit, low, high, 0, f.lang)
			if *to = v; err != nil {
				f.Faults["row"] = faultText(f.lang, err)
				return f.Faults["row"]
			}
			return ""
		}
		if l.Angle == "" || l.MM == "" {
			l.Fault = say(f.lang, "allowances.both")
			f.Faults["row"] = l.Fault
		}
		l.AngleFault = read(&row.AngleDeg, l.Angle, "trunk", "°", -20, 120)
		for _, fault := range []string{read(&row.MM, l.MM, "allowance", "mm", 0, 100),
			read(&row.UMM, l.U, "allowances.u", "mm", 0, 100)} {
			if fault != "" {
				l.Fault = fault
			}
		}
		row.Basis = basisOf(l.Basis)
		lines, rows = append(lines, l), append(rows, row)
	}
	return lines, rows
}

// checkAllowances looks at the rows beside each other.
func (f form) checkAllowances(rows []fit.AllowanceRow) {
	if len(rows) == 0 {
		f.Faults["table"] = say(f.lang, "allowances.empty")
		return
	}
	if _, err := fit.NewAllowanceTable(rows); err != nil {
		f.Faults["table"] = say(f.lang, "allowances.falls")
	}
}
