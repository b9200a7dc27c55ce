package leastsquares

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// referenceSet is one of NIST's Statistical Reference Datasets for nonlinear
// regression, read from its published file.
type referenceSet struct {
	starts        [2][]float64
	certified, sd []float64
	rss, residual float64
	y, x          []float64
}

// readNIST reads a set from the lines that every such file declares: parameters
// from line 41, data from line 61.
func readNIST(t testing.TB, name string) referenceSet {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", name+".dat"))
	require.NoError(t, err)
	defer file.Close()
	var set referenceSet
	lines := bufio.NewScanner(file)
	for n := 1; lines.Scan(); n++ {
		line := strings.ReplaceAll(lines.Text(), ":", ": ")
		fields := strings.Fields(line)
		switch {
		case n > 40 && n <= 60 && len(fields) == 6 && fields[1] == "=":
			v := numbers(t, fields[2:])
			set.starts[0] = append(set.starts[0], v[0])
			set.starts[1] = append(set.starts[1], v[1])
			set.certified = append(set.certified, v[2])
			set.sd = append(set.sd, v[3])
		case strings.HasPrefix(line, "Residual Sum of Squares"):
			set.rss = numbers(t, fields[len(fields)-1:])[0]
		case strings.HasPrefix(line, "Residual Standard Deviation"):
			set.residual = numbers(t, fields[len(fields)-1:])[0]
		case n > 60 && len(fields) == 2:
			v := numbers(t, fields)
			set.y, set.x = append(set.y, v[0]), append(set.x, v[1])
		}
	}
	require.NoError(t, lines.Err())
	require.Greater(t, len(set.y), len(set.certified), "data in %s", name)
	return set
}

func numbers(t testing.TB, fields []string) []float64 {
	t.Helper()
	v := make([]float64, len(fields))
	for i, f := range fields {
		var err error
		v[i], err = strconv.ParseFloat(f, 64)
		require.NoError(t, err)
	}
	return v
}

// The models, as each file states its own.
func twoGaussians(b []float64, x float64) float64 {
	bell := func(height, centre, width float64) float64 {
		return height * math.Exp(-(x-centre)*(x-centre)/(width*width))
	}
	return b[0]*math.Exp(-b[1]*x) + bell(b[2], b[3], b[4]) + bell(b[5], b[6], b[7])
}

func adsorption(b []float64, x float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x)) }

func mobility(b []float64, x float64) float64 {
	return (b[0] + x*(b[1]+x*(b[2]+x*b[3]))) / (1 + x*(b[4]+x*(b[5]+x*b[6])))
}

func quantumDefect(b []float64, x float64) float64 {
	return b[0] - b[1]*x - math.Atan(b[2]/(x-b[3]))/math.Pi
}

func radiation(b []float64, x float64) float64 { return b[0] * math.Pow(x, b[1]) }

var nistModels = []struct {
	name  string
	model func(b []float64, x float64) float64
}{
	{"Gauss1", twoGaussians},
	{"Gauss2", twoGaussians},
	{"Gauss3", twoGaussians},
	{"Misra1a", adsorption},
	{"Thurber", mobility},
	{"Roszman1", quantumDefect},
	{"DanWood", radiation},
}

// problemOf makes a model and its data a Problem.
func problemOf(y, x []float64, model func(b []float64, x float64) float64) Problem {
	return Problem{Count: len(y), Residuals: func(dst, b []float64) {
		for i := range dst {
			dst[i] = model(b, x[i]) - y[i]
		}
	}}
}

// TestNIST asks for the certified parameters to 6 significant digits and the
// certified standard deviations to 4, from both start points of each set.
// Source: NIST StRD, nonlinear regression, the files in testdata.
func TestNIST(t *testing.T) {
	for _, c := range nistModels {
		set := readNIST(t, c.name)
		for n, start := range set.starts {
			t.Run(fmt.Sprintf("%s from start %d", c.name, n+1), func(t *testing.T) {
				fit, err := Minimise(problemOf(set.y, set.x, c.model), start, Options{})
				require.NoError(t, err)
				require.True(t, fit.Converged, "offset %g after %d iterations", fit.Offset, fit.Iterations)
				t.Logf("%d iterations, offset %.1e", fit.Iterations, fit.Offset)
				u := fit.StandardUncertainties()
				for j := range set.certified {
					assert.InEpsilon(t, set.certified[j], fit.Parameters[j], 5e-7, "b%d", j+1)
					assert.InEpsilon(t, set.sd[j], u[j], 5e-5, "sd of b%d", j+1)
				}
				assert.InEpsilon(t, set.residual, fit.ResidualSD, 1e-9)
				assert.InEpsilon(t, set.rss, fit.ResidualSD*fit.ResidualSD*float64(fit.DoF), 1e-9)
				assert.Equal(t, len(set.y)-len(set.certified), fit.DoF)
			})
		}
	}
}

// The two dents' distance as a fit of two blended bells gives it, and its
// standard uncertainty with the covariance of the centres: the certified b7-b4
// of Gauss3, and by hand from the certified standard deviations no less than
// their difference, no more than their sum.
func TestNISTSpacingOfBlendedBells(t *testing.T) {
	set := readNIST(t, "Gauss3")
	fit, err := Minimise(problemOf(set.y, set.x, twoGaussians), set.starts[1], Options{})
	require.NoError(t, err)
	assert.InEpsilon(t, set.certified[6]-set.certified[3], fit.Parameters[6]-fit.Parameters[3], 5e-7)
	v := fit.Covariance.At(3, 3) + fit.Covariance.At(6, 6) - 2*fit.Covariance.At(3, 6)
	assert.Greater(t, math.Sqrt(v), math.Abs(set.sd[6]-set.sd[3]))
	assert.Less(t, math.Sqrt(v), set.sd[6]+set.sd[3])
}
