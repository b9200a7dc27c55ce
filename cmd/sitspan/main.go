// Command sitspan measures the distance between the sit bones on a photo of a
// seat imprint, and chooses a saddle's width by it.
//
// This package only wires: each command has a file, reads its flags, calls the
// packages that do the work, and says what came out. Its contract, on which
// scripts depend:
//
//   - Results go to stdout. Errors, warnings and hints go to stderr, each line
//     with "sitspan: " before it.
//   - Exit status 0: measured. 1: failure. 2: wrong usage. 3: refused, or to be
//     reviewed by a person. Of several photos the worst, in the order 1, 3, 0.
//   - A file appears whole or not at all.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends the program at once
	os.Exit(run(ctx, os.Args[1:], standardOutput(), os.Stderr))
}

// run is the program without its process: it returns the exit status.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	p := newProgram(stdout, stderr)
	p.args = args
	root := p.rootCommand()
	root.SetArgs(args)
	if len(args) > 0 && args[0] == cobra.ShellCompRequestCmd {
		root.InitDefaultHelpCmd()
		root.InitDefaultCompletionCmd()
		describe(root, p.language())
	}
	return p.exitStatus(ctx, root.ExecuteContext(ctx))
}
