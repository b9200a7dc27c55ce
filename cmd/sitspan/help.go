package main

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sitspan/cmd/sitspan/internal/words"
)

// This file puts the words into the commands' help, which the commands
// themselves do not hold: they are found by the command's and the flag's name,
// and only when somebody asks for them.

// speakHelp has help printed in the terminal's language.
func (p *program) speakHelp(root *cobra.Command) {
	show := func(cmd *cobra.Command) {
		describe(root, p.language())
		fmt.Fprint(p.stdout, helpText(cmd, p.language()))
	}
	root.SetHelpFunc(func(cmd *cobra.Command, _ []string) { show(cmd) })
	root.SetHelpCommand(&cobra.Command{
		Use:               "help",
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			of, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return wrongUsage(root, "usage.help.topic", words.Values{"word": strings.Join(args, " ")})
			}
			of.InitDefaultHelpFlag()
			show(of)
			return nil
		},
	})
}

// describe puts a language's words into a command and all below it.
func describe(cmd *cobra.Command, lang words.Lang) {
	name := helpName(cmd)
	cmd.Use = strings.TrimSpace(cmd.Name() + " " + lang.Text("help."+name+".use"))
	cmd.DisableFlagsInUseLine = true
	cmd.Short = lang.Text("help." + name + ".short")
	cmd.Long = wrapped(optional(lang, name, "long"), proseWidth)
	cmd.Example = setIn(optional(lang, name, "example"))
	cmd.InitDefaultHelpFlag()
	known := words.Values{"known": strings.Join(languageCodes(), ", ")}
	cmd.LocalFlags().VisitAll(func(f *pflag.Flag) { f.Usage = lang.Say(flagKey(name, f.Name), known) })
	for _, below := range cmd.Commands() {
		describe(below, lang)
	}
}

// helpName is a command in the keys of its texts: frame_verify.
func helpName(cmd *cobra.Command) string {
	if !cmd.HasParent() {
		return cmd.Name()
	}
	_, path, _ := strings.Cut(cmd.CommandPath(), " ")
	return strings.ReplaceAll(path, " ", "_")
}

// flagKey is the key of a flag's text: its own with a command, or the one that
// it has wherever it is.
func flagKey(command, flag string) string {
	if key := "help." + command + ".flag." + flag; words.Has(words.English, key) {
		return key
	}
	return "help.flag." + flag
}

// optional is a text that a command need not have.
func optional(lang words.Lang, command, part string) string {
	key := "help." + command + "." + part
	if !words.Has(words.English, key) {
		return ""
	}
	return lang.Text(key)
}

// setIn sets each line in by two spaces.
func setIn(text string) string {
	if text == "" {
		return ""
	}
	return "  " + strings.ReplaceAll(text, "\n", "\n  ")
}

// The longest lines of a help text, in letters.
const (
	proseWidth = 79
	flagsWidth = 100
)

// helpText is a command's help, once describe has put its words in.
func helpText(cmd *cobra.Command, lang words.Lang) string {
	var b strings.Builder
	say := func(head, body string) { fmt.Fprintf(&b, "\n%s\n%s\n", lang.Text("help.head."+head), body) }
	b.WriteString(cmd.Long)
	if cmd.Long == "" {
		b.WriteString(wrapped(cmd.Short, proseWidth))
	}
	b.WriteString("\n")
	usage := "  " + cmd.UseLine()
	if cmd.HasAvailableSubCommands() {
		usage += "\n  " + cmd.CommandPath() + " " + lang.Text("help.any_command")
	}
	say("usage", usage)
	if cmd.Example != "" {
		say("examples", cmd.Example)
	}
	if cmd.HasAvailableSubCommands() {
		say("commands", commandsText(cmd))
	}
	if cmd.HasAvailableLocalFlags() {
		say("flags", flagsText(cmd.LocalFlags(), lang))
	}
	if cmd.HasAvailableInheritedFlags() {
		say("global", flagsText(cmd.InheritedFlags(), lang))
	}
	if cmd.HasAvailableSubCommands() {
		fmt.Fprintf(&b, "\n%s\n", lang.Say("help.more", words.Values{"command": cmd.CommandPath()}))
	}
	return b.String()
}

// commandsText lists the commands below one.
func commandsText(cmd *cobra.Command) string {
	var rows [][2]string
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() || c.Name() == "help" {
			rows = append(rows, [2]string{"  " + c.Name(), c.Short})
		}
	}
	return columns(rows)
}

// flagsText lists flags with what each takes, is for, and is without it.
func flagsText(flags *pflag.FlagSet, lang words.Lang) string {
	var rows [][2]string
	flags.VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		takes, usage := pflag.UnquoteUsage(f)
		name := "      --" + f.Name
		if f.Shorthand != "" {
			name = "  -" + f.Shorthand + ", --" + f.Name
		}
		switch f.DefValue {
		case "", "0", "false", "[]":
		default:
			usage += " " + lang.Say("help.default", words.Values{"value": f.DefValue})
		}
		rows = append(rows, [2]string{strings.TrimRight(name+" "+takes, " "), usage})
	})
	return columns(rows)
}

// columns sets texts beside their names, wrapped beside them.
func columns(rows [][2]string) string {
	left := 0
	for _, r := range rows {
		left = max(left, utf8.RuneCountInString(r[0])+3)
	}
	lines := make([]string, len(rows))
	for i, r := range rows {
		name := r[0] + strings.Repeat(" ", left-utf8.RuneCountInString(r[0]))
		text := wrapped(r[1], flagsWidth-left)
		lines[i] = name + strings.ReplaceAll(text, "\n", "\n"+strings.Repeat(" ", left))
	}
	return strings.Join(lines, "\n")
}

// wrapped breaks lines between words; a line that begins with a space is left as
// it is. A no-break space does not end a word.
func wrapped(text string, width int) string {
	var out []string
	for line := range strings.SplitSeq(text, "\n") {
		if strings.HasPrefix(line, " ") {
			out = append(out, line)
			continue
		}
		begun := ""
		for word := range strings.SplitSeq(line, " ") {
			switch longer := begun + " " + word; {
			case begun == "":
				begun = word
			case utf8.RuneCountInString(longer) <= width:
				begun = longer
			default:
				out, begun = append(out, begun), word
			}
		}
		out = append(out, begun)
	}
	return strings.Join(out, "\n")
}
