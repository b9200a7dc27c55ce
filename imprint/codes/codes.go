package codes

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
)

// Kind is what a code is said of.
type Kind string

// The kinds, by the names that the words' keys begin with.
const (
	Reason    Kind = "reason"    // why a measurement is not, or not yet, to be used
	Warning   Kind = "warning"   // what weakens a result
	Influence Kind = "influence" // a line of the budget
	Basis     Kind = "basis"     // where a line's, or a depth's, numbers come from
	Rejected  Kind = "rejected"  // why something in the picture was not used
	Why       Kind = "why"       // why one of several photos or sittings was not used
	Advice    Kind = "advice"    // what would shrink the largest line
	Word      Kind = "word"      // a word within a sentence
)

// Param is one parameter of a sentence.
type Param struct {
	Name     string
	Unit     string // as it is printed; empty for a count, a text or a sentence
	Decimals int    // or AsNeeded, AsStated
	Holds    Holds
	Of       Kind // of a sentence
}

// AsNeeded are as many decimals as the number has; AsStated are those of an expanded uncertainty that
// gum.Stated gave.
const (
	AsNeeded = -1
	AsStated = -2
)

// Holds is what a parameter's value is.
type Holds int

// The values.
const (
	Number   Holds = iota
	Text           // as a file, a shop or a library names it, in no language of ours
	Sentence       // a Said
)

// Entry is one row of the table: a code, or one form of it where it is said in several ways.
type Entry struct {
	Kind   Kind
	Code   string // stable, since scripts depend on it
	Form   string // which of the code's sentences; empty for its plain one
	Params []Param
}

// Key is what the words of an entry are found by.
func (e *Entry) Key() string { return Key(e.Kind, e.Code, e.Form) }

// Key is what the words of a code are found by, such as "reason.no_frame.several".
func Key(k Kind, code, form string) string {
	if form != "" {
		code += "." + form
	}
	return string(k) + "." + code
}

// With says it with these values, in the order of the parameters: a float64, an int, a string or a
// Said each.
func (e *Entry) With(values ...any) Said {
	s := Said{Kind: e.Kind, Code: e.Code, Form: e.Form}
	for i, v := range values[:min(len(values), len(e.Params))] {
		if n, whole := v.(int); whole {
			v = float64(n)
		}
		if s.Params == nil {
			s.Params = Params{}
		}
		s.Params[e.Params[i].Name] = v
	}
	return s
}

// Is tells whether s says e, in whichever form.
func (e *Entry) Is(s Said) bool { return s.Kind == e.Kind && s.Code == e.Code }

// Said is a code with the values of its parameters.
type Said struct {
	Kind   Kind   `json:"-"` // the place in a record tells it
	Code   string `json:"code"`
	Form   string `json:"form,omitempty"`
	Params Params `json:"params,omitempty"`
}

// Key is what the words of it are found by.
func (s Said) Key() string { return Key(s.Kind, s.Code, s.Form) }

// As is the same code with its parameters, said as another kind: what was a reason may become a warning.
func (s Said) As(k Kind) Said {
	s.Kind = k
	return s
}

// None tells that nothing is said.
func (s Said) None() bool { return s.Code == "" }

// Params are a sentence's values by name: a float64, a string or a Said each.
type Params map[string]any

// UnmarshalJSON reads an object among the values as a Said.
func (p *Params) UnmarshalJSON(data []byte) error {
	var raw map[string]json.RawMessage
	if err := json.Unmarshal(data, &raw); err != nil {
		return err
	}
	*p = Params{}
	for name, value := range raw {
		if bytes.HasPrefix(bytes.TrimSpace(value), []byte("{")) {
			var s Said
			if err := json.Unmarshal(value, &s); err != nil {
				return err
			}
			(*p)[name] = s
			continue
		}
		var v any
		if err := json.Unmarshal(value, &v); err != nil {
			return err
		}
		switch v.(type) {
		case float64, string:
			(*p)[name] = v
		default:
			return fmt.Errorf("parameter %s is neither a number, nor a text, nor a sentence", name)
		}
	}
	return nil
}

var table []*Entry

// Table is every entry, by kind, code and form.
func Table() []*Entry {
	list := slices.Clone(table)
	slices.SortFunc(list, func(a, b *Entry) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Code, b.Code), cmp.Compare(a.Form, b.Form))
	})
	return list
}

// Find is the entry of a sentence, or nil: a newer version may know codes that this one does not.
func Find(s Said) *Entry {
	for _, e := range table {
		if e.Kind == s.Kind && e.Code == s.Code && e.Form == s.Form {
			return e
		}
	}
	return nil
}

// Codes are the codes of a kind, in order.
func Codes(k Kind) (list []string) {
	for _, e := range Table() {
		if e.Kind == k {
			list = append(list, e.Code)
		}
	}
	return slices.Compact(list)
}

// declare puts an entry into the table. The same one twice is a mistake in the program.
func declare(k Kind, code, form string, params ...Param) *Entry {
	e := &Entry{k, code, form, params}
	if Find(Said{Kind: k, Code: code, Form: form}) != nil {
		panic("codes: " + e.Key() + " is declared twice")
	}
	table = append(table, e)
	return e
}

func reason(code, form string, p ...Param) *Entry   { return declare(Reason, code, form, p...) }
func warning(code, form string, p ...Param) *Entry  { return declare(Warning, code, form, p...) }
func basis(code, form string, p ...Param) *Entry    { return declare(Basis, code, form, p...) }
func rejected(code, form string, p ...Param) *Entry { return declare(Rejected, code, form, p...) }
func why(code, form string, p ...Param) *Entry      { return declare(Why, code, form, p...) }

func number(name, unit string, decimals int) Param {
	return Param{Name: name, Unit: unit, Decimals: decimals}
}
func count(name string) Param             { return Param{Name: name} }
func text(name string) Param              { return Param{Name: name, Holds: Text} }
func sentence(name string, of Kind) Param { return Param{Name: name, Holds: Sentence, Of: of} }
