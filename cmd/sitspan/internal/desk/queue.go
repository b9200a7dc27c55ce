package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"sitspan/cmd/sitspan/internal/record"
)

// queue runs jobs in child processes, few at a time, so that ten phones do not
// exhaust the memory: what waits is a name of a file, not a picture.
type queue struct {
	slots   chan struct{}
	waiting atomic.Int64
	limit   time.Duration
	command func(context.Context) *exec.Cmd
}

// The queue's bounds.
const (
	atOnce     = 2   // children at once
	mostQueued = 200 // jobs that may wait
	jobLimit   = 60 * time.Second
)

var errBusy = errors.New("too many photos are waiting to be measured: wait a minute and try again")

func newQueue(command func(context.Context) *exec.Cmd) *queue {
	return &queue{slots: make(chan struct{}, atOnce), limit: jobLimit, command: command}
}

// do waits for a place, runs the job in a child and gives its answer. A child
// that died, or took too long, costs this job only. early hears of the record
// before the pictures are drawn; nil for nobody.
func (q *queue) do(ctx context.Context, j job, early func(record.Record)) (done, error) {
	if q.waiting.Add(1) > mostQueued {
		q.waiting.Add(-1)
		return done{}, errBusy
	}
	defer q.waiting.Add(-1)
	select {
	case q.slots <- struct{}{}:
	case <-ctx.Done():
		return done{}, ctx.Err()
	}
	defer func() { <-q.slots }()
	return q.run(ctx, j, early)
}

func (q *queue) run(ctx context.Context, j job, early func(record.Record)) (done, error) {
	in, err := json.Marshal(j)
	if err != nil {
		return done{}, err
	}
	ctx, cancel := context.WithTimeout(ctx, q.limit)
	defer cancel()
	cmd := q.command(ctx)
	var words bytes.Buffer
	cmd.Stdin, cmd.Stderr = bytes.NewReader(in), &headOf{&words}
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
	cmd.WaitDelay = time.Second
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		return done{}, fmt.Errorf("a measuring process could not be started: %w", err)
	}
	answer, readErr := read(out, early)
	if readErr != nil {
		cancel() // it says nothing that can be used
	}
	if err := cmd.Wait(); err != nil {
		return done{}, lost(ctx, q.limit, err, words.String())
	}
	if readErr != nil {
		return done{}, fmt.Errorf("the measuring process answered with something else than a record: %w", readErr)
	}
	if answer.Error != "" {
		return answer, errors.New(answer.Error)
	}
	return answer, nil
}

// read reads a child's two answers.
func read(out io.Reader, early func(record.Record)) (done, error) {
	var first, second done
	answers := json.NewDecoder(out)
	if err := answers.Decode(&first); err != nil {
		return done{}, err
	}
	if first.Error != "" {
		return first, nil
	}
	if early != nil {
		early(first.Record)
	}
	if err := answers.Decode(&second); err != nil {
		return done{}, err
	}
	first.Pictures, first.Covered, first.Error = second.Pictures, second.Covered, second.Error
	return first, nil
}

// lost says how a child ended.
func lost(ctx context.Context, limit time.Duration, err error, words string) error {
	if errors.Is(ctx.Err(), context.DeadlineExceeded) {
		return fmt.Errorf("the measuring process was ended after %s without an answer", limit)
	}
	first, _, _ := strings.Cut(strings.TrimSpace(words), "\n")
	if first != "" {
		first = ": " + first
	}
	return fmt.Errorf("the measuring process ended (%v%s)", err, first)
}

// headOf keeps the first few kilobytes of what a child says.
type headOf struct{ b *bytes.Buffer }

// Write takes all and keeps what fits.
func (h *headOf) Write(p []byte) (int, error) {
	const most = 4096
	if room := most - h.b.Len(); room > 0 {
		h.b.Write(p[:min(room, len(p))])
	}
	return len(p), nil
}

// failedRecord is the record of a photo that no child could measure.
func failedRecord(version string, p jobPhoto, why error) record.Record {
	return record.Record{
		Schema: record.Schema, Tool: "sitspan", Version: version, MadeAt: now().UTC().Truncate(time.Second),
		Photos: []record.Photo{{Name: p.Name, SHA256: p.SHA}},
		Measurement: record.Measurement{Photo: p.Name, Status: record.Failed, Coverage: 0.95, Budget: []record.BudgetLine{},
			Reasons: []record.Reason{{Code: "process_ended", Message: why.Error(), Hint: "take the photo again; if it stays, send it as JPEG"}}},
	}
}
