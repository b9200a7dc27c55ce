package main

import (
	"strings"

	"sitspan/cmd/sitspan/internal/words"

	"github.com/spf13/cobra"
)

func (p *program) rootCommand() *cobra.Command {
	version := false
	root := &cobra.Command{
		Use:           "sitspan",
		SilenceErrors: true,
		SilenceUsage:  true,

		SuggestionsMinimumDistance: 2,
		Args:                       p.knownCommand,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if version {
				p.tellVersion()
				return nil
			}
			return wrongUsage(cmd, "usage.command.none", words.Values{"known": commandNames(cmd)})
		},
	}
	root.SetOut(p.stdout)
	root.SetErr(p.stderr)
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return misuse(cmd, flagFault(cmd, err, p.language()))
	})
	root.Flags().BoolVar(&version, "version", false, "")
	registerLang(root)
	root.AddCommand(p.deskCommand())
	root.AddCommand(p.auditCommand(), p.workerCommand())
	root.AddCommand(p.frameCommand(), p.measureCommand(), p.knownDistanceCommand(), p.sizeCommand())
	root.AddCommand(p.sheetCommand(), p.explainCommand(), p.versionCommand(), p.manualCommand())
	p.speakHelp(root)
	return root
}

// wrongUsage is an error in how a command was called, by a key of words.
func wrongUsage(cmd *cobra.Command, key string, v words.Values) error {
	return misuse(cmd, words.Fault(key, v))
}

// misuse is what was wrong with a flag or an argument, as whoever read it says.
func misuse(cmd *cobra.Command, err error) error { return &usageError{err, cmd.CommandPath()} }

// noArguments refuses anything but flags.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	cmd.SuggestionsMinimumDistance = cmd.Root().SuggestionsMinimumDistance
	if like := cmd.SuggestionsFor(args[0]); len(like) > 0 {
		return wrongUsage(cmd, "usage.command.like_sub", words.Values{
			"command": cmd.CommandPath(), "word": args[0], "like": words.Either(like),
		})
	}
	return wrongUsage(cmd, "usage.arguments", words.Values{"word": args[0], "command": cmd.CommandPath()})
}

// knownCommand refuses a command that there is not, and names those alike.
func (p *program) knownCommand(root *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	like := root.SuggestionsFor(args[0])
	if len(like) == 0 {
		return wrongUsage(root, "usage.command.unknown", words.Values{
			"word": args[0], "known": commandNames(root),
		})
	}
	return wrongUsage(root, "usage.command.like", words.Values{
		"word": args[0], "like": words.Either(like),
	})
}

func commandNames(root *cobra.Command) string {
	var names []string
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() {
			names = append(names, c.Name())
		}
	}
	return strings.Join(names, ", ")
}
