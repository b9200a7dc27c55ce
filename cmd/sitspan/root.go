package main

import (
	"strings"

	"sitspan/cmd/sitspan/internal/words"

	"github.com/spf13/cobra"
)

const rootLong = `sitspan measures the distance between a rider's sit bones on a photo of a seat
imprint, says how sure it is, and chooses a saddle's width from your stock.

  1. sitspan frame -o frame.pdf      print the control frame, once
  2. sitspan frame verify --bar MM   tell how large your printer made it
  3. The rider sits on foam, gel or pressure-marking paper.
  4. Lay the frame on the imprint and photograph it from above, from about 1 m,
     zoomed in, with a lamp low to one side.
  5. sitspan measure --trunk DEG --overlay out --record out PHOTO
  6. sitspan sheet RECORD -o sheet.pdf

"sitspan desk" opens all this as a page in the browser; "sitspan audit" measures
a folder of old imprints again; "sitspan known" checks pad, light, phone and
printer against a distance that you know.

It advises a fitter and diagnoses nobody: numbness, pain or one-sided load
belong to a physician or physiotherapist, and the limits that the makers of
saddle, seat post and frame give always hold.

Results go to stdout; errors, warnings and hints to stderr. Exit status:
0 measured, 1 failure, 2 wrong usage, 3 refused or to be reviewed.`

func (p *program) rootCommand() *cobra.Command {
	version := false
	root := &cobra.Command{
		Use:           "sitspan",
		Short:         "From a photo of a seat imprint to a saddle's width",
		Long:          rootLong,
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
		return misuse(cmd, flagFault(cmd, err))
	})
	root.Flags().BoolVar(&version, "version", false, "tell the tool's version, as the command version does")
	registerLang(root)
	root.AddCommand(p.deskCommand())
	root.AddCommand(p.auditCommand(), p.workerCommand())
	root.AddCommand(p.frameCommand(), p.measureCommand(), p.knownDistanceCommand(), p.sizeCommand())
	root.AddCommand(p.sheetCommand(), p.explainCommand(), p.versionCommand(), p.manualCommand())
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
