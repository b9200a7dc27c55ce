package main

import (
	"fmt"
	"strings"

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
			return wrongUsage(cmd, "no command was given; needed: one of %s", commandNames(cmd))
		},
	}
	root.SetOut(p.stdout)
	root.SetErr(p.stderr)
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return &usageError{flagFault(cmd, err), cmd.CommandPath()}
	})
	root.Flags().BoolVar(&version, "version", false, "tell the tool's version, as the command version does")
	root.AddCommand(p.deskCommand())
	root.AddCommand(p.auditCommand(), p.workerCommand())
	root.AddCommand(p.frameCommand(), p.measureCommand(), p.knownDistanceCommand(), p.sizeCommand())
	root.AddCommand(p.sheetCommand(), p.explainCommand(), p.versionCommand(), p.manualCommand())
	return root
}

// wrongUsage is an error in how a command was called.
func wrongUsage(cmd *cobra.Command, format string, args ...any) error {
	return &usageError{fmt.Errorf(format, args...), cmd.CommandPath()}
}

// noArguments refuses anything but flags.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	cmd.SuggestionsMinimumDistance = cmd.Root().SuggestionsMinimumDistance
	if like := cmd.SuggestionsFor(args[0]); len(like) > 0 {
		return wrongUsage(cmd, "%s knows no %q; did you mean %s?", cmd.CommandPath(), args[0],
			strings.Join(like, " or "))
	}
	return wrongUsage(cmd, "%q is not understood: %s takes flags only", args[0], cmd.CommandPath())
}

// knownCommand refuses a command that there is not, and names those alike.
func (p *program) knownCommand(root *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	like := root.SuggestionsFor(args[0])
	if len(like) == 0 {
		return wrongUsage(root, "there is no command %q; needed: one of %s", args[0], commandNames(root))
	}
	return wrongUsage(root, "there is no command %q; did you mean %s?", args[0], strings.Join(like, " or "))
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
