package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration/fault"
	"sitspan/cmd/sitspan/internal/words"
)

// What a package says that knows no words has them in every language, and its own
// English is the catalogue's.
func TestFaultsHaveWords(t *testing.T) {
	kinds, seen := fault.All(), map[string]bool{}
	require.Greater(t, len(kinds), 50)
	for _, k := range kinds {
		key := "error." + k.Code()
		assert.False(t, seen[key], "%s is declared twice", key)
		seen[key] = true
		for _, l := range words.Langs() {
			assert.True(t, words.Has(l, key), "%s lacks %s", l, key)
		}
		assert.Equal(t, words.English.Text(key), k.Text(), key)
	}
}

// wrong is a command that is called wrongly, and what is wrong with it.
type wrong struct {
	args []string
	key  string
	v    words.Values
}

// spoken runs the program in a terminal of a language and gives its first line of
// trouble.
func spoken(t *testing.T, lang words.Lang, args []string) string {
	t.Helper()
	for _, name := range []string{"LC_ALL", "LC_MESSAGES"} {
		t.Setenv(name, "")
	}
	t.Setenv("LANG", map[words.Lang]string{"en": "C.UTF-8", "de": "de_DE.UTF-8", "fr": "fr_FR.UTF-8"}[lang])
	var stdout, stderr bytes.Buffer
	status := run(t.Context(), args, &stdout, &stderr)
	assert.NotEqual(t, exitMeasured, status, args)
	line, _, _ := strings.Cut(stderr.String(), "\n")
	return line
}

