package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// goPhrases are what Go's libraries say of trouble; none of it is for a fitter.
var goPhrases = regexp.MustCompile(`strconv\.|(?:^|[ (])(?:json|yaml|sql): |invalid character|unmarshal|` +
	`\bopen \S+:|\bstat \S+:|` +
	`\bread [^(\s]+:|\bmkdir \S+:|\blstat \S+:|no such file or directory|permission denied|is a directory$|` +
	`not a directory|unexpected EOF|: EOF|image: unknown|no space left on device|broken pipe|unable to open|` +
	`runtime error|goroutine|%!`)

// wrongFiles are files of the wrong kind by name, in a new folder.
func wrongFiles(t *testing.T) (dir string, names []string) {
	t.Helper()
	dir = t.TempDir()
	noise := bytes.Repeat([]byte{0x00, 0xff, 0x13, 0x9a, 0x0a, 0xe2}, 500)
	for name, data := range map[string]string{
		"empty": "", "noise": string(noise), "cut.json": `{"schema":2,`, "list.json": `[1,2]`, "number.json": `7`,
		"wrong.json": `{"schema":2,"measurement":{"spacing_mm":"wide"}}`, "cut.yaml": "name: [\n",
		"tab.yaml":  "print:\n\tx: 1\n",
		"words.csv": "width_mm\nwide\n", "ragged.csv": "file,spacing_mm\na,b,c,d\n\"",
		"newer.json": `{"schema":99}`,
		"text.jpg":   "hello", "cut.jpg": "\xff\xd8\xff\xe0", "cut.png": "\x89PNG\r\n\x1a\n\x00\x00",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(data), 0o600))
		names = append(names, name)
	}
	require.NoError(t, os.Mkdir(filepath.Join(dir, "folder"), 0o700))
	return dir, append(names, "folder", "missing", filepath.Join("noise", "below"))
}

// Whatever file a command is given, it says in the fitter's words what was wrong, each language included, in
// lines that a terminal shows, and never in a library's.
func TestWrongFilesAreToldInPlainWords(t *testing.T) {
	if testing.Short() {
		t.Skip("runs every command on every wrong file")
	}
	dir, names := wrongFiles(t)
	record, err := filepath.Abs("internal/record/testdata/schema1-foam.json")
	require.NoError(t, err)
	t.Chdir(dir)
	t.Setenv("XDG_DATA_HOME", filepath.Join(dir, "data"))
	commands := [][]string{
		{"measure", "FILE"}, {"measure", "--together", "FILE", "noise"}, {"measure", "--blank", "FILE", "text.jpg"},
		{"measure", "--record", "FILE", "text.jpg"}, {"measure", "--overlay", "FILE", "text.jpg"},
		{"measure", "--stock", "FILE", "text.jpg"}, {"measure", "--shop", "FILE", "text.jpg"},
		{"explain", "FILE"}, {"explain", record, "--plot", "FILE/plot.svg"}, {"sheet", "FILE", "-o", "a.pdf"},
		{"sheet", record, "-o", "FILE/a.pdf"}, {"sheet", record, "-o", "b.pdf", "--overlay", "FILE"},
		{"sheet", record, "-o", "b.pdf", "--data", "FILE"}, {"sheet", record, "-o", "b.pdf", "--shop", "FILE"},
		{"size", "--spacing", "120", "--allowance", "20", "--stock", "FILE"},
		{"size", "--spacing", "120", "--allowance", "20", "--shop", "FILE"},
		{"frame", "-o", "FILE/frame.pdf"}, {"audit", "--out", "FILE/out", "folder"},
		{"audit", "--out", "out", "FILE"}, {"audit", "--readings", "FILE", "--out", "out2", "folder"},
		{"audit", "merge", "--out", "out3", "FILE"}, {"known", "--distance", "120", "FILE"},
		{"known", "--list", "--data", "FILE"}, {"desk", "backup", "--data", "FILE", "copy"},
	}
	for _, name := range names {
		for _, command := range commands {
			args := make([]string, len(command))
			for i, a := range command {
				args[i] = strings.ReplaceAll(a, "FILE", name)
			}
			for _, lang := range []string{"en", "de", "fr"} {
				said := toldBy(t, append(args, "--lang", lang))
				for line := range strings.Lines(said) {
					assert.NotRegexp(t, goPhrases, line, "sitspan %s", strings.Join(args, " "))
					assert.True(t, utf8.ValidString(line), "sitspan %s", strings.Join(args, " "))
				}
			}
		}
		for _, command := range [][]string{{"frame", "verify", "--bar", "199.5", "--bar-y", "149.6", "--shop",
			"FILE"}} {
			args := append([]string(nil), command...)
			args[len(args)-1] = name
			assert.NotRegexp(t, goPhrases, toldBy(t, args), "sitspan %s", strings.Join(args, " "))
		}
	}
}

// toldBy is what a run of the program says on stderr.
func toldBy(t *testing.T, args []string) string {
	t.Helper()
	var out, errs bytes.Buffer
	run(context.Background(), args, &out, &errs)
	return errs.String()
}
