package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"sitspan/cmd/sitspan/internal/audit"
	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/cmd/sitspan/internal/worker"
	"sitspan/fit"
)

// openBenchWorker is the bench's worker: its photos are record files. One that
// says "crash" ends it as an exception in OpenCV would, one that says "slow"
// takes a while.
func openBenchWorker(worker.Settings) (worker.Measurer, error) {
	return func(job worker.Job) worker.Answer {
		path := string(job.Path)
		text, err := os.ReadFile(path)
		if bytes.HasPrefix(text, []byte("crash")) {
			fmt.Fprintln(os.Stderr, "terminate called after throwing an instance of 'cv::Exception'")
			os.Exit(134)
		}
		if strings.Contains(filepath.Base(path), "slow") {
			time.Sleep(300 * time.Millisecond)
		}
		o := readOutcome(path)
		if err != nil || len(o.Record.Photos) == 0 {
			return worker.Answer{Record: o.Record}
		}
		sum := sha256.Sum256(text)
		o.Record.Photos[0].SHA256, o.Record.Reviews = hex.EncodeToString(sum[:]), nil
		for _, name := range []string{job.Overlay, job.Thumbnail} {
			picture, err := o.Overlay(160, words.English)
			var b bytes.Buffer
			if err == nil {
				err = jpeg.Encode(&b, picture, nil)
			}
			if err == nil {
				err = os.WriteFile(name, b.Bytes(), 0o644)
			}
			if err != nil {
				return worker.Answer{Record: o.Record, OverlayError: err.Error()}
			}
		}
		return worker.Answer{Record: o.Record}
	}, nil
}

func TestResumeCommand(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"/usr/bin/sitspan", "audit", "imprints"}, "sitspan audit --resume imprints"},
		{[]string{"sitspan", "audit", "--out", "a b", "it's"}, `sitspan audit --resume --out 'a b' 'it'\''s'`},
		{[]string{"sitspan", "audit", "--resume", "x"}, "sitspan audit --resume x"},
	} {
		assert.Equal(t, c.want, resumeCommand(c.args))
	}
}

// A worker that is asked through its own command measures, and says so in lines.
func TestWorkerCommandRefusesSettings(t *testing.T) {
	measure, err := openMeasurer(worker.Settings{Medium: "wood"})
	assert.Nil(t, measure)
	assert.ErrorContains(t, err, "wood")
	_, err = openMeasurer(worker.Settings{Shop: filepath.Join(t.TempDir(), "none.yaml")})
	assert.True(t, errors.Is(err, os.ErrNotExist), "%v", err)
}

// BenchmarkAudit audits the bundled photos and prints photos a second and the
// share of the workers' time that reading and decoding took:
//
//	go test -run '^$' -bench Audit -benchtime 3x ./cmd/sitspan
func BenchmarkAudit(b *testing.B) {
	photos, err := filepath.Glob("../../testdata/photos/*.jpg")
	if err != nil || len(photos) == 0 {
		b.Fatal("there are no photos to audit", err)
	}
	folder := b.TempDir()
	for _, path := range photos {
		data, err := os.ReadFile(path)
		if err == nil {
			err = os.WriteFile(filepath.Join(folder, filepath.Base(path)), data, 0o644)
		}
		if err != nil {
			b.Fatal(err)
		}
	}
	for _, workers := range []int{1, 2} {
		b.Run(fmt.Sprintf("%d_workers", workers), func(b *testing.B) {
			auditPhotos(b, folder, workers,
				len(photos))
		})
	}
}

func auditPhotos(b *testing.B, folder string, workers, photos int) {
	settings := worker.Settings{Threads: 1}
	var seconds, decoding float64
	for b.Loop() {
		a, err := audit.Run(b.Context(), audit.Plan{
			Folder: folder, Out: filepath.Join(b.TempDir(), "out"),
			Review: audit.Review{Advisor: fit.DefaultAdvisor()},
			Bench: archive.Bench{Workers: workers, NewHand: func() *worker.Hand {
				return &worker.Hand{Command: worker.Program(workerName), Settings: settings, Limit: photoLimit}
			}},
		})
		if err != nil {
			b.Fatal(err)
		}
		if a.Throughput.Photos != photos {
			b.Fatalf("%d of %d photos were measured", a.Throughput.Photos, photos)
		}
		seconds, decoding = seconds+a.Throughput.Seconds, decoding+a.Throughput.DecodeSeconds
	}
	b.ReportMetric(float64(b.N*photos)/b.Elapsed().Seconds(), "photos/s")
	b.ReportMetric(100*decoding/seconds, "%decoding")
}
