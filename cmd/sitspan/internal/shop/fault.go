package shop

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"sitspan/cmd/sitspan/internal/words"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/token"
)

// Fault is one thing that is wrong with the settings' file.
type Fault struct {
	File   string
	Line   int // from 1
	Column int // from 1
	Why    error
}

// Error is the fault with its place, in one line.
func (f Fault) Error() string { return f.Unwrap().Error() }

// Unwrap gives the error that has words in each language.
func (f Fault) Unwrap() error {
	place := fmt.Sprintf("%s:%d:%d", f.File, f.Line, f.Column)
	return words.Fault("error.settings.fault", words.Values{"place": place, "why": f.Why})
}

// Faults is the error of a file that was read and does not hold: everything
// that is wrong with it, or the first thing where it cannot be read further.
type Faults struct{ Faults []Fault }

// Error lists the faults, a line each.
func (e *Faults) Error() string {
	texts := make([]string, 0, len(e.Faults))
	for _, f := range e.Faults {
		texts = append(texts, f.Error())
	}
	return strings.Join(texts, "\n")
}

// Unwrap gives the faults, each an error of its own.
func (e *Faults) Unwrap() []error {
	all := make([]error, len(e.Faults))
	for i, f := range e.Faults {
		all[i] = f
	}
	return all
}

// faultAt makes a fault at a token.
func faultAt(path string, tk *token.Token, why error) Fault {
	f := Fault{File: filepath.Base(path), Line: 1, Column: 1, Why: why}
	if tk == nil || tk.Position == nil {
		return f
	}
	f.Line, f.Column = max(1, tk.Position.Line), max(1, tk.Position.Column)
	return f
}

// asFound is what the YAML reader says of its own, in one line.
func asFound(message string) error { return errors.New(strings.Join(strings.Fields(message), " ")) }

// plainFault says in the fitter's words what the YAML reader found.
func plainFault(path string, err error) error {
	var typed yaml.Error
	if !errors.As(err, &typed) {
		return &Faults{[]Fault{faultAt(path, nil,
			words.Fault("error.settings.unread", words.Values{"why": asFound(err.Error())}))}}
	}
	tk := typed.GetToken()
	return &Faults{[]Fault{faultAt(path, tk, plainMessage(typed, tk))}}
}

func plainMessage(err yaml.Error, tk *token.Token) error {
	var wrongType *yaml.TypeError
	var unknown *yaml.UnknownFieldError
	var node *yaml.UnexpectedNodeTypeError
	switch {
	case errors.As(err, &unknown):
		return words.Fault("error.settings.unknown", words.Values{"key": tk.Value})
	case errors.As(err, &wrongType):
		return typeMessage(tk.Value, wrongType.DstType.Kind().String())
	case errors.As(err, &node):
		return words.Fault("error.settings.node", words.Values{
			"want": nodeWord(node.Expected.String()), "found": nodeWord(node.Actual.String()),
		})
	}
	if kind, is := strings.CutPrefix(err.GetMessage(), stockForm); is {
		return words.Fault("error.settings.stock_form", words.Values{"found": nodeWord(kind)})
	}
	return words.Fault("error.settings.yaml", words.Values{"why": indentation(err.GetMessage())})
}

// indentation says what to do about the two slips that happen most: a tab before
// a key, and keys of one section that do not begin in one column.
func indentation(message string) error {
	switch {
	case strings.HasPrefix(message, "mapping key "): // a key that stands twice, by its name
		return asFound(message)
	case strings.HasPrefix(message, "found character '\t'"):
		return words.Fault("error.settings.tab", nil)
	case strings.HasPrefix(message, "mapping value is not allowed"):
		return words.Fault("error.settings.column", nil)
	}
	return words.Fault("error.settings.brackets", nil)
}

func typeMessage(value, kind string) error {
	found := words.Values{"found": value}
	if !strings.HasPrefix(kind, "float") && !strings.HasPrefix(kind, "int") {
		return words.Fault("error.settings.text", found)
	}
	if strings.Contains(value, ",") {
		return words.Fault("error.settings.comma", found)
	}
	return words.Fault("error.settings.number", found)
}

func nodeWord(kind string) any {
	switch strings.ToLower(kind) {
	case "mapping", "mappingvalue":
		return words.Key("error.settings.node.section")
	case "sequence":
		return words.Key("error.settings.node.list")
	case "null":
		return words.Key("error.settings.node.nothing")
	case "string", "literal":
		return words.Key("error.settings.node.text")
	case "integer", "float":
		return words.Key("error.settings.node.number")
	case "bool":
		return words.Key("error.settings.node.yes_no")
	}
	return strings.ToLower(kind)
}
