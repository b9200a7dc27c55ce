package worker

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
)

// Measurer does a child's jobs, one after another.
type Measurer func(Job) Answer

// Serve is a child's life: it reads settings and then jobs from in, and writes
// an answer for each to out, until in ends. Trouble with the settings goes to
// the parent, too.
func Serve(in io.Reader, out io.Writer, open func(Settings) (Measurer, error)) error {
	lines, answers := json.NewDecoder(bufio.NewReader(in)), json.NewEncoder(out)
	var s Settings
	if err := lines.Decode(&s); err != nil {
		return fmt.Errorf("a worker's settings: %w", err)
	}
	measure, err := openUnder(s, open)
	if err != nil {
		return answers.Encode(ready{Error: err.Error()})
	}
	if err := answers.Encode(ready{}); err != nil {
		return err
	}
	for {
		var job Job
		if err := lines.Decode(&job); err == io.EOF {
			return nil
		} else if err != nil {
			return fmt.Errorf("a worker's job: %w", err)
		}
		job.early = func(a Answer) error { return answers.Encode(a) }
		if err := answers.Encode(measure(job)); err != nil {
			return err
		}
	}
}

// openUnder bounds this process before it opens anything.
func openUnder(s Settings, open func(Settings) (Measurer, error)) (Measurer, error) {
	if s.CPUSeconds > 0 {
		if err := limitProcessorTime(s.CPUSeconds); err != nil {
			return nil, fmt.Errorf("the processor time cannot be limited: %w", err)
		}
	}
	return open(s)
}
