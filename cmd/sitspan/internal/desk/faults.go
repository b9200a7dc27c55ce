package desk

import (
	"errors"
	"fmt"
	"html/template"
	"strings"

	"sitspan/cmd/sitspan/internal/review"
	"sitspan/cmd/sitspan/internal/words"
)

// fieldRefusal is a refusal because of what one field of a page's form holds.
type fieldRefusal struct {
	*refusal
	field string // its id
}

// Unwrap gives the refusal.
func (e *fieldRefusal) Unwrap() error { return e.refusal }

func atField(status int, text, field string) error {
	if field == "" {
		return &refusal{status, text}
	}
	return &fieldRefusal{&refusal{status, text}, field}
}

// fieldOf is the field that a fault of what a person set is in; empty for none.
func fieldOf(err error) string {
	var move *review.Fault
	var at *fieldRefusal
	switch {
	case errors.As(err, &at):
		return at.field
	case errors.As(err, &move) && move.Code == "u":
		return "own-u"
	}
	return ""
}

// faults are what is wrong with a form's fields, by their ids, in their order.
type faults []fieldFault

// fieldFault is what is wrong with one field.
type fieldFault struct{ Field, Text string }

func (f *faults) add(lang words.Lang, field string, err error) {
	*f = append(*f, fieldFault{field, faultText(lang, err)})
}

// Of is what is wrong with a field; empty for nothing.
func (f faults) Of(field string) string {
	for _, x := range f {
		if x.Field == field {
			return x.Text
		}
	}
	return ""
}

// Mark are the attributes that tie a field to what is wrong with it, and to a help's id; the first that is
// wrong is where the person goes on.
func (f faults) Mark(field, help string) template.HTMLAttr {
	by := strings.Fields(help)
	mark := ""
	if f.Of(field) != "" {
		by = append([]string{field + "-fault"}, by...)
		mark = ` aria-invalid="true"`
		if f[0].Field == field {
			mark += " autofocus"
		}
	}
	if len(by) > 0 {
		mark += fmt.Sprintf(` aria-describedby="%s"`, strings.Join(by, " "))
	}
	return template.HTMLAttr(mark) // ids of our own, no text from outside
}
