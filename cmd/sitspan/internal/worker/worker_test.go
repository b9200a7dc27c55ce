package worker

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// The tests' child is this program: what it does with a job is the job's path.
const childVariable = "WORKER_TEST_CHILD"

func TestMain(m *testing.M) {
	if os.Getenv(childVariable) == "" {
		os.Exit(m.Run())
	}
	if err := Serve(os.Stdin, os.Stdout, openChild); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func openChild(s Settings) (Measurer, error) {
	if s.Medium == "wood" {
		return nil, errors.New("nobody sits on wood")
	}
	return func(job Job) Answer {
		switch string(job.Path) {
		case "abort":
			fmt.Fprintln(os.Stderr, "\n  terminate called after throwing an instance of 'cv::Exception'\nmore")
			os.Exit(134)
		case "silent":
			os.Exit(7)
		case "forever":
			time.Sleep(time.Hour)
		case "threads":
			return Answer{Record: record.Record{Alias: fmt.Sprintf("%d %s %s %s", runtime.GOMAXPROCS(0),
				os.Getenv("OPENCV_FOR_THREADS_NUM"), os.Getenv("OPENBLAS_NUM_THREADS"), os.Getenv(childVariable))}}
		case "early":
			if err := job.Early(Answer{Record: record.Record{Alias: "early"}}); err != nil {
				return Answer{Error: words.Carry(err)}
			}
			return Answer{Record: record.Record{Alias: "whole"}}
		case "spin":
			for {
				_ = fmt.Sprint(s)
			}
		case "babble":
			fmt.Println("this is no answer")
		}
		return Answer{Record: record.Record{Alias: fmt.Sprintf("%q by %d under %s", job.Path, os.Getpid(), s.Pad)}}
	}, nil
}

func testHand(t *testing.T, s Settings) *Hand {
	h := &Hand{Limit: 5 * time.Minute, Settings: s, Command: func() *exec.Cmd {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), childVariable+"=1")
		return cmd
	}}
	t.Cleanup(func() { _ = h.Close() })
	return h
}

func TestHandMeasuresInOneChild(t *testing.T) {
	h := testHand(t, Settings{Pad: "gel"})
	a, err := h.Do(context.Background(), Job{Path: []byte("a")})
	require.NoError(t, err)
	b, err := h.Do(context.Background(), Job{Path: []byte("\xff\n")})
	require.NoError(t, err)
	assert.Contains(t, a.Record.Alias, `"a" by `)
	assert.Contains(t, b.Record.Alias, `"\xff\n" by `, "a name is bytes")
	assert.Equal(t, strings.TrimPrefix(a.Record.Alias, `"a"`), strings.TrimPrefix(b.Record.Alias, `"\xff\n"`),
		"the same child")
	assert.Contains(t, a.Record.Alias, "under gel")
	assert.NoError(t, h.Close())
}

func TestHandBoundsItsChildsThreads(t *testing.T) {
	a, err := testHand(t, Settings{Threads: 3}).Do(context.Background(), Job{Path: []byte("threads")})
	require.NoError(t, err)
	assert.Equal(t, "3 3 3 1", a.Record.Alias, "and the rest of the environment stays")
}

// What is known early comes before the answer, and only once; a parent that does not ask hears the answer
// only.
func TestHandHearsWhatIsKnownEarly(t *testing.T) {
	h := testHand(t, Settings{})
	var heard []string
	h.Early = func(a Answer) { heard = append(heard, a.Record.Alias) }
	a, err := h.Do(context.Background(), Job{Path: []byte("early")})
	require.NoError(t, err)
	assert.Equal(t, "whole", a.Record.Alias)
	assert.Equal(t, []string{"early"}, heard)
	h.Early = nil
	a, err = h.Do(context.Background(), Job{Path: []byte("early")})
	require.NoError(t, err)
	assert.Equal(t, "whole", a.Record.Alias)
}

// A child that works without end is ended by the system, whether or not anybody looks at the clock.
func TestChildsProcessorTimeIsBounded(t *testing.T) {
	h := testHand(t, Settings{CPUSeconds: 1})
	_, err := h.Do(context.Background(), Job{Path: []byte("spin")})
	var lost *Lost
	require.ErrorAs(t, err, &lost)
	assert.False(t, lost.TimedOut, "not by the parent's clock")
	assert.Contains(t, err.Error(), "signal")
}

// A child that ends costs the job that it had; the next job gets another child.
func TestHandOutlivesItsChild(t *testing.T) {
	h := testHand(t, Settings{})
	for path, want := range map[string]string{"abort": "exit status 134: terminate called after throwing an " +
		"instance of 'cv::Exception'", "silent": "exit status 7", "babble": "invalid character"} {
		_, err := h.Do(context.Background(), Job{Path: []byte(path)})
		var lost *Lost
		require.ErrorAs(t, err, &lost, path)
		assert.False(t, lost.TimedOut)
		if path != "babble" { // what it says then is that it was killed
			assert.Contains(t, err.Error(), want)
		}
		a, err := h.Do(context.Background(), Job{Path: []byte("next")})
		require.NoError(t, err, path)
		assert.Contains(t, a.Record.Alias, "next")
	}
}

func TestHandEndsAChildThatTakesTooLong(t *testing.T) {
	h := testHand(t, Settings{})
	_, err := h.Do(context.Background(), Job{Path: []byte("a")})
	require.NoError(t, err)
	h.Limit = 200 * time.Millisecond
	_, err = h.Do(context.Background(), Job{Path: []byte("forever")}) // an hour, else
	var lost *Lost
	require.ErrorAs(t, err, &lost)
	assert.True(t, lost.TimedOut)
}

func TestHandStopsWithItsContext(t *testing.T) {
	h := testHand(t, Settings{})
	ctx, cancel := context.WithCancel(context.Background())
	time.AfterFunc(200*time.Millisecond, cancel)
	_, err := h.Do(ctx, Job{Path: []byte("forever")})
	assert.ErrorIs(t, err, context.Canceled)
}

// Settings that a child refuses, or a child that cannot be started, are nobody's
// photo's fault.
func TestSettingsAreRefusedOnce(t *testing.T) {
	_, err := testHand(t, Settings{Medium: "wood"}).Do(context.Background(), Job{})
	assert.ErrorIs(t, err, ErrSettings)
	assert.ErrorContains(t, err, "nobody sits on wood")
	none := &Hand{Limit: time.Second, Command: func() *exec.Cmd { return exec.Command("/nowhere/at/all") }}
	_, err = none.Do(context.Background(), Job{})
	assert.ErrorIs(t, err, ErrSettings)
	assert.NoError(t, none.Close())
}

func TestServeRefusesWhatIsNoJob(t *testing.T) {
	for in, want := range map[string]string{"": "settings", "nonsense": "settings", "{}\nnonsense": "job"} {
		err := Serve(strings.NewReader(in), io.Discard, openChild)
		assert.ErrorContains(t, err, want)
	}
	var out bytes.Buffer
	require.NoError(t, Serve(strings.NewReader("{}\n"), &out, openChild))
	assert.Equal(t, "{}\n", out.String(), "ready, and nothing to do")
}
