package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// fullDisk takes some bytes, then none.
type fullDisk struct{ left int }

func (d *fullDisk) Write(b []byte) (int, error) {
	n := min(len(b), d.left)
	d.left -= n
	if n < len(b) {
		return n, syscall.ENOSPC
	}
	return n, nil
}

func TestResultsThatCannotBeWrittenAreAFailure(t *testing.T) {
	for _, args := range [][]string{{"version"}, {"--help"},
		{"size", "--spacing", "125", "--allowance", "20", "--json"}} {
		var stderr bytes.Buffer
		assert.Equal(t, exitFailure, run(context.Background(), args, &fullDisk{5}, &stderr), args)
		assert.Contains(t, stderr.String(), "sitspan: the results could not be written: the disk is full\n",
			args)
	}
}

func TestEveryLineOnStderrNamesTheTool(t *testing.T) {
	var stderr bytes.Buffer
	p := newProgram(io.Discard, &stderr)
	p.say("one\n\n  two  \nthree\n")
	assert.Equal(t, "sitspan: one\nsitspan:   two\nsitspan: three\n", stderr.String())
}

func TestErrorsBecomeStatuses(t *testing.T) {
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	for _, c := range []struct {
		name string
		ctx  context.Context
		err  error
		want int
		says string
	}{
		{"none", context.Background(), nil, exitMeasured, ""},
		{"plain", context.Background(), errors.New("no such file"), exitFailure, "sitspan: no such file\n"},
		{"usage", context.Background(), &usageError{errors.New("what?"), "sitspan size"}, exitUsage,
			"sitspan: what?\nsitspan: hint: sitspan size --help tells how\n"},
		{"status told already", context.Background(), statusError(exitReview), exitReview, ""},
		{"interrupted", cancelled, context.Canceled, exitFailure,
			"sitspan: interrupted; what is printed is complete, the rest was not done\n"},
	} {
		var stderr bytes.Buffer
		assert.Equal(t, c.want, newProgram(io.Discard, &stderr).exitStatus(c.ctx, c.err), c.name)
		assert.Equal(t, c.says, stderr.String(), c.name)
	}
}

// Of several photos the worst counts, in the order 1, 3, 0, whatever their own
// order.
func TestWorstStatus(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := rapid.SliceOfN(rapid.SampledFrom([]int{exitMeasured, exitFailure, exitReview}), 0, 6).Draw(t,
			"statuses")
		got, count := exitMeasured, map[int]int{}
		for _, s := range all {
			got = worst(got, s)
			count[s]++
		}
		want := exitMeasured
		if count[exitReview] > 0 {
			want = exitReview
		}
		if count[exitFailure] > 0 {
			want = exitFailure
		}
		if got != want {
			t.Fatalf("%v: status %d, wanted %d", all, got, want)
		}
	})
}

func TestQuantityReadsNumbersWithinBounds(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
		bad  string
	}{
		{"125.5", 125.5, ""},
		{"125,5", 125.5, ""},
		{" 40 ", 40, ""},
		{"1e2", 100, ""},
		{"39.9", 0, "40 to 300 mm is needed"},
		{"1,000.5", 0, "a number from 40 to 300 mm is needed"},
		{"NaN", 0, "a number from 40 to 300 mm is needed"},
		{"-inf", 0, "a number from 40 to 300 mm is needed"},
		{"", 0, "a number from 40 to 300 mm is needed"},
		{"125 mm", 125, ""},
		{"125 kg", 0, "40 to 300 mm is needed"},
	} {
		q := quantity{unit: "MM", low: 40, high: 300}
		err := q.Set(c.text)
		if c.bad != "" {
			assert.ErrorContains(t, err, c.bad, c.text)
			assert.False(t, q.given, c.text)
			continue
		}
		require.NoError(t, err, c.text)
		assert.Equal(t, c.want, q.value, c.text)
	}
}

func TestDepths(t *testing.T) {
	for _, c := range []struct {
		text    string
		want    []float64
		decimal bool
	}{
		{"14", []float64{14}, false},
		{"14.5,16", []float64{14.5, 16}, false},
		{"14,5", []float64{14, 5}, true},
		{"14,9", []float64{14, 9}, true},
		{"10,9", []float64{10, 9}, true},
		{"14.5,9", []float64{14.5, 9}, false},
		{"9,8", []float64{9, 8}, false},
		{"14,5.5", []float64{14, 5.5}, false},
		{"14,15", []float64{14, 15}, false},
	} {
		var d depths
		require.NoError(t, d.Set(c.text), c.text)
		assert.Equal(t, c.want, d.mm, c.text)
		assert.Equal(t, c.decimal, d.looksDecimal(), c.text)
	}
	for _, text := range []string{"", ",", "14,", "1,2,3", "0", "0,0", "-1", "61", "nan", "14;15"} {
		assert.Error(t, new(depths).Set(text), text)
	}
}
