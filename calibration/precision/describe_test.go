package precision

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// univariate is one of NIST's reference datasets with its certified values.
type univariate struct {
	values   []float64
	mean, sd float64
}

func readUnivariate(t *testing.T, name string) univariate {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", name+".dat"))
	require.NoError(t, err)
	defer file.Close()
	var set univariate
	certified := map[string]*float64{
		"Sample Mean":               &set.mean,
		"Sample Standard Deviation": &set.sd,
	}
	inData := false
	for lines := bufio.NewScanner(file); lines.Scan(); {
		line := strings.TrimSpace(lines.Text())
		last := line[strings.LastIndexAny(line, ": ")+1:]
		for prefix, value := range certified {
			if strings.HasPrefix(line, prefix) {
				*value, err = strconv.ParseFloat(last, 64)
				require.NoError(t, err, line)
			}
		}
		if inData && line != "" && !strings.HasPrefix(line, "-----") {
			v, err := strconv.ParseFloat(line, 64)
			require.NoError(t, err)
			set.values = append(set.values, v)
		}
		inData = inData || strings.HasPrefix(line, "Data: Y")
	}
	return set
}

// Source: NIST StRD, univariate summary statistics, files in testdata. The
// certified values are printed to 15 digits; what double precision allows is
// less where the data are large beside their spread: each datum is rounded by
// up to half a unit in its last place, e, which moves the standard deviation by
// as much.
func TestUnivariateNIST(t *testing.T) {
	cases := []struct {
		name string
		n    int
	}{
		{"Michelso", 100}, {"Mavro", 50}, {"Lew", 200}, {"Lottery", 218},
		{"NumAcc1", 3}, {"NumAcc2", 1001}, {"NumAcc3", 1001}, {"NumAcc4", 1001},
	}
	const printed = 1e-14 // 15 digits, and the same of summing
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			set := readUnivariate(t, c.name)
			require.Len(t, set.values, c.n)
			size := math.Abs(set.mean)
			rounding := (math.Nextafter(size, math.Inf(1)) - size) / 2
			assert.InDelta(t, set.mean, Mean(set.values), rounding+printed*size)
			assert.InDelta(t, set.sd, SD(set.values), rounding+printed*set.sd)
		})
	}
}

func TestTooFewToDescribe(t *testing.T) {
	assert.True(t, math.IsNaN(Mean(nil)))
	assert.True(t, math.IsNaN(SD([]float64{1})))
	assert.Equal(t, 0.0, SD([]float64{125, 125}))
}

// A shift moves the mean and nothing else; a change of unit stretches both.
func TestDescriptionFollowsUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-100, 100), 2, 50).Draw(t, "values")
		shift := rapid.Float64Range(-100, 100).Draw(t, "shift")
		stretch := rapid.Float64Range(0.1, 10).Draw(t, "stretch")
		moved := make([]float64, len(values))
		for i, v := range values {
			moved[i] = shift + stretch*v
		}
		// Values of up to 1100 are rounded by 1.1e-13.
		assert.InDelta(t, shift+stretch*Mean(values), Mean(moved), 1e-12)
		assert.InDelta(t, stretch*SD(values), SD(moved), 1e-12)
	})
}
