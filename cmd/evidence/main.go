// Command evidence makes the tables of docs/evidence.md again: it measures sets of photos whose truth is
// known with a built program, and writes a table a set, as Markdown, to standard output.
//
//	evidence [-program bin/sitspan] [-gauge] [-jobs 2] SET...
//	evidence -baseline SET
//
// A SET is a folder of photos with a truth.jsonl; see testdata/make/README.md. With -baseline it writes what
// the program came to into baseline.json beside the one set, for the test that holds later programs to it.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"time"

	"sitspan/cmd/internal/evidence"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "evidence:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, stdout io.Writer) error {
	flags := flag.NewFlagSet("evidence", flag.ContinueOnError)
	var o evidence.Options
	flags.StringVar(&o.Program, "program", "bin/sitspan", "the built program")
	flags.BoolVar(&o.Gauge, "gauge", false, "read foam once more with its depths as a gauge gives them")
	flags.IntVar(&o.Workers, "jobs", 2, "photos at once")
	keep := flags.Bool("baseline", false, "write baseline.json beside the set")
	if err := flags.Parse(args); err != nil {
		return err
	}
	sets := flags.Args()
	if len(sets) == 0 || *keep && len(sets) != 1 {
		return errors.New("needed: folders of photos with a truth.jsonl; for -baseline one")
	}
	commit, err := version(ctx, o.Program)
	if err != nil {
		return err
	}
	today := time.Now()
	fmt.Fprintf(stdout, "Made on %s with version %s; lengths in mm.\n", today.Format(time.DateOnly), commit)
	for _, set := range sets {
		results, err := evidence.Measure(ctx, set, set, o)
		if err != nil {
			return err
		}
		fmt.Fprintf(stdout, "\n## %s\n\n", filepath.Base(filepath.Clean(set)))
		if err := evidence.Markdown(stdout, results); err != nil {
			return err
		}
		if *keep {
			return write(filepath.Join(set, "baseline.json"), evidence.NewBaseline(today, commit, results))
		}
	}
	return nil
}

// version is what the program calls itself: the commit that it was built from.
func version(ctx context.Context, program string) (string, error) {
	out, err := exec.CommandContext(ctx, program, "version").Output()
	if err != nil {
		return "", fmt.Errorf("the program to be judged (make build makes it): %w", err)
	}
	words := strings.Fields(string(out))
	if len(words) < 2 || words[0] != "sitspan" {
		return "", fmt.Errorf("%s does not call itself sitspan", program)
	}
	return words[1], nil
}

// write keeps the baseline as JSON that a person can compare line by line.
func write(path string, b evidence.Baseline) error {
	data, err := json.MarshalIndent(b, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(path, append(data, '\n'), 0o644)
}
