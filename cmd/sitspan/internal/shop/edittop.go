package shop

import (
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// setValues puts values beside keys at the left edge. One without a value goes.
func (t *tree) setValues(values []entry) bool {
	added := ""
	for _, e := range values {
		v := t.top(e.key)
		switch {
		case v == nil && e.value != "":
			added += e.key + ": " + e.value + "\n"
		case v == nil:
		case e.value == "":
			if !oneLineValue(v) {
				return false
			}
			collapse(v, "")
			drop(v)
		default:
			if !oneLineValue(v) {
				return false
			}
			collapse(v, e.value)
		}
	}
	if added != "" {
		t.added = append(t.added, added)
	}
	return true
}

// oneLineValue tells a value that stands on its key's line, or none.
func oneLineValue(v *ast.MappingValueNode) bool {
	switch n := v.Value.(type) {
	case *ast.SequenceNode:
		return n.IsFlowStyle && n.Start.Position.Line == n.End.Position.Line
	case *ast.MappingNode, *ast.MappingValueNode, *ast.LiteralNode:
		return false
	case *ast.NullNode:
		return v.Key.GetToken().Next != nil
	}
	return !strings.Contains(strings.TrimSpace(v.Value.GetToken().Origin), "\n")
}

// collapse makes a value of one line another one.
func collapse(v *ast.MappingValueNode, value string) {
	switch n := v.Value.(type) {
	case *ast.SequenceNode:
		before := leading(n.Start.Origin)
		for at := n.Start; at != n.End; at = at.Next {
			at.Origin = ""
		}
		n.End.Origin = strings.TrimPrefix(strings.TrimLeft(n.End.Origin, " "), "]")
		n.Start.Origin = before + value
	case *ast.NullNode:
		colon := v.Key.GetToken().Next
		colon.Origin = strings.Replace(colon.Origin, ":", ": "+value, 1)
	default:
		setValue(v.Value.GetToken(), value)
	}
}

func leading(s string) string { return s[:len(s)-len(strings.TrimLeft(s, " "))] }

// setPad puts entries under pads, into the pad of that name; key is the name as it is written.
func (t *tree) setPad(name, key string, es []entry) bool {
	pads := t.top("pads")
	if pads == nil {
		t.added = append(t.added, "pads:\n  "+key+":\n"+lines(es, "    ")+"\n")
		return true
	}
	if m, isMapping := pads.Value.(*ast.MappingNode); isMapping && m.IsFlowStyle {
		return false
	}
	if pad := under(pads.Value, name); pad != nil {
		return editSection(pad, es, 2)
	}
	values := mappingValues(pads.Value)
	indent := "  "
	if len(values) > 0 {
		indent = indentOf(values[0])
	}
	insertAfter(pads.Key.GetToken().Next, indent+key+":\n"+lines(es, indent+"  "))
	return true
}

// setRows makes a list of lines anew. Comments on lines of their own stay before the row that they stand
// before, and a row's own stays with it.
func (t *tree) setRows(key string, rows []string) bool {
	v := t.top(key)
	if v == nil {
		t.added = append(t.added, key+":\n"+strings.Join(rows, "\n")+"\n")
		return true
	}
	n, isList := v.Value.(*ast.SequenceNode)
	if !isList || n.IsFlowStyle || len(n.Values) == 0 {
		return false
	}
	first, end := n.Start, t.after(v)
	own, behind, last := commentsOf(first, end)
	var b strings.Builder
	for i, row := range rows {
		for _, c := range own[i] {
			b.WriteString("  " + c + "\n")
		}
		b.WriteString(row)
		if behind[i] != "" {
			b.WriteString(" " + behind[i])
		}
		b.WriteString("\n")
	}
	for i := len(rows); i <= last; i++ { // of rows that are gone
		for _, c := range append(own[i], behind[i]) {
			if c != "" {
				b.WriteString("  " + c + "\n")
			}
		}
	}
	lead := first.Origin[:strings.LastIndex(first.Origin, "\n")+1]
	tail := ""
	for at := first; at != end; at = at.Next {
		tail, at.Origin = blankEnd(at.Origin), ""
	}
	first.Origin = lead + b.String() + tail
	if end == nil && strings.HasPrefix(t.rest, "\n") { // the last line's end is not in any token
		first.Origin = strings.TrimSuffix(first.Origin, "\n")
	}
	return true
}

// blankEnd are the empty lines that a text ends with.
func blankEnd(s string) string {
	body := strings.TrimRight(s, "\n")
	return strings.Repeat("\n", max(0, len(s)-len(body)-1))
}

// after is the first token of the next section, nil at the end; comments at the left edge belong to what
// follows them.
func (t *tree) after(v *ast.MappingValueNode) *token.Token {
	start := v.Key.GetToken()
	for at := start.Next; at != nil; at = at.Next {
		if at.Position.Column == 1 && at.Position.Line > start.Position.Line && at.Type != token.SequenceEntryType {
			return at
		}
	}
	return nil
}

// commentsOf are the comments of a list's rows: on lines of their own before the row, and behind it on its
// line. last is the greatest row that has any, one more than there are rows for those behind the last.
func commentsOf(first, end *token.Token) (own map[int][]string, behind map[int]string, last int) {
	own, behind = map[int][]string{}, map[int]string{}
	row, line, depth := -1, 0, first.Position.Column
	for at := first; at != end; at = at.Next {
		switch {
		case at.Type == token.SequenceEntryType && at.Position.Column == depth:
			row, line = row+1, at.Position.Line
		case at.Type == token.CommentType:
			text := "#" + at.Value
			if at.Position.Line == line {
				behind[max(0, row)], last = text, max(last, row)
			} else {
				own[row+1], last = append(own[row+1], text), max(last, row+1)
			}
		case at.Position.Line > line:
			line = at.Position.Line
		}
	}
	return own, behind, last
}
