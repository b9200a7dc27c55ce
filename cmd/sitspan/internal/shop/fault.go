package shop

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/token"
)

// Fault is one thing that is wrong with the settings' file.
type Fault struct {
	File    string
	Line    int // from 1
	Column  int // from 1
	Message string
}

// Error is the fault with its place, in one line.
func (f Fault) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", f.File, f.Line, f.Column, f.Message)
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

// faultAt makes a fault at a token.
func faultAt(path string, tk *token.Token, message string) Fault {
	f := Fault{File: filepath.Base(path), Line: 1, Column: 1, Message: oneLine(message)}
	if tk == nil || tk.Position == nil {
		return f
	}
	f.Line, f.Column = max(1, tk.Position.Line), max(1, tk.Position.Column)
	return f
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// plainFault says in the fitter's words what the YAML reader found.
func plainFault(path string, err error) error {
	var typed yaml.Error
	if !errors.As(err, &typed) {
		return &Faults{[]Fault{faultAt(path, nil, "the file cannot be read as YAML: "+err.Error())}}
	}
	tk := typed.GetToken()
	return &Faults{[]Fault{faultAt(path, tk, plainMessage(typed, tk))}}
}

func plainMessage(err yaml.Error, tk *token.Token) string {
	var wrongType *yaml.TypeError
	var unknown *yaml.UnknownFieldError
	var node *yaml.UnexpectedNodeTypeError
	switch {
	case errors.As(err, &unknown):
		return fmt.Sprintf("unknown key %q: correct its spelling or take it out", tk.Value)
	case errors.As(err, &wrongType):
		return typeMessage(tk.Value, wrongType.DstType.Kind().String())
	case errors.As(err, &node):
		return fmt.Sprintf("%s is needed here, found %s", nodeWord(node.Expected.String()),
			nodeWord(node.Actual.String()))
	}
	return "this is not YAML: " + indentation(err.GetMessage())
}

// indentation says what to do about the two slips that happen most: a tab before
// a key, and keys of one section that do not begin in one column.
func indentation(message string) string {
	switch {
	case strings.HasPrefix(message, "stock is "), // our own, see stockSection
		strings.HasPrefix(message, "mapping key "):
		return message
	case strings.HasPrefix(message, "found character '\t'"):
		return "a tab stands before a key: put spaces there"
	case strings.HasPrefix(message, "mapping value is not allowed"):
		return "this key does not belong where it stands: begin all keys of a section in the same column, and " +
			"put text with a colon in quotes"
	}
	return "check its brackets, quotes and the column where its keys begin"
}

func typeMessage(value, kind string) string {
	if !strings.HasPrefix(kind, "float") && !strings.HasPrefix(kind, "int") {
		return fmt.Sprintf("text is needed here, found %q: put it in quotes", value)
	}
	if strings.Contains(value, ",") {
		return fmt.Sprintf("a number is needed here, found %q: write decimals with a point", value)
	}
	return fmt.Sprintf("a number is needed here, found %q", value)
}

func nodeWord(kind string) string {
	switch strings.ToLower(kind) {
	case "mapping", "mappingvalue":
		return "a section of keys"
	case "sequence":
		return "a list"
	case "null":
		return "nothing"
	}
	return strings.ToLower(kind)
}
