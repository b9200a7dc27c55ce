// Package fault is how the packages that know no words say what is wrong with
// what they were given: by a code with values. The English text is for
// developers; what a fitter reads is made of code and values where it is read.
//
// It knows nobody. A kind is declared once, as a variable of the package that
// finds the fault; All lists them, so that a test can ask for their words.
package fault

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Kind is one way in which something is wrong: a code and its English text, whose
// places {name} and {name|2}, with so many decimals, are filled with the values.
type Kind struct{ code, text string }

var kinds []*Kind

// New declares a kind. Codes are stable.
func New(code, text string) *Kind {
	k := &Kind{code, text}
	kinds = append(kinds, k)
	return k
}

// All lists what was declared by the packages that the program holds.
func All() []*Kind { return slices.Clone(kinds) }

// Code is the kind's own.
func (k *Kind) Code() string { return k.code }

// Text is the English text with its places.
func (k *Kind) Text() string { return k.text }

// Fault is an error of a kind, with its values.
type Fault struct {
	kind   *Kind
	values map[string]any
}

// With makes a fault of name, value pairs. An error among the values is wrapped,
// and its text stands in its place; a []string is a choice.
func (k *Kind) With(pairs ...any) *Fault {
	f := &Fault{kind: k, values: make(map[string]any, len(pairs)/2)}
	for i := 0; i+1 < len(pairs); i += 2 {
		f.values[pairs[i].(string)] = pairs[i+1]
	}
	return f
}

// OfKind says whether a fault is of a kind; no fault is of none.
func (f *Fault) OfKind(k *Kind) bool { return f != nil && f.kind == k }

// Coded is what the text is made of where it is read.
func (f *Fault) Coded() (code string, values map[string]any) { return f.kind.code, f.values }

// Error is the English text.
func (f *Fault) Error() string {
	var b strings.Builder
	text := f.kind.text
	for {
		before, rest, found := strings.Cut(text, "{")
		b.WriteString(before)
		if !found {
			return b.String()
		}
		place, after, _ := strings.Cut(rest, "}")
		name, format, _ := strings.Cut(place, "|")
		b.WriteString(plain(f.values[name], format))
		text = after
	}
}

// Unwrap gives the errors among the values.
func (f *Fault) Unwrap() (all []error) {
	for _, v := range f.values {
		if err, is := v.(error); is {
			all = append(all, err)
		}
	}
	return all
}

// plain writes a value, a number with the decimals that its format tells.
func plain(v any, format string) string {
	if choice, is := v.([]string); is {
		return strings.Join(choice, " or ")
	}
	number, is := v.(float64)
	decimals, err := strconv.Atoi(strings.TrimPrefix(format, "+"))
	switch {
	case !is:
		return fmt.Sprint(v)
	case err != nil:
		return fmt.Sprintf("%g", number)
	case strings.HasPrefix(format, "+"):
		return fmt.Sprintf("%+.*f", decimals, number)
	}
	return fmt.Sprintf("%.*f", decimals, number)
}
