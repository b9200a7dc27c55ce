package main

import (
	"bytes"
	"io"
	"maps"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/words"
)

// everyCommand are all commands, hidden ones and the library's too.
func everyCommand() (all []*cobra.Command) {
	root := newProgram(io.Discard, io.Discard).rootCommand()
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		c.InitDefaultHelpFlag()
		all = append(all, c)
		for _, below := range c.Commands() {
			walk(below)
		}
	}
	walk(root)
	return all
}

// Each command and each flag has its text, in every language; and every text of
// the help is some command's. The commands hold no prose of their own.
func TestEveryCommandAndFlagHasItsHelp(t *testing.T) {
	unused := map[string]bool{}
	for _, key := range words.Keys(words.English) {
		if strings.HasPrefix(key, "help.") {
			unused[key] = true
		}
	}
	for _, key := range []string{"any_command", "more", "default", "head.usage", "head.examples",
		"head.commands",
		"head.flags", "head.global"} {
		delete(unused, "help."+key)
	}
	has := func(key string) {
		delete(unused, key)
		for _, l := range words.Langs() {
			assert.True(t, words.Has(l, key), "%s lacks %s", l, key)
		}
	}
	commands := everyCommand()
	require.Greater(t, len(commands), 20)
	for _, c := range commands {
		name := helpName(c)
		ours := !strings.HasPrefix(name, "completion")
		assert.True(t, !ours || c.Short+c.Long+c.Example == "", "%s: its words belong into words/lang", name)
		has("help." + name + ".use")
		has("help." + name + ".short")
		for _, part := range []string{"long", "example"} {
			delete(unused, "help."+name+"."+part)
		}
		c.LocalFlags().VisitAll(func(f *pflag.Flag) {
			assert.True(t, !ours || f.Name == "help" || f.Usage == "",
				"%s --%s: its words belong into words/lang", name, f.Name)
			has(flagKey(name, f.Name))
		})
	}
	assert.Empty(t, slices.Sorted(maps.Keys(unused)), "help of a command or flag that there is not")
}

// What --help prints fits a terminal of 100 columns, is in one language, and
// shows every flag.
func TestHelpInEveryLanguage(t *testing.T) {
	for _, l := range words.Langs() {
		for _, c := range everyCommand() {
			args := append(strings.Fields(c.CommandPath())[1:], "--help", "--lang", string(l))
			var stdout, stderr bytes.Buffer
			require.Equal(t, exitMeasured, run(t.Context(), args, &stdout, &stderr), args)
			assert.Empty(t, stderr.String(), args)
			text := stdout.String()
			for line := range strings.Lines(text) {
				assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimRight(line, "\n")), 100, "%v: %s", args, line)
			}
			c.LocalFlags().VisitAll(func(f *pflag.Flag) { assert.Contains(t, text, "--"+f.Name, args) })
			assert.Contains(t, text, l.Text("help.head.usage"), args)
			assert.NotContains(t, text, "help.", "%v: a key without a text", args)
			if l == words.English {
				continue
			}
			for _, english := range []string{"Usage:", "Flags:", "Commands:", "Examples:", "[flags]", "(default",
				" the ", " of "} {
				assert.NotContains(t, text, english, args)
			}
		}
	}
}

// Each example is a command of this program, with flags that it has and values
// that they take, in every language.
func TestExamplesAreCommands(t *testing.T) {
	seen := 0
	for _, l := range words.Langs() {
		for _, c := range everyCommand() {
			examples := strings.ReplaceAll(optional(l, helpName(c), "example"), "\\\n", "")
			for line := range strings.Lines(examples) {
				args := shellWords(strings.TrimSpace(line))
				require.Equal(t, "sitspan", args[0], line)
				root := newProgram(io.Discard, io.Discard).rootCommand()
				of, rest, err := root.Find(args[1:])
				require.NoError(t, err, line)
				assert.True(t, of.Name() == c.Name() || of.Parent().Name() == c.Name(), line)
				assert.NoError(t, of.ParseFlags(rest), line)
				seen++
			}
		}
	}
	assert.Greater(t, seen, 90)
}

// shellWords takes a line apart as a shell does that knows double quotes only.
func shellWords(line string) (all []string) {
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			all = append(all, part)
			continue
		}
		all = append(all, strings.Fields(part)...)
	}
	return all
}

func TestWrapped(t *testing.T) {
	assert.Equal(t, "one two\nthree\n\n  a list stays\nfour",
		wrapped("one two three\n\n  a list stays\nfour", 8))
	assert.Equal(t, "a\u00a0: b\nc", wrapped("a\u00a0: b c", 5), "a no-break space holds its words together")
	assert.Equal(t, "longer than that\nb"[:16], wrapped("longer than that", 16))
	assert.Equal(t, "äöü äöü", wrapped("äöü äöü", 7), "letters are counted, not bytes")
}

// A slip in the name of a command that help is asked on.
func TestHelpOnWhatThereIsNot(t *testing.T) {
	var stdout, stderr bytes.Buffer
	assert.Equal(t, exitUsage, run(t.Context(), []string{"help", "frame", "verfy", "--lang", "de"}, &stdout,
		&stderr))
	assert.Empty(t, stdout.String())
	assert.Contains(t, stderr.String(), "zu „frame verfy“ gibt es keine Hilfe")
}