// whatIsWrong are wrong calls of every command, in the folder of the test.
func whatIsWrong() []wrong {
	say := func(key string, v words.Values) error { return words.Fault(key, v) }
	of := func(kind string, v words.Values) error { return words.Fault("error."+kind, v) }
	type v = words.Values
	uses := "road, gravel, mountain, city, touring, triathlon, e-bike"
	degrees := words.Key("usage.unit.deg")
	return []wrong{
		{[]string{"sise"}, "usage.command.like", v{"word": "sise", "like": words.Either{"size"}}},
		{[]string{"--frob"}, "usage.flag.unknown", v{"name": "frob", "like": say("usage.flag.none_like", nil)}},
		{[]string{"version", "now"}, "usage.arguments", v{"word": "now", "command": "sitspan version"}},
		{[]string{"help", "nix"}, "usage.help.topic", v{"word": "nix"}},
		{[]string{"manual"}, "usage.manual", v{"n": 0}},

		{[]string{"measure"}, "usage.measure.photo", nil},
		{[]string{"measure", "--medium", "wood", "a.jpg"}, "usage.medium", v{"word": "wood"}},
		{[]string{"measure", "--trunk", "x", "a.jpg"}, "usage.flag.value", v{"flag": "trunk", "value": "x",
			"why": say("usage.number", v{"low": -20.0, "high": 120.0, "unit": degrees})}},
		{[]string{"measure", "--trunk", "200", "a.jpg"}, "usage.flag.value", v{"flag": "trunk", "value": "200",
			"why": say("usage.range", v{"low": -20.0, "high": 120.0, "unit": degrees})}},
		{[]string{"measure", "--depth", "a", "a.jpg"}, "usage.flag.value", v{"flag": "depth", "value": "a",
			"why": say("usage.depth.number", v{"text": "a"})}},
		{[]string{"measure", "--together=5", "a.jpg"}, "usage.flag.value", v{"flag": "together", "value": "5",
			"why": say("usage.flag.switch", nil)}},
		{[]string{"measure", "--dpeth", "1"}, "usage.flag.unknown", v{"name": "dpeth",
			"like": say("usage.flag.none_like", nil)}},
		{[]string{"measure", "--deth", "1"}, "usage.flag.unknown", v{"name": "deth",
			"like": say("usage.flag.like", v{"like": words.Either{"--depth"}})}},
		{[]string{"measure", "--shop", "gone.yaml", "a.jpg"}, "error.no_settings", v{"file": "gone.yaml"}},
		{[]string{"measure", "--stock", "gone.csv", "a.jpg"}, "error.read.missing", v{"path": "gone.csv",
			"what": words.Key("error.what.stock")}},
		{[]string{"measure", "--bike", "road", "a.jpg"}, "error.bike.posture", v{"bike": "road",
			"form": words.Key("usage.bike.form")}},
		{[]string{"measure", "--bike", "boat:40", "a.jpg"}, "error.bike", v{"bike": "boat:40",
			"why": of("use", v{"word": "boat", "known": uses})}},
		{[]string{"measure", "--overlay", "stock.csv/out", "a.jpg"}, "error.write.through_file",
			v{"path": "stock.csv/out"}},

		{[]string{"size"}, "usage.size.spacing", nil},
		{[]string{"size", "--spacing", "125"}, "usage.size.posture", nil},
		{[]string{"size", "--spacing", "125", "--trunk", "45", "--allowance", "9"}, "usage.posture.both", nil},
		{[]string{"size", "--spacing", "125", "--trunk", "45", "--stock", "stock.csv"}, "error.row.cell",
			v{"place": "stock.csv:2:1", "field": "width_mm", "value": "wide",
				"expected": of("row.number", v{"low": 60.0, "high": 400.0, "unit": "mm"})}},
		{[]string{"size", "--spacing", "125", "--trunk", "45", "--shop", "bad.yaml"}, "error.settings.fault",
			v{"place": "bad.yaml:1:15", "why": say("error.settings.at", v{"path": "rule.level",
				"why": of("level", v{"level": 95.0})})}},
		{[]string{"size", "--spacing", "125", "--trunk", "45", "--shop", "rows.yaml"}, "error.settings.fault",
			v{"place": "rows.yaml:1:33", "why": say("error.settings.at", v{"path": say("error.settings.row",
				v{"before": "allowance", "row": 1, "after": ".mm"}), "why": say("error.settings.range",
				v{"value": -1.0, "low": 0.0, "high": 100.0, "unit": " mm"})})}},
		{[]string{"size", "--spacing", "125", "--trunk", "45", "--stock", "empty.csv"}, "error.row",
			v{"place": "empty.csv:1", "expected": of("row.header", nil)}},

		{[]string{"frame"}, "usage.frame.out", nil},
		{[]string{"frame", "-o", "a.doc"}, "error.frame.ending", v{"file": "a.doc", "ending": ".doc"}},
		{[]string{"frame", "-o", "a.pdf", "--paper", "b5"}, "error.frame.paper", v{"word": "b5"}},
		{[]string{"frame", "-o", "a.pdf", "--dots", "9"}, "usage.frame.dots", v{"n": 9,
			"why": of("frame.dots", v{"n": 9, "most": 4})}},
		{[]string{"frame", "-o", "a.pdf", "--dots", "x"}, "usage.flag.value", v{"flag": "dots", "value": "x",
			"why": say("usage.flag.whole", nil)}},
		{[]string{"frame", "-o", "none/a.pdf"}, "error.no_folder", v{"path": "none"}},
		{[]string{"frame", "verfy"}, "usage.command.like_sub", v{"command": "sitspan frame", "word": "verfy",
			"like": words.Either{"verify"}}},
		{[]string{"frame", "verify"}, "usage.verify.bar", nil},
		{[]string{"frame", "verify", "--bar", "18"}, "error.bar.length", v{"bar": 200.0, "reading": 18.0,
			"low": 190.0, "high": 210.0}},
		{[]string{"frame", "verify", "--bar", "19,94"}, "error.bar.cm", v{"bar": 200.0, "reading": 19.94,
			"mm": 199.4}},

		{[]string{"known"}, "usage.known.distance", nil},
		{[]string{"known", "--distance", "12"}, "usage.known.cm", v{"d": 12.0, "mm": 120.0}},
		{[]string{"known", "export", "--data", "none"}, "usage.new_folder", v{"n": 0}},
		{[]string{"known", "export", "stock.csv"}, "error.there_already", v{"path": "stock.csv"}},
		{[]string{"known", "leave-out", "x", "--because", "y"}, "usage.leave_out.number", v{"text": "x"}},

		{[]string{"sheet"}, "usage.records", v{"n": 0}},
		{[]string{"sheet", "bad.json"}, "usage.sheet.out", nil},
		{[]string{"sheet", "bad.json", "-o", "a.pdf"}, "error.record.file", v{"path": "bad.json",
			"why": say("error.record.none", v{"why": say("error.record.json_short", v{"line": 2})})}},
		{[]string{"explain", "none.json"}, "error.read.missing", v{"path": "none.json",
			"what": words.Key("error.what.record")}},
		{[]string{"explain", "list.json"}, "error.record.file",
			v{"path": "list.json", "why": say("error.record.none",
				v{"why": say("error.record.json_object", v{"kind": words.Key("error.record.json_kind.array")})})}},
		{[]string{"explain", "bad.json", "--plot", "a.doc"}, "error.plot.ending", v{"file": "a.doc"}},

		{[]string{"audit"}, "usage.audit.folders", v{"n": 0}},
		{[]string{"audit", "none"}, "usage.audit.no_folder", v{"folder": "none"}},
		{[]string{"audit", "--shard", "x", "."}, "usage.shard", v{"why": say("error.shard", v{"text": "x"})}},
		{[]string{"audit", "--readings", "stock.csv", "."}, "error.readings.file", v{"name": "stock.csv",
			"why": say("error.readings.column", v{"header": "width_mm", "column": "file"})}},
		{[]string{"audit", "merge"}, "usage.merge.none", nil},
		{[]string{"audit", "merge", "--out", "o", "."}, "error.audit.none", v{"dir": ".",
			"why": &fs.PathError{Op: "open", Path: "audit.json", Err: syscall.ENOENT}}},

		{[]string{"desk", "--addr", "shop"}, "error.desk.address", v{"text": "shop"}},
		{[]string{"desk", "backup"}, "usage.new_folder", v{"n": 0}},
		{[]string{"desk", "backup", "copy", "--data", "none"}, "error.store.none", v{"dir": "none"}},
	}
}

