package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/cmd/sitspan/internal/worker"
)

// Exit statuses; scripts depend on them.
const (
	exitMeasured = 0
	exitFailure  = 1
	exitUsage    = 2
	exitReview   = 3 // refused, or to be reviewed
)

// usageError is an error in how the program was called.
type usageError struct {
	err  error
	help string // the command whose --help tells more
}

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }

// statusError ends the program with a status other than 0 when everything that
// there is to say was said.
type statusError int

func (e statusError) Error() string { return fmt.Sprintf("exit status %d", int(e)) }

// program is what a run of the program writes to, and what it measures with.
type program struct {
	args   []string // as the caller gave them
	stdout *checkedWriter
	stderr io.Writer
	open   func(intake.Options) (*station, error)

	openWorker func(worker.Settings) (worker.Measurer, error) // nil for the real one
}

func newProgram(stdout, stderr io.Writer) *program {
	return &program{stdout: &checkedWriter{w: stdout}, stderr: stderr, open: openStation}
}

// checkedWriter remembers the first error, so that a full disk behind
// "> results.txt" does not pass in silence.
type checkedWriter struct {
	w   io.Writer
	err error
}

func (c *checkedWriter) Write(b []byte) (int, error) {
	if c.err != nil {
		return 0, c.err
	}
	n, err := c.w.Write(b)
	c.err = err
	return n, err
}

// widestLine is how many characters a line has at the most that a person reads.
const widestLine = 99

// say writes a text to stderr, the program's name before each line. A file or a program gets each message in
// one line; at a terminal it is broken between words.
func (p *program) say(text string) {
	for line := range strings.Lines(strings.TrimRight(text, "\n")) {
		if line = strings.TrimRight(line, " \n"); line == "" {
			continue
		}
		line = "sitspan: " + line
		if isTerminal(p.stderr) {
			line = strings.ReplaceAll(wrapped(line, widestLine-2), "\n", "\n  ")
		}
		fmt.Fprintln(p.stderr, line)
	}
}

// tell writes a text of words to stderr, in the language of the terminal.
func (p *program) tell(key string, v words.Values) { p.say(p.language().Say(key, v)) }

// exitStatus tells the error, if there is one to tell, and gives the status.
func (p *program) exitStatus(ctx context.Context, err error) int {
	if p.stdout.err != nil {
		p.tell("error.results", words.Values{"why": p.stdout.err})
		return exitFailure
	}
	var status statusError
	var usage *usageError
	switch {
	case err == nil:
		return exitMeasured
	case errors.As(err, &status):
		return int(status)
	case errors.As(err, &usage):
		p.say(p.language().Error(usage.err))
		p.hint(p.language(), "usage.help", words.Values{"command": usage.help})
		return exitUsage
	case ctx.Err() != nil:
		p.tell("error.interrupted", nil)
		return exitFailure
	}
	p.say(p.language().Error(err))
	return exitFailure
}

// worst joins the statuses of several photos: 1 before 3 before 0.
func worst(a, b int) int {
	rank := map[int]int{exitMeasured: 0, exitReview: 1, exitFailure: 2}
	if rank[b] > rank[a] {
		return b
	}
	return a
}
