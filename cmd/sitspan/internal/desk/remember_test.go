package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"time"

	"sitspan/cmd/sitspan/internal/worker"
)

// answersIn is the folder of what the children of this run have answered; its variable tells it to them.
var answersIn string

const answersVariable = "SITSPAN_TEST_ANSWERS"

// remembering makes a child that measures what no child of this run has measured: to the same photos under
// the same settings it gives the same answer again, of this moment. It is the tests' only; each photo that
// they use is still measured, once, by the very program.
func remembering(dir string, open func(worker.Settings) (worker.Measurer, error),
) func(worker.Settings) (worker.Measurer, error) {
	return func(s worker.Settings) (worker.Measurer, error) {
		measure, err := open(s)
		if err != nil {
			return nil, err
		}
		return func(job worker.Job) worker.Answer {
			key, err := sameJob(s, job)
			if err != nil {
				return measure(job)
			}
			path := filepath.Join(dir, key)
			if a, ok := remembered(path, job); ok {
				return a
			}
			a := measure(job)
			remember(path, a)
			return a
		}, nil
	}
}

// sameJob names a job by all that its answer rests on: the settings, and each file by its content.
func sameJob(s worker.Settings, job worker.Job) (string, error) {
	byContent := func(path *string) error {
		data, err := os.ReadFile(*path)
		sum := sha256.Sum256(data)
		*path = hex.EncodeToString(sum[:])
		return err
	}
	if s.Shop != "" {
		if err := byContent(&s.Shop); err != nil {
			return "", err
		}
	}
	var sittings [][]worker.Photo
	for _, photos := range job.Sittings {
		var named []worker.Photo
		for _, p := range photos {
			if err := byContent(&p.Path); err != nil {
				return "", err
			}
			named = append(named, p)
		}
		sittings = append(sittings, named)
	}
	job.Sittings = sittings
	text, err := json.Marshal(struct {
		Settings worker.Settings
		Job      worker.Job
	}{s, job})
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), err
}

// remembered is an answer from a file, told as the measurement tells it: the record before the pictures.
func remembered(path string, job worker.Job) (worker.Answer, bool) {
	var a worker.Answer
	text, err := os.ReadFile(path)
	if err != nil || json.Unmarshal(text, &a) != nil {
		return worker.Answer{}, false
	}
	a.Record.MadeAt = time.Now().UTC().Truncate(time.Second)
	return a, job.Bare || job.Early(worker.Answer{Record: a.Record}) == nil
}

// remember keeps an answer; where it cannot be kept, it is made again.
func remember(path string, a worker.Answer) {
	text, err := json.Marshal(a)
	if err != nil || a.Error != nil {
		return
	}
	f, err := os.CreateTemp(filepath.Dir(path), "new")
	if err != nil {
		return
	}
	_, err = f.Write(text)
	if errors.Join(err, f.Close()) == nil {
		_ = os.Rename(f.Name(), path) // another child's, of the same job, is as good
	}
}
