package report

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/words"
)

// spoken are the words of the sources that a rider or fitter may read: codes of
// reasons and warnings, and sources of budget lines, each with its place.
type spoken struct {
	codes, sources map[string]string
	put            map[string]bool // sources that are put together, as they are written there
}

// speakers are the folders whose reasons and budgets reach a page or a sheet.
var speakers = []string{"imprint", "calibration", "cmd/sitspan/internal/intake", "cmd/sitspan/internal/review", "cmd/sitspan/internal/desk"}

// spokenWords reads the sources themselves, so that a new code or a new line
// without German words fails here, in whichever package it is made.
func spokenWords(t *testing.T) *spoken {
	t.Helper()
	s := &spoken{map[string]string{}, map[string]string{}, map[string]bool{}}
	for _, dir := range speakers {
		err := filepath.WalkDir(filepath.Join("../../../..", dir), func(path string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
			if err == nil {
				ast.Inspect(f, func(n ast.Node) bool { s.note(n, path); return true })
			}
			return err
		})
		require.NoError(t, err)
	}
	return s
}

// note takes the words of one node.
func (s *spoken) note(n ast.Node, path string) {
	switch n := n.(type) {
	case *ast.CompositeLit:
		switch named(n.Type) {
		case "Reason", "Warning":
			s.code(field(n, "Code", 0), path)
		case "Component":
			s.source(field(n, "Source", -1), path)
		case "": // an element of a slice or map, whose type is not written again
			s.source(field(n, "Source", -1), path)
			s.code(field(n, "Code", -1), path)
		}
	case *ast.CallExpr:
		if named(n.Fun) == "warn" && len(n.Args) == 3 {
			s.code(n.Args[0], path)
		}
	case *ast.ValueSpec: // photo's codes
		if named(n.Type) == "Code" {
			for _, v := range n.Values {
				s.code(v, path)
			}
		}
	}
}

func named(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return e.Sel.Name
	}
	return ""
}

// field is a literal's field by its key, or by its place where it has no keys.
func field(n *ast.CompositeLit, key string, place int) ast.Expr {
	for i, e := range n.Elts {
		kv, keyed := e.(*ast.KeyValueExpr)
		if keyed && named(kv.Key) == key {
			return kv.Value
		}
		if !keyed && i == place {
			return e
		}
	}
	return nil
}

func literal(e ast.Expr) (string, bool) {
	lit, is := e.(*ast.BasicLit)
	if !is || lit.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(lit.Value)
	return s, err == nil
}

func (s *spoken) code(e ast.Expr, path string) {
	if c, is := literal(e); is {
		s.codes[c] = path
	}
}

func (s *spoken) source(e ast.Expr, path string) {
	if e == nil {
		return
	}
	if c, is := literal(e); is {
		s.sources[c] = path
		return
	}
	s.put[filepath.Base(path)] = true
}

// putTogether are the sources that are not written in one piece, by the file
// that makes them. A file that is not here fails the test: add it, with all
// that it can make.
var putTogether = map[string][]string{
	"conclude.go":    {"left centre", "right centre", "flat bottom of the left dent", "flat bottom of the right dent"},
	"depth.go":       {"depth of the dents (parallax)", "depth, left against right (parallax)", "thickness of the card"},
	"jointreport.go": {"left centre", "right centre", "depth of the dents (parallax)", "depth, left against right (parallax)", "place of the camera (parallax)"},
	"reference.go": {
		"fit of the card", "fit of the rule", "size of the card", "edges of the card", "thickness of the reference", "lens", "focal length", "graduation of the rule",
	},
	"review.go":  {"left centre, set by hand", "right centre, set by hand", "fit of the card", "fit of the rule"},
	"convert.go": nil, // repeats an estimate's own
	"density.go": nil, // a resolution's source, no budget's
}

// A new reason code or budget source without German words fails here.
func TestEveryReasonAndBudgetSourceHasGermanWords(t *testing.T) {
	s := spokenWords(t)
	require.Greater(t, len(s.codes), 30)
	require.Greater(t, len(s.sources), 10)
	for code, path := range s.codes {
		g, known := germanReasons[code]
		if assert.True(t, known, "%s: the reason %q has no German words in reasonsde.go", path, code) {
			assert.NotEmpty(t, g.Seen, code)
			assert.NotEmpty(t, g.Do, code)
		}
	}
	for source, path := range s.sources {
		assert.Contains(t, germanBudget, source, "%s: this budget line has no German word in reasonsde.go", path)
	}
	for file := range s.put {
		made, known := putTogether[file]
		assert.True(t, known, "%s puts a budget line's source together: list what it can make", file)
		for _, source := range made {
			assert.Contains(t, germanBudget, source, file)
		}
	}
}

// What the test above reads is really there: known places are found.
func TestTheSourcesAreRead(t *testing.T) {
	s := spokenWords(t)
	for code, file := range map[string]string{"no_frame": "refusal.go", "rule_tilt": "reference.go", "truncated": "errors.go", "process_ended": "queue.go", "no_width": "convert.go"} {
		assert.Equal(t, file, filepath.Base(s.codes[code]), code)
	}
	assert.Contains(t, s.sources, "corners of the marks")
	assert.Contains(t, s.put, "reference.go")
}

func TestReasonsAreSpoken(t *testing.T) {
	assert.Equal(t, Spoken{"the frame 7", "do it"}, SpeakReason(words.English, "no_frame", "the frame 7", "do it"))
	assert.Equal(t, "Kein Rahmen gefunden", SpeakReason(words.German, "no_frame", "the frame 7", "do it").Seen)
	assert.Equal(t, "of tomorrow", SpeakReason(words.German, "of_tomorrow", "of tomorrow", "").Seen, "a newer record's stays readable")
	assert.Equal(t, "Objektiv", BudgetSource(words.German, "lens"))
	assert.Equal(t, "lens", BudgetSource(words.English, "lens"))
	for code, g := range germanReasons {
		for _, words := range []string{g.Seen, g.Do} {
			assert.NoError(t, printable(code, words, ""))
			english := slices.ContainsFunc(strings.Fields(words), func(w string) bool { return w == "the" || w == "and" })
			assert.False(t, english, words)
		}
	}
}
