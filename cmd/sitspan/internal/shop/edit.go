package shop

import (
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
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
func block(of PrintOf, es []entry) string { return string(of) + ":\n" + lines(es, "  ") + "\n" }

// lines are entries, a line each, without the last line's end.
func lines(es []entry, indent string) string {
	ls := make([]string, 0, len(es))
	for _, e := range es {
		ls = append(ls, indent+e.key+": "+e.value)
	}
	return strings.Join(ls, "\n")
}

// edit changes the text of the settings in the tokens of the YAML reader's own nodes: all others, white space
// and comments among them, are written as they were read. What change does not understand comes back as it
// was; changed checks what came out.
func edit(text []byte, change func(*tree) bool) []byte {
	eol := "\n"
	if strings.Contains(string(text), "\r\n") {
		eol = "\r\n"
	}
	plain := strings.ReplaceAll(string(text), eol, "\n")
	t, ok := treeOf(plain)
	if !ok || !change(t) {
		return text
	}
	return []byte(strings.ReplaceAll(t.text(), "\n", eol))
}

// tree is a text as tokens, whose Origin may be changed, and the nodes over them.
type tree struct {
	tokens token.Tokens
	file   *ast.File
	rest   string   // behind the last token
	added  []string // sections to be put behind it
}

// treeOf reads a text whose lines end with a line feed.
func treeOf(text string) (*tree, bool) {
	t := &tree{tokens: lexer.Tokenize(text)}
	whole := written(t.tokens)
	if !strings.HasPrefix(text, whole) {
		return nil, false // the reader does not know what it read
	}
	t.rest = text[len(whole):]
	var err error
	if t.file, err = parser.Parse(t.tokens, parser.ParseComments); err != nil {
		return nil, false
	}
	ownIndents(t.tokens)
	return t, true
}

func (t *tree) text() string {
	text := written(t.tokens) + t.rest
	for _, section := range t.added {
		if text = strings.TrimRight(text, " \t\n"); text != "" {
			text += "\n\n"
		}
		text += section
	}
	return text
}

// top finds a key at the left edge; nil where there is none.
func (t *tree) top(key string) *ast.MappingValueNode {
	for _, d := range t.file.Docs {
		if v := under(d.Body, key); v != nil {
			return v
		}
	}
	return nil
}

// under finds a key in a mapping; nil where there is none.
func under(n ast.Node, key string) *ast.MappingValueNode {
	for _, v := range mappingValues(n) {
		if v.Key.GetToken().Value == key {
			return v
		}
	}
	return nil
}

// setSection puts entries into a section of lines, and makes it where it is not there.
func (t *tree) setSection(key string, es []entry) bool {
	section := t.top(key)
	if section == nil {
		t.added = append(t.added, key+":\n"+lines(es, "  ")+"\n")
		return true
	}
	return editSection(section, es, 1)
}

// written is what tokens were read from.
func written(tokens token.Tokens) string {
	var b strings.Builder
	for _, t := range tokens {
		b.WriteString(t.Origin)
	}
	return b.String()
}

// ownIndents gives each token the blanks before it on its line, where the token before has them.
func ownIndents(tokens token.Tokens) {
	for i, t := range tokens[:max(0, len(tokens)-1)] {
		if end := strings.LastIndex(t.Origin, "\n") + 1; end > 0 && strings.Trim(t.Origin[end:], " ") == "" {
			tokens[i+1].Origin = t.Origin[end:] + tokens[i+1].Origin
			t.Origin = t.Origin[:end]
		}
	}
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

// editSection puts the entries into the section: a value that is there is changed, and its comment stays;
// a new one comes after the last; one that no longer holds goes, and leaves its comment. depth is how deep
// the section's keys stand, from 1.
func editSection(section *ast.MappingValueNode, es []entry, depth int) (ok bool) {
	if m, isMapping := section.Value.(*ast.MappingNode); isMapping && m.IsFlowStyle {
		return openUp(section, m, es, indentOf(section)+"  ")
	}
	values := mappingValues(section.Value)
	if len(values) == 0 { // a key with nothing below
		insertAfter(section.Key.GetToken().Next, lines(es, strings.Repeat("  ", depth)))
		return true
	}
	there := map[string]*ast.MappingValueNode{}
	for _, v := range values {
		there[v.Key.GetToken().Value] = v
	}
	var missing []entry
	for _, e := range es {
		v, known := there[e.key]
		if !known {
			missing = append(missing, e)
			continue
		}
		setValue(v.Value.GetToken(), e.value)
		delete(there, e.key)
	}
	if len(missing) > 0 {
		indent := indentOf(values[0])
		insertAfter(values[len(values)-1].Value.GetToken(), lines(missing, indent))
	}
	for _, v := range there {
		drop(v)
	}
	return true
}

// indentOf are the blanks before a key.
func indentOf(v *ast.MappingValueNode) string {
	return strings.Repeat(" ", v.Key.GetToken().Position.Column-1)
}

// setValue changes a value within the white space round it.
func setValue(t *token.Token, value string) {
	body := strings.TrimSpace(t.Origin)
	t.Origin = strings.Replace(t.Origin, body, value, 1)
}

// insertAfter adds lines after a token's line.
func insertAfter(t *token.Token, added string) {
	if c := commentOf(t); c != nil {
		t = c
	}
	before, after, ended := strings.Cut(t.Origin, "\n")
	t.Origin = before + "\n" + added
	if ended {
		t.Origin += "\n" + after
	}
}

// commentOf is the comment after a token on its line, or nil.
func commentOf(t *token.Token) *token.Token {
	if n := t.Next; n != nil && n.Type == token.CommentType && !strings.Contains(t.Origin, "\n") {
		return n
	}
	return nil
}

// drop takes a key and its value out, and leaves their comment.
func drop(v *ast.MappingValueNode) {
	key, value := v.Key.GetToken(), v.Value.GetToken()
	added := ""
	if _, after, found := strings.Cut(value.Origin, "\n"); found {
		added = after // what was inserted after it
	}
	indent := key.Origin[:len(key.Origin)-len(strings.TrimLeft(key.Origin, " "))]
	if c := commentOf(value); c != nil {
		c.Origin = indent + c.Origin
	}
	key.Origin, key.Next.Origin, value.Origin = "", "", added
}

// openUp writes a section that stands on one line in braces as lines.
func openUp(section *ast.MappingValueNode, m *ast.MappingNode, es []entry, indent string) (ok bool) {
	if m.Start.Position.Line != m.End.Position.Line {
		return false
	}
	for t := m.Start; t != m.End; t = t.Next {
		t.Origin = ""
	}
	m.End.Origin = strings.TrimPrefix(m.End.Origin, "}")
	colon := section.Key.GetToken().Next
	if c := commentOf(m.End); c != nil {
		insertAfter(c, lines(es, indent))
		return true
	}
	colon.Origin += m.End.Origin
	m.End.Origin = ""
	insertAfter(colon, lines(es, indent))
	return true
}
