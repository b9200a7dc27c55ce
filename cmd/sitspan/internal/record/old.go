package record

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"sitspan/imprint/codes"
)

// oldText is a sentence of schema 1 with its places in braces, and what it says. A hint, where there is
// one, tells forms apart that were seen alike.
type oldText struct {
	kind              codes.Kind
	code, form        string
	pattern, hintedBy string
}

// find is the pattern as an expression: a number, a text or a sentence in each place.
func (o *oldText) find(pattern string) *regexp.Regexp {
	e := o.entry()
	var b strings.Builder
	b.WriteString("^")
	for rest := pattern; ; {
		before, after, found := strings.Cut(rest, "{")
		b.WriteString(regexp.QuoteMeta(before))
		if !found {
			break
		}
		name, after, _ := strings.Cut(after, "}")
		i := slices.IndexFunc(e.Params, func(p codes.Param) bool { return p.Name == name })
		if i >= 0 && e.Params[i].Holds == codes.Number {
			b.WriteString("(?P<" + name + `>-?[0-9]+(?:\.[0-9]+)?)`)
		} else {
			b.WriteString("(?P<" + name + ">.+)")
		}
		rest = after
	}
	return regexp.MustCompile(b.String() + "$")
}

func (o *oldText) entry() *codes.Entry {
	return codes.Find(codes.Said{Kind: o.kind, Code: o.code, Form: o.form})
}

// compiled are the expressions of schema1, made when the first old record is loaded.
var compiled = sync.OnceValue(func() (list [][2]*regexp.Regexp) {
	for _, o := range schema1 {
		two := [2]*regexp.Regexp{o.find(o.pattern)}
		if o.hintedBy != "" {
			two[1] = o.find(o.hintedBy)
		}
		list = append(list, two)
	}
	return list
})

// read turns an old sentence into what it says. A code limits the search, where one is known.
func read(kind codes.Kind, code, text, hint string) (s codes.Said, ok bool) {
	for i, o := range schema1 {
		if o.kind != kind || code != "" && o.code != code {
			continue
		}
		params := codes.Params{}
		two := compiled()[i]
		if !o.take(params, two[0], text) || two[1] != nil && !o.take(params, two[1], hint) {
			continue
		}
		s = codes.Said{Kind: kind, Code: o.code, Form: o.form}
		if len(params) > 0 {
			s.Params = params
		}
		return s, true
	}
	return s, false
}

// take reads the values out of a sentence; false where it is another one.
func (o *oldText) take(params codes.Params, by *regexp.Regexp, text string) bool {
	found := by.FindStringSubmatch(text)
	if found == nil {
		return false
	}
	for _, p := range o.entry().Params {
		i := by.SubexpIndex(p.Name)
		if i < 0 {
			continue
		}
		switch p.Holds {
		case codes.Number:
			v, err := strconv.ParseFloat(found[i], 64)
			if err != nil {
				return false
			}
			params[p.Name] = v
		case codes.Sentence:
			within, ok := read(p.Of, "", found[i], "")
			if !ok {
				return false
			}
			params[p.Name] = within
		default:
			params[p.Name] = found[i]
		}
	}
	return true
}

// upgrade gives a record of schema 1 its codes. A sentence that no version said stays one.
func (r *Record) upgrade() {
	r.Measurement.upgrade()
	for i := range r.Reviews {
		r.Reviews[i].Measurement.upgrade()
	}
}

func (m *Measurement) upgrade() {
	upgradeReasons(m.Reasons)
	for i := range m.Warnings {
		w := &m.Warnings[i]
		s, ok := read(codes.Warning, w.Code, w.Message, w.Remedy)
		if !ok { // a reason that somebody had looked at
			s, ok = read(codes.Reason, w.Code, w.Message, w.Remedy)
		}
		if ok {
			w.Form, w.Params = s.Form, s.Params
		}
	}
	for i := range m.Budget {
		l := &m.Budget[i]
		if s, ok := read(codes.Influence, "", l.Source, ""); ok {
			l.Code = s.Code
		}
		l.BasisSaid, _ = read(codes.Basis, "", l.Basis, "")
	}
	for _, d := range []*Dent{m.Left, m.Right} {
		if d != nil {
			d.BasisSaid, _ = read(codes.Basis, "", d.Basis, "")
		}
	}
	m.AdviceSaid, _ = read(codes.Advice, "", m.Advice, "")
	upgradeParts(m.Photos)
	upgradeParts(m.Sittings)
}

func upgradeReasons(reasons []Reason) {
	for i := range reasons {
		r := &reasons[i]
		if s, ok := read(codes.Reason, r.Code, r.Message, r.Hint); ok {
			r.Form, r.Params = s.Form, s.Params
		}
	}
}

func upgradeParts(parts []Part) {
	for i := range parts {
		p := &parts[i]
		upgradeReasons(p.Reasons)
		switch s, ok := read(codes.Why, "", p.Why, ""); {
		case ok:
			p.WhySaid = s
		case len(p.Reasons) > 0 && p.Why == p.Reasons[0].Message:
			p.WhySaid = codes.NotUsable.With(p.Reasons[0].Said())
		}
	}
}
