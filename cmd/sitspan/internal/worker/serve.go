package worker

import (
	"bufio"
	"encoding/json"
	"io"

	"sitspan/cmd/sitspan/internal/words"
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
		return words.Fault("error.worker.settings", words.Values{"why": err})
	}
	measure, err := openUnder(s, open)
	if err != nil {
		return answers.Encode(ready{Error: words.Carry(err)})
	}
	if err := answers.Encode(ready{}); err != nil {
		return err
	}
	for {
		var job Job
		if err := lines.Decode(&job); err == io.EOF {
			return nil
		} else if err != nil {
			return words.Fault("error.worker.job", words.Values{"why": err})
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
			return nil, words.Fault("error.worker.time", words.Values{"why": err})
		}
	}
	return open(s)
}
