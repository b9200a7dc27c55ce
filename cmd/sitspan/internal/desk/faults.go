package desk

import (
	"fmt"
	"html/template"
	"strings"
)

// faults are what is wrong with a form's fields, by their ids, in their order.
type faults []fieldFault

// fieldFault is what is wrong with one field.
type fieldFault struct{ Field, Text string }

func (f *faults) add(field string, err error) { *f = append(*f, fieldFault{field, err.Error()}) }

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
