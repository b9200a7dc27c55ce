package shop

import (
	"bytes"
	"errors"
	"io"
	"os"
	"unicode/utf8"

	"sitspan/cmd/sitspan/internal/words"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// maxFileBytes bounds the settings' file; a long one has some kilobytes.
const maxFileBytes = 1 << 20

// Load reads a shop's settings. A path in them is relative to the file.
func Load(path string) (Shop, error) {
	f, err := os.Open(path)
	if err != nil {
		return Shop{}, words.Fault("error.settings", words.Values{"why": err})
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxFileBytes+1))
	if err != nil {
		return Shop{}, words.Fault("error.settings", words.Values{"why": err})
	}
	return Parse(data, path)
}

// Parse reads a shop's settings from the text of the file at path. What is
// wrong with them is a *Faults.
func Parse(data []byte, path string) (Shop, error) {
	doc, file, err := read(data, path)
	if err != nil {
		return Shop{}, err
	}
	c := &checker{path: path, file: file}
	s := c.shop(doc)
	s.Path = path
	return s, c.err()
}

// read parses the text strictly: no unknown key, no second document, and no
// anchors, which no setting needs and which can swell to any size.
func read(data []byte, path string) (doc document, file *ast.File, err error) {
	if len(data) > maxFileBytes {
		return doc, nil, &Faults{[]Fault{faultAt(path, nil,
			words.Fault("error.settings.long", nil))}}
	}
	if !utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0 {
		return doc, nil, &Faults{[]Fault{faultAt(path, nil,
			words.Fault("error.settings.utf8", nil))}}
	}
	file, err = parser.ParseBytes(data, parser.ParseComments)
	if err != nil {
		return doc, nil, plainFault(path, err)
	}
	if len(file.Docs) > 1 {
		return doc, nil, &Faults{[]Fault{faultAt(path, file.Docs[1].Start,
			words.Fault("error.settings.second", nil))}}
	}
	if tk := anchorIn(file); tk != nil {
		return doc, nil, &Faults{[]Fault{faultAt(path, tk,
			words.Fault("error.settings.anchor", nil))}}
	}
	if err := yaml.UnmarshalWithOptions(data, &doc, yaml.Strict()); err != nil && !errors.Is(err, io.EOF) {
		return doc, nil, plainFault(path, err)
	}
	return doc, file, nil
}

// anchorFinder stops at the first anchor, alias, tag or merge key.
type anchorFinder struct{ found *token.Token }

// Visit implements ast.Visitor.
func (v *anchorFinder) Visit(n ast.Node) ast.Visitor {
	switch n.(type) {
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode, *ast.MergeKeyNode:
		if v.found == nil {
			v.found = n.GetToken()
		}
		return nil
	}
	return v
}

func anchorIn(file *ast.File) *token.Token {
	v := &anchorFinder{}
	for _, d := range file.Docs {
		if d.Body != nil {
			ast.Walk(v, d.Body)
		}
	}
	return v.found
}
