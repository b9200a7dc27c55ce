package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// answered runs the program with something typed at its prompt.
func answered(t *testing.T, typed string, args ...string) (code int, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	p := newProgram(&out, &errs)
	root := p.rootCommand()
	root.SetArgs(args)
	root.SetIn(strings.NewReader(typed))
	err := root.ExecuteContext(context.Background())
	return p.exitStatus(context.Background(), err), errs.String()
}

// A doubtful bar is kept where the answer is yes, in whatever letters, and on no other.
func TestADoubtfulBarIsAskedAbout(t *testing.T) {
	for typed, kept := range map[string]bool{"y\n": true, "YES\n": true, " Yes \n": true, "y": true,
		"n\n": false, "\n": false, "": false, "yep\n": false, "j\n": false} {
		path := filepath.Join(t.TempDir(), "shop.yaml")
		code, stderr := answered(t, typed, "frame", "verify", "--bar", "194", "--bar-y", "145.5", "--shop", path)
		assert.Contains(t, stderr, "3.0 % off", "%q", typed)
		assert.Contains(t, stderr, "keep them all the same? [y/N]", "%q", typed)
		data, err := os.ReadFile(path)
		if kept {
			require.NoError(t, err, "%q", typed)
			assert.Contains(t, string(data), "bar_mm: 194", "%q", typed)
			assert.Zero(t, code, "%q", typed)
			continue
		}
		assert.ErrorIs(t, err, os.ErrNotExist, "%q", typed)
		assert.Contains(t, stderr, "nothing was kept", "%q", typed)
		assert.Equal(t, exitUsage, code, "%q", typed)
	}
}

// Nobody sits at /dev/null, though it is a device as a terminal is: nothing is asked, and what to give instead
// is said.
func TestNobodyIsAskedAtNoTerminal(t *testing.T) {
	null, err := os.Open(os.DevNull)
	require.NoError(t, err)
	defer null.Close()
	var out, errs bytes.Buffer
	p := newProgram(&out, &errs)
	root := p.rootCommand()
	root.SetArgs([]string{"frame", "verify", "--bar", "190", "--bar-y", "150", "--shop",
		filepath.Join(t.TempDir(), "shop.yaml")})
	root.SetIn(null)
	assert.Equal(t, exitUsage, p.exitStatus(context.Background(), root.ExecuteContext(context.Background())))
	assert.NotContains(t, errs.String(), "[y/N]")
	assert.Contains(t, errs.String(), "then --yes if they stay so")
}

// A measure in inches, pounds or centimetres is read; a unit of something else is refused in one line that
// says what is needed.
func TestUnitsBehindANumber(t *testing.T) {
	for _, c := range []struct {
		unit, text string
		want       float64
	}{
		{"MM", "7.82in", 198.628}, {"MM", `7.82"`, 198.628}, {"MM", "5 inches", 127}, {"MM", "12,5cm", 125},
		{"KG", "172lb", 78.01788764}, {"KG", "172 lbs", 78.01788764}, {"KG", "78kg", 78}, {"DEG", "45°", 45},
	} {
		q := quantity{unit: c.unit, high: 1000}
		require.NoError(t, q.Set(c.text), c.text)
		assert.InDelta(t, c.want, q.value, 1e-8, c.text)
	}
	for text, unit := range map[string]string{"14kg": "MM", "45mm": "DEG", "78st": "KG", "1e": "MM",
		"in": "MM"} {
		q := quantity{unit: unit, high: 1000}
		err := q.Set(text)
		require.Error(t, err, text)
		assert.Contains(t, err.Error(), "a number from 0 to 1000")
		assert.NotContains(t, err.Error(), "strconv")
	}

	var d depths
	require.NoError(t, d.Set("14mm"))
	assert.Equal(t, []float64{14}, d.mm)
	require.NoError(t, d.Set("1.4cm, 15 mm"))
	assert.Equal(t, []float64{14, 15}, d.mm)
	for _, text := range []string{"14kg", "14mm,", "deep", "14.5.1"} {
		err := d.Set(text)
		require.Error(t, err, text)
		assert.Contains(t, err.Error(), "one depth in mm, or left,right, is needed", text)
	}
}
