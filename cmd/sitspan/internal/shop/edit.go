package shop

import (
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// entry is one line of the print section.
type entry struct{ key, value string }

// entries lists what is given of a print, in the order in which it is written.
func (p Print) entries() []entry {
	var es []entry
	number := func(key string, v float64, given bool) {
		if given {
			es = append(es, entry{key, strconv.FormatFloat(v, 'f', -1, 64)})
		}
	}
	if p.Date != "" {
		es = append(es, entry{"date", strconv.Quote(p.Date)})
	}
	number("scale_x", p.ScaleX, true)
	number("scale_x_u", p.ScaleXU, true)
	number("scale_y", p.ScaleY, p.ScaleY != 0)
	number("scale_y_u", p.ScaleYU, p.ScaleY != 0)
	number("correlation_xy", p.CorrelationXY, p.CorrelationXY != 0)
	number("bar_mm", p.BarMM, p.BarMM != 0)
	number("bar_y_mm", p.BarYMM, p.BarYMM != 0)
	number("bar_u_mm", p.BarUMM, p.BarUMM != 0)
	return es
}

// block writes the section as it stands in the file.
func block(es []entry, indent, eol string) string {
	return "print:" + eol + strings.Join(lines(es, indent), eol) + eol
}

func lines(es []entry, indent string) []string {
	ls := make([]string, 0, len(es))
	for _, e := range es {
		ls = append(ls, indent+e.key+": "+e.value)
	}
	return ls
}

// editPrint puts a print into the text of the settings, line by line, by the
// places that the YAML reader gives. It need not understand every way of
// writing YAML: withPrint checks what came out.
func editPrint(text []byte, path string, p Print) []byte {
	file, err := parser.ParseBytes(text, parser.ParseComments)
	if err != nil {
		return text
	}
	e := newEditor(string(text))
	switch section := printNode(file); {
	case section == nil:
		e.append(p.entries())
	default:
		e.replace(section, p.entries())
	}
	return []byte(e.text())
}

// printNode finds the print section; nil where there is none.
func printNode(file *ast.File) *ast.MappingValueNode {
	for _, d := range file.Docs {
		for _, v := range mappingValues(d.Body) {
			if v.Key.GetToken().Value == "print" {
				return v
			}
		}
	}
	return nil
}

func mappingValues(n ast.Node) []*ast.MappingValueNode {
	switch n := n.(type) {
	case *ast.MappingNode:
		return n.Values
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}
	}
	return nil
}

// editor holds the text as lines without their ends.
type editor struct {
	lines []string
	eol   string
}

func newEditor(text string) *editor {
	e := &editor{eol: "\n"}
	if strings.Contains(text, "\r\n") {
		e.eol = "\r\n"
	}
	e.lines = strings.Split(text, e.eol)
	return e
}

func (e *editor) text() string { return strings.Join(e.lines, e.eol) }

// append adds the section at the end, after a blank line.
func (e *editor) append(es []entry) {
	for len(e.lines) > 0 && strings.TrimSpace(e.lines[len(e.lines)-1]) == "" {
		e.lines = e.lines[:len(e.lines)-1]
	}
	if len(e.lines) > 0 {
		e.lines = append(e.lines, "")
	}
	e.lines = append(e.lines, "print:")
	e.lines = append(e.lines, lines(es, "  ")...)
	e.lines = append(e.lines, "")
}

// replace puts the entries into the section: a value that is there is changed
// on its line, whose comment stays; a new one comes after the last; one that
// no longer holds goes, and leaves its comment.
func (e *editor) replace(section *ast.MappingValueNode, es []entry) {
	keyLine := section.Key.GetToken().Position.Line
	if m, ok := section.Value.(*ast.MappingNode); ok && m.IsFlowStyle {
		e.replaceFlow(keyLine, es)
		return
	}
	values := mappingValues(section.Value)
	if len(values) == 0 { // print: with nothing below
		e.insertAfter(keyLine, lines(es, "  "))
		return
	}
	first := values[0].Key.GetToken().Position
	indent, last := strings.Repeat(" ", first.Column-1), first.Line
	at := make(map[string]int) // line of each key, from 1
	for _, v := range values {
		pos := v.Key.GetToken().Position
		at[v.Key.GetToken().Value] = pos.Line
		last = max(last, pos.Line)
	}
	var missing []entry
	for _, en := range es {
		if line, there := at[en.key]; there {
			e.setValue(line, en)
			delete(at, en.key)
			continue
		}
		missing = append(missing, en)
	}
	e.insertAfter(last, lines(missing, indent))
	for _, line := range at {
		e.drop(line)
	}
	e.sweep()
}

// replaceFlow opens up a section that is written on one line in braces.
func (e *editor) replaceFlow(line int, es []entry) {
	if !e.has(line) {
		return
	}
	_, comment := splitComment(e.lines[line-1])
	e.lines[line-1] = strings.TrimRight("print: "+comment, " ")
	e.insertAfter(line, lines(es, "  "))
}

// setValue changes the value on a key's line.
func (e *editor) setValue(line int, en entry) {
	if !e.has(line) {
		return
	}
	content, comment := splitComment(e.lines[line-1])
	key, _, found := strings.Cut(content, ":")
	if !found {
		return
	}
	gap := content[len(strings.TrimRight(content, " \t")):]
	e.lines[line-1] = key + ": " + en.value + gap + comment
}

// dropped marks a line that sweep takes out; no text that was read holds it.
const dropped = "\x00"

// drop takes a key's line out, and leaves its comment.
func (e *editor) drop(line int) {
	if !e.has(line) {
		return
	}
	content, comment := splitComment(e.lines[line-1])
	if comment == "" {
		e.lines[line-1] = dropped
		return
	}
	indent := content[:len(content)-len(strings.TrimLeft(content, " "))]
	e.lines[line-1] = indent + comment
}

func (e *editor) sweep() {
	kept := e.lines[:0]
	for _, l := range e.lines {
		if l != dropped {
			kept = append(kept, l)
		}
	}
	e.lines = kept
}

func (e *editor) has(line int) bool { return line >= 1 && line <= len(e.lines) }

func (e *editor) insertAfter(line int, added []string) {
	if !e.has(line) {
		return
	}
	rest := append([]string(nil), e.lines[line:]...)
	e.lines = append(append(e.lines[:line], added...), rest...)
}

// splitComment parts a line before its comment: a # at the beginning or after
// a blank, outside quotes.
func splitComment(line string) (content, comment string) {
	quote := rune(0)
	before := ' '
	for i, r := range line {
		switch {
		case quote != 0:
			if r == quote {
				quote = 0
			}
		case r == '"' || r == '\'':
			quote = r
		case r == '#' && (before == ' ' || before == '\t'):
			return line[:i], line[i:]
		}
		before = r
	}
	return line, ""
}
