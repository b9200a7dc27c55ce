package worker

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"time"

	"sitspan/cmd/sitspan/internal/words"
)

// ErrSettings is the error of settings that a child refused: no other child
// would take them either.
var ErrSettings = words.Fault("error.worker.settings_bad", nil)

// Lost is the error of a job whose child ended, or had to be ended.
type Lost struct {
	TimedOut bool
	After    time.Duration
	Why      string // the child's last words, or how it ended
}

func (e *Lost) Error() string { return e.said().Error() }

// Unwrap gives the error that has words in each language.
func (e *Lost) Unwrap() error { return e.said() }

func (e *Lost) said() error {
	if e.TimedOut {
		return words.Fault("error.worker.late", words.Values{"after": e.After.Round(time.Second)})
	}
	return words.Fault("error.worker.ended", words.Values{"why": e.Why})
}

// Hand is one place at the bench: a child process, started when it is needed
// and again where it died. It is for one goroutine at a time.
type Hand struct {
	// Command makes the child's command. Its input and outputs are the hand's.
	Command func() *exec.Cmd
	// Settings go to each child first.
	Settings Settings
	// Limit is the longest time for one job.
	Limit time.Duration
	// Early hears what a child knows before its answer is whole; nil for nobody.
	Early func(Answer)

	child *child
}

// child is a running process.
type child struct {
	cmd     *exec.Cmd
	in      io.WriteCloser
	out     *json.Decoder
	words   *firstWords
	stopped sync.Once
}

// Program is the command of this very program with the arguments given, in a
// process group of its own.
func Program(args ...string) func() *exec.Cmd {
	return func() *exec.Cmd {
		path, err := os.Executable()
		if err != nil {
			path = os.Args[0]
		}
		cmd := exec.Command(path, args...)
		cmd.Args[0] = os.Args[0]
		cmd.SysProcAttr = ownGroup()
		return cmd
	}
}

// Do gives a job to the child and waits for its answer. A *Lost error costs this
// job only: the next call starts a new child. ctx ends the wait, and the child.
func (h *Hand) Do(ctx context.Context, job Job) (Answer, error) {
	start := time.Now()
	ctx, cancel := context.WithTimeout(ctx, h.Limit)
	defer cancel()
	if err := h.start(ctx); err != nil {
		return Answer{}, h.lost(ctx, err, start)
	}
	c := h.child
	defer context.AfterFunc(ctx, c.kill)()
	err := json.NewEncoder(c.in).Encode(job)
	for err == nil {
		var a Answer
		if err = c.out.Decode(&a); err != nil {
			break
		}
		if !a.Early {
			return a, nil
		}
		if h.Early != nil {
			h.Early(a)
		}
	}
	return Answer{}, h.lost(ctx, err, start)
}

// start makes sure that there is a child which took the settings.
func (h *Hand) start(ctx context.Context) error {
	if h.child != nil {
		return nil
	}
	c := &child{cmd: h.Command(), words: &firstWords{}}
	c.cmd.Stderr, c.cmd.WaitDelay = c.words, time.Second
	if n := h.Settings.Threads; n > 0 {
		c.cmd.Env = append(c.cmd.Environ(), bounds(n)...)
	}
	out, err := c.cmd.StdoutPipe()
	if err == nil {
		c.in, err = c.cmd.StdinPipe()
	}
	if err == nil {
		err = c.cmd.Start()
	}
	if err != nil {
		return words.Fault("error.worker.start", words.Values{"what": ErrSettings, "why": err})
	}
	c.out = json.NewDecoder(bufio.NewReader(out))
	h.child = c
	defer context.AfterFunc(ctx, c.kill)()
	var first ready
	err = json.NewEncoder(c.in).Encode(h.Settings)
	if err == nil {
		err = c.out.Decode(&first)
	}
	if err == nil && first.Error != nil {
		err = words.Fault("error.worker.refused", words.Values{"what": ErrSettings, "why": first.Error.Err()})
	}
	return err
}

// bounds tell Go, OpenCV and OpenBLAS how many threads a child may have: each
// would else take as many as there are processors, in every child.
func bounds(threads int) (variables []string) {
	for _, name := range []string{"GOMAXPROCS", "OPENCV_FOR_THREADS_NUM", "OPENBLAS_NUM_THREADS"} {
		variables = append(variables, fmt.Sprintf("%s=%d", name, threads))
	}
	return variables
}

// lost ends the child and says how it went.
func (h *Hand) lost(ctx context.Context, err error, start time.Time) error {
	c := h.child
	h.child = nil
	if c != nil {
		c.kill()
		_ = c.cmd.Wait() // how it ended is in its state
	}
	switch {
	case errors.Is(err, ErrSettings):
		return err
	case errors.Is(ctx.Err(), context.Canceled):
		return ctx.Err()
	case ctx.Err() != nil:
		return &Lost{TimedOut: true, After: time.Since(start)}
	}
	return &Lost{Why: c.lastWords(err)}
}

// Close lets the child go when it has nothing in hand, and waits for it.
func (h *Hand) Close() error {
	if h.child == nil {
		return nil
	}
	c := h.child
	h.child = nil
	c.in.Close()
	return c.cmd.Wait()
}

func (c *child) kill() {
	c.stopped.Do(func() {
		if c.cmd.Process != nil {
			_ = c.cmd.Process.Kill() // it may be gone already
		}
	})
}

// lastWords are how the child ended, and what it wrote first of its trouble.
func (c *child) lastWords(err error) string {
	how := err.Error()
	if c.cmd.ProcessState != nil && !c.cmd.ProcessState.Success() {
		how = c.cmd.ProcessState.String()
	}
	for line := range strings.Lines(c.words.String()) {
		if line = strings.TrimSpace(line); line != "" {
			return how + ": " + line
		}
	}
	return how
}

// firstWords keeps the first few kilobytes that a child wrote to its standard error.
type firstWords struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

const wordsBytes = 4096

// Write keeps what fits; the beginning of a death's words tells most.
func (t *firstWords) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if room := wordsBytes - t.buf.Len(); room > 0 {
		t.buf.Write(b[:min(room, len(b))])
	}
	return len(b), nil
}

func (t *firstWords) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.buf.String()
}
