// Package sentence makes sentences of what a measurement says: codes with parameters in, words of a
// language out. It also puts the English ones into a record, for those who read its JSON.
//
// Its opinion: numbers are rounded as the table of package codes says, in the language's own way. What
// an old or a newer record says in codes that are not known here stays in the words that it holds.
package sentence

import (
	"math"
	"strconv"
	"strings"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
	"sitspan/imprint/spacing"
)

// Of is a sentence in a language: of an influence, a basis, a why, an advice, a word, or what was seen
// of a reason or a warning. It is empty where nothing is said.
func Of(l words.Lang, s codes.Said) string {
	if s.None() {
		return ""
	}
	text, ok := say(l, s, seenOf(s.Kind))
	if !ok {
		return l.Say(s.Key(), words.Values(s.Params))
	}
	return text
}

// Do is what to do about a reason or a warning.
func Do(l words.Lang, s codes.Said) string {
	text, _ := say(l, s, ".do")
	return text
}

func seenOf(k codes.Kind) string {
	if k == codes.Reason || k == codes.Warning {
		return ".seen"
	}
	return ""
}

// say fills the first text that there is: of the form, of the code, and of a warning that was a reason.
// It reports false where there is none, or where a value is missing.
func say(l words.Lang, s codes.Said, ending string) (string, bool) {
	kinds := []codes.Kind{s.Kind}
	if s.Kind == codes.Warning {
		kinds = append(kinds, codes.Reason)
	}
	for _, k := range kinds {
		e := codes.Find(s.As(k))
		if e == nil {
			continue
		}
		for _, form := range []string{s.Form, ""} {
			if key := codes.Key(k, s.Code, form) + ending; words.Has(words.English, key) {
				text := l.Say(key, values(l, e, s.Params))
				return text, whole(text, e)
			}
		}
	}
	return "", false
}

// whole tells that no place of a text stayed empty.
func whole(text string, e *codes.Entry) bool {
	for _, p := range e.Params {
		if strings.Contains(text, "{"+p.Name+"}") {
			return false
		}
	}
	return true
}

// values are a sentence's, each in the language.
func values(l words.Lang, e *codes.Entry, params codes.Params) words.Values {
	out := words.Values{}
	for _, p := range e.Params {
		switch v := params[p.Name].(type) {
		case codes.Said:
			v.Kind = p.Of
			out[p.Name] = Of(l, v)
		case string:
			out[p.Name] = v
		case float64:
			decimals := p.Decimals
			switch decimals {
			case codes.AsNeeded:
				_, fraction, _ := strings.Cut(strconv.FormatFloat(v, 'f', -1, 64), ".")
				decimals = len(fraction)
			case codes.AsStated:
				decimals = gum.Decimals(v)
			}
			out[p.Name] = l.Number(v, decimals)
		}
	}
	return out
}

// Reason puts a reason into a record.
func Reason(s codes.Said) record.Reason {
	return record.Reason{
		Code:    s.Code,
		Form:    s.Form,
		Params:  s.Params,
		Message: Of(words.English, s),
		Hint:    Do(words.English, s),
	}
}

// Reasons puts a list of them into a record.
func Reasons(list []codes.Said) []record.Reason {
	out := make([]record.Reason, 0, len(list))
	for _, s := range list {
		out = append(out, Reason(s))
	}
	return out
}

// Warning puts a warning into a record.
func Warning(s codes.Said) record.Warning {
	return record.Warning{
		Code:    s.Code,
		Form:    s.Form,
		Params:  s.Params,
		Message: Of(words.English, s),
		Remedy:  Do(words.English, s),
	}
}

// Line puts a budget's line into a record. One that an old record had in words only keeps its words.
func Line(l spacing.Line) record.BudgetLine {
	out := record.BudgetLine{
		Source:      l.Source,
		Basis:       l.Basis,
		BasisSaid:   l.From,
		U:           l.Contribution(),
		Std:         l.Std,
		Unit:        l.Unit,
		Sensitivity: l.Sensitivity,
	}
	if codes.LineOf(l.Source) != nil {
		out.Code, out.Source = l.Source, Of(words.English, codes.Said{Kind: codes.Influence, Code: l.Source})
	}
	if !l.From.None() {
		out.Basis = Of(words.English, l.From.As(codes.Basis))
	}
	if l.DoF > 0 && !math.IsInf(l.DoF, 1) {
		out.DoF = &l.DoF
	}
	return out
}

// Spoken is a reason or a warning as people read it: what was seen, and what to do about it.
type Spoken struct{ Seen, Do string }

// OfReason gives a record's reason in a language.
func OfReason(l words.Lang, r record.Reason) Spoken { return spoken(l, r.Said(), r.Message, r.Hint) }

// OfWarning gives a record's warning in a language.
func OfWarning(l words.Lang, w record.Warning) Spoken {
	return spoken(l, w.Said(), w.Message, w.Remedy)
}

func spoken(l words.Lang, s codes.Said, seen, do string) Spoken {
	out := Spoken{seen, do}
	text, known := say(l, s, ".seen")
	if known {
		out.Seen = text
	}
	if l == words.English && !known && do != "" {
		return out // an old record's own words belong together
	}
	if text, ok := say(l, s, ".do"); ok {
		out.Do = text
	}
	return out
}

// Source is a budget line's influence in a language.
func Source(l words.Lang, b record.BudgetLine) string {
	return stored(l, codes.Said{Kind: codes.Influence, Code: b.Code}, b.Source)
}

// Basis is where a budget line's numbers come from, in a language.
func Basis(l words.Lang, b record.BudgetLine) string {
	return stored(l, b.BasisSaid.As(codes.Basis), b.Basis)
}

// DepthBasis is where a dent's depth comes from, in a language.
func DepthBasis(l words.Lang, d record.Dent) string {
	return stored(l, d.BasisSaid.As(codes.Basis), d.Basis)
}

// Why is why a photo or a sitting was not used, in a language.
func Why(l words.Lang, p record.Part) string { return stored(l, p.WhySaid.As(codes.Why), p.Why) }

// Advice is what would shrink the largest line, in a language.
func Advice(l words.Lang, m record.Measurement) string {
	return stored(l, m.AdviceSaid.As(codes.Advice), m.Advice)
}

func stored(l words.Lang, s codes.Said, text string) string {
	if said, ok := say(l, s, ""); ok {
		return said
	}
	return text
}
