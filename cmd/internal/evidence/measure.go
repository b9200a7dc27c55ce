package evidence

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os/exec"
	"sync"
)

// The ways in which a set is read.
const (
	Alone    = "each photo alone"
	Together = "photos of an imprint together"
	gauged   = ", with a depth gauge"
)

// Result is what the program said of a photo, or of the photos of an imprint, beside the truth.
type Result struct {
	Set, Reading, Pad, Shape string
	Photo                    string  // the first
	Status                   string  // as the program prints it; "crashed" where it printed nothing
	Code                     string  // of the first reason
	Error, U                 float64 // mm; NaN where there is no number
	Heights                  float64 // rms error of the surface, mm; NaN where none is known or none was read
}

// Accepted says whether the program stands by the number.
func (r Result) Accepted() bool { return r.Status == "measured" }

// Inside says whether the truth lies inside U.
func (r Result) Inside() bool { return math.Abs(r.Error) <= r.U }

// Options are how sets are read.
type Options struct {
	Program string // the built program's path
	Gauge   bool   // foam once more, with its depths to a whole mm, as a gauge gives them
	Workers int    // programs at once, one at the least
}

// task is one call of the program.
type task struct {
	reading string
	photos  []Photo
	gauge   bool
}

// Measure reads a set: each photo alone, and the photos of an imprint together where it has several. The
// order is the set's. An error is one of the set or of the program's path; what goes wrong with a photo is a
// result.
func Measure(ctx context.Context, set, folder string, o Options) ([]Result, error) {
	photos, err := Load(folder)
	if err != nil {
		return nil, err
	}
	program, err := exec.LookPath(o.Program)
	if err != nil {
		return nil, fmt.Errorf("the program to be judged: %w", err)
	}
	tasks := tasksFor(photos, o.Gauge)
	results := make([]Result, len(tasks))
	places := make(chan int)
	var workers sync.WaitGroup
	for range max(1, o.Workers) {
		workers.Go(func() {
			for i := range places {
				results[i] = tasks[i].run(ctx, program)
				results[i].Set = set
			}
		})
	}
	for i := range tasks {
		places <- i
	}
	close(places)
	workers.Wait()
	return results, ctx.Err()
}

func tasksFor(photos []Photo, gauge bool) []task {
	var tasks []task
	for _, p := range photos {
		tasks = append(tasks, task{Alone, []Photo{p}, false})
		if gauge && !p.paper() {
			tasks = append(tasks, task{Alone + gauged, []Photo{p}, true})
		}
	}
	for _, imprint := range imprints(photos) {
		if len(imprint) < 2 {
			continue
		}
		tasks = append(tasks, task{Together, imprint, false})
		if gauge && !imprint[0].paper() {
			tasks = append(tasks, task{Together + gauged, imprint, true})
		}
	}
	return tasks
}

// arguments are those of the command line.
func (t task) arguments() []string {
	first := t.photos[0]
	args := []string{"measure", "--json", "--medium", "foam"}
	if first.paper() {
		args[3] = "paper"
	}
	if t.gauge && len(first.Depth) == 2 {
		args = append(args, "--depth", fmt.Sprintf("%.0f,%.0f", first.Depth[0], first.Depth[1]))
	}
	if len(t.photos) > 1 {
		args = append(args, "--together")
	}
	for _, p := range t.photos {
		args = append(args, p.location)
	}
	return args
}

// said is what is looked at of the object that `measure --json` prints.
type said struct {
	Status  string   `json:"status"`
	Spacing *float64 `json:"spacing_mm"`
	U       *float64 `json:"expanded_uncertainty_mm"`
	Reasons []struct {
		Code string `json:"code"`
	} `json:"reasons"`
	Relief *struct {
		Step    float64   `json:"step_mm"`
		Columns int       `json:"columns"`
		Rows    int       `json:"rows"`
		Z       []float64 `json:"z_hundredths"`
	} `json:"relief"`
}

// heights are those of the surface that was read, nil where none was.
func (s said) heights() *grid {
	if s.Relief == nil {
		return nil
	}
	g := &grid{step: s.Relief.Step, columns: s.Relief.Columns, rows: s.Relief.Rows}
	for _, z := range s.Relief.Z {
		g.mm = append(g.mm, z/100)
	}
	if !g.sound() {
		return nil
	}
	return g
}

func (t task) run(ctx context.Context, program string) Result {
	first := t.photos[0]
	r := Result{
		Reading: t.reading, Pad: first.pad(), Shape: first.shape(), Photo: first.Name,
		Status: "crashed", Error: math.NaN(), U: math.NaN(), Heights: math.NaN(),
	}
	var out bytes.Buffer
	cmd := exec.CommandContext(ctx, program, t.arguments()...)
	cmd.Stdout = &out
	// The exit status tells refused from measured, which the object says, too.
	var exit *exec.ExitError
	if err := cmd.Run(); err != nil && !errors.As(err, &exit) {
		return r
	}
	var s said
	if err := json.Unmarshal(out.Bytes(), &s); err != nil || s.Status == "" {
		return r
	}
	r.Status = s.Status
	if len(s.Reasons) > 0 {
		r.Code = s.Reasons[0].Code
	}
	if s.Spacing != nil && s.U != nil {
		r.Error, r.U = *s.Spacing-first.Spacing, *s.U
	}
	if read := s.heights(); read != nil && first.heights != nil {
		r.Heights = first.heights.rmsAbout(read)
	}
	return r
}