// Wrong input is answered in the language of the terminal, by every command: the
// line is the key's text with its values, and in no two languages the same.
func TestTroubleIsToldInTheTerminalsLanguage(t *testing.T) {
	t.Chdir(t.TempDir())
	for name, text := range map[string]string{"stock.csv": "width_mm\nwide\n", "empty.csv": "",
		"bad.json":  "{\n",
		"list.json": "[1]", "bad.yaml": "rule: {level: 95}\n",
		"rows.yaml": "allowance: [{angle_deg: 15, mm: -1}]\n"} {
		require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	}
	commands := map[string]bool{}
	for _, w := range whatIsWrong() {
		commands[w.args[0]] = true
		lines := map[string]words.Lang{}
		for _, l := range words.Langs() {
			line := spoken(t, l, w.args)
			assert.Equal(t, "sitspan: "+l.Say(w.key, w.v), line, "%v", w.args)
			assert.NotRegexp(t, "englisch|anglais", line, "%v", w.args)
			lines[line] = l
		}
		assert.Len(t, lines, len(words.Langs()), "%v is told in a language of its own: %v", w.args, lines)
	}
	for _, c := range newProgram(io.Discard, io.Discard).rootCommand().Commands() {
		assert.True(t, commands[c.Name()] || c.Name() == workerName, "%s is called wrongly here, too", c.Name())
	}
}

