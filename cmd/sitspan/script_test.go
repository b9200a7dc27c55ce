package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// repository is the folder of the repository, whatever folder a test moves to.
var repository = func() string {
	path, err := filepath.Abs("../..")
	if err != nil {
		panic(err)
	}
	return path
}()

// TestMain lets scripts run the program, and a second one, `bench`, that is the
// same program with records in the place of measurements.
//
// A process of this program that measures for an audit is this test's, too.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == workerName && strings.HasSuffix(filepath.Base(os.Args[0]), ".test") {
		main()
	}
	if strings.HasSuffix(filepath.Base(os.Args[0]), ".test") {
		os.Setenv("XDG_DATA_HOME", "/no-data") // a developer's own checks are no part of a test
	}
	testscript.Main(m, map[string]func(){"sitspan": main, "bench": benchMain})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("RECORDS", filepath.Join(repository, "cmd/sitspan/internal/record/testdata"))
			env.Setenv("TESTDATA", filepath.Join(repository, "testdata"))
			return os.WriteFile(filepath.Join(env.WorkDir, "plain.png"), grey(400, 300), 0o644)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"status": wantStatus,
			"onlyfiles": wantOnlyFiles, "waitfile": waitFile},
	})
}

// wantStatus is the script command `status N command args...`: it runs the
// command and compares its exit status.
func wantStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N command args...")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := 0
	var exit interface{ ExitCode() int }
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if fmt.Sprint(got) != args[0] {
		ts.Fatalf("exit status %d, wanted %s", got, args[0])
	}
}

// wantOnlyFiles is the script command `onlyfiles DIR pattern...`: the folder
// holds one file for each pattern and nothing else, hidden or not.
func wantOnlyFiles(ts *testscript.TestScript, neg bool, args []string) {
	entries, err := os.ReadDir(ts.MkAbs(args[0]))
	ts.Check(err)
	patterns := args[1:]
	if neg || len(entries) != len(patterns) {
		ts.Fatalf("%s holds %v, wanted %v", args[0], entries, patterns)
	}
	for i, e := range entries {
		if ok, _ := filepath.Match(patterns[i], e.Name()); !ok {
			ts.Fatalf("%s holds %v, wanted %v", args[0], entries, patterns)
		}
	}
}

// waitFile is the script command `waitfile FILE`: it waits until the file, or one
// of its pattern, is there.
func waitFile(ts *testscript.TestScript, neg bool, args []string) {
	for range 15_000 {
		if found, err := filepath.Glob(ts.MkAbs(args[0])); err == nil && len(found) > 0 {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	ts.Fatalf("%s did not appear within 5 minutes", args[0])
}

// benchMain is the program with a station whose photos are record files, so
// that every outcome can be had. A photo called "wait" is never done.
func benchMain() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	context.AfterFunc(ctx, stop)
	p := newProgram(standardOutput(), os.Stderr)
	p.open, p.openWorker = openBench, openBenchWorker
	root := p.rootCommand()
	os.Exit(p.exitStatus(ctx, root.ExecuteContext(ctx)))
}

func openBench(intake.Options) (*station, error) {
	read := func(ctx context.Context, path string) outcome {
		if filepath.Base(path) == "wait" {
			fmt.Fprintln(os.Stderr, "waiting")
			<-ctx.Done()
		}
		return readOutcome(path)
	}
	return &station{
		measure:  read,
		together: func(ctx context.Context, paths []string) outcome { return joined(read(ctx, paths[0]), paths) },
		sittings: func(ctx context.Context, sittings [][]string) outcome {
			var names []string
			for _, s := range sittings {
				names = append(names, strings.Join(s, "+"))
			}
			return joined(read(ctx, sittings[0][0]), names)
		},
		close: func() error { return nil },
	}, nil
}

// readOutcome gives the record in a file, or a failure as an unreadable photo
// does. A name that ends in .nodraw gives one whose overlay cannot be drawn.
func readOutcome(path string) outcome {
	rec, err := record.Load(path)
	if err != nil {
		code := "not_a_photo"
		if errors.Is(err, fs.ErrNotExist) {
			code = "unreadable"
		}
		return outcome{Record: record.Record{Measurement: record.Measurement{
			Photo: path, Status: record.Failed, Coverage: 0.95,
			Reasons: []record.Reason{{Code: code, Message: "this is not a photo",
				Hint: "name a JPEG, PNG, TIFF, WebP or HEIC file"}},
		}}}
	}
	draw := func(maxSide int, _ words.Lang) (image.Image, error) {
		return image.NewGray(image.Rect(0, 0, maxSide, 10)), nil
	}
	if strings.HasSuffix(path, ".nodraw") {
		draw = func(int, words.Lang) (image.Image, error) {
			return nil, &fs.PathError{Op: "write", Path: ".sitspan-1", Err: syscall.ENOSPC}
		}
	}
	return outcome{Record: rec, Overlay: draw}
}

// joined lists the parts that a joint measurement was asked for.
func joined(o outcome, names []string) outcome {
	m := &o.Record.Measurement
	for i, name := range names {
		p := record.Part{Photo: name, Status: record.Measured, Used: i == 0, Spacing: m.Spacing, U: m.U}
		if i > 0 {
			p.Why = "it shows another imprint"
		}
		m.Photos = append(m.Photos, p)
	}
	return o
}