// --lang counts wherever it stands, also before the command and after what is
// wrong; a word behind -- is none, and an unknown language is told in the
// terminal's.
func TestLangCountsWhereverItStands(t *testing.T) {
	for _, args := range [][]string{{"--lang", "de", "size"}, {"size", "--lang=de"},
		{"size", "--lang", "de", "--"}} {
		assert.Contains(t, spoken(t, words.French, args), "gebraucht wird", args)
	}
	got := spoken(t, words.French, []string{"measure", "--lang", "xx", "--", "--lang", "de"})
	want := words.Fault("error.language", words.Values{"word": "xx", "known": words.Either{"en", "de", "fr"}})
	assert.Equal(t, "sitspan: "+words.French.Error(want), got)
}

// A question is asked in the language, and takes its yes and the English one.
func TestQuestionsAreAskedInTheTerminalsLanguage(t *testing.T) {
	for _, tt := range []struct {
		lang   words.Lang
		answer string
		kept   bool
	}{
		{words.English, "y", true}, {words.German, "j", true}, {words.German, "Ja", true},
		{words.German, "y", true},
		{words.French, "o", true}, {words.French, "oui", true}, {words.French, "n", false},
		{words.English, "j", false},
		{words.German, "", false},
	} {
		t.Chdir(t.TempDir())
		var stdout, stderr bytes.Buffer
		p := newProgram(&stdout, &stderr)
		p.args = []string{"frame", "verify", "--bar", "194", "--lang", string(tt.lang)}
		root := p.rootCommand()
		root.SetArgs(p.args)
		root.SetIn(strings.NewReader(tt.answer + "\n"))
		status := p.exitStatus(t.Context(), root.ExecuteContext(t.Context()))
		doubt := words.Fault("error.bars.off", words.Values{"off": -3.0})
		asked := "sitspan: " + tt.lang.Say("terminal.verify.ask", words.Values{"why": doubt}) + "\n"
		assert.True(t, strings.HasPrefix(stderr.String(), asked), stderr.String())
		assert.Equal(t, tt.kept, status == exitMeasured, "%s to %s", tt.answer, tt.lang)
		if tt.kept {
			assert.Contains(t, stdout.String(), tt.lang.Text("terminal.verify.across"))
		}
	}
}

// What the system says is said in the language, with the file's name; a library's
// own text is marked as English.
func TestSystemsErrors(t *testing.T) {
	missing := &fs.PathError{Op: "open", Path: "a.jpg", Err: syscall.ENOENT}
	for err, want := range map[error]string{
		missing:                            "a.jpg: das gibt es nicht",
		fmt.Errorf("reading: %w", missing): "a.jpg: das gibt es nicht",
		syscall.ENOSPC:                     "der Datenträger ist voll",
		context.Canceled:                   "das wurde abgebrochen",
		errors.New("bad marker"):           "die Meldung ist englisch: bad marker",
		errors.Join(syscall.ENOSPC, errors.New("x"), syscall.ENOSPC): "der Datenträger ist voll\n" +
			"die Meldung ist englisch: x",
		words.Fault("error.plot", words.Values{"why": missing}): "die Grafik: a.jpg: das gibt es nicht",
	} {
		assert.Equal(t, want, words.German.Error(err), "%v", err)
		assert.Equal(t, words.German.Error(err), words.German.Error(words.Carry(err).Err()), "from another process")
	}
	assert.Equal(t, "a.jpg: there is no such file or folder", words.English.Error(missing))
	assert.ErrorIs(t, words.Fault("error.plot", words.Values{"why": missing}), fs.ErrNotExist)
	assert.Empty(t, words.German.Error(nil))
}

// Everything that a fault's values hold is of one line where a file's name has
// several.
func TestNamesInErrorsAreShownOnOneLine(t *testing.T) {
	name := filepath.Join("a\nb", "c\x1b[2J")
	err := words.Fault("usage.measure.name", words.Values{"name": name})
	for _, l := range words.Langs() {
		assert.NotContains(t, l.Error(err), "\n", l)
		assert.NotContains(t, l.Error(err), "\x1b", l)
	}
}
