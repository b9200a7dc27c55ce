package relief

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The weights are those that the manifest names, and the manifest was written with the recipe that lies beside it: change
// one of them and this fails until the weights are made again.
func TestWeightsAndRecipeBelongTogether(t *testing.T) {
	var m struct {
		Recipe  map[string]string
		Weights []struct {
			Medium, File, SHA256, Command string
			Seed, Steps, Reached, Inputs  int
		}
	}
	require.NoError(t, json.Unmarshal(Manifest, &m))
	sum := func(file string) string {
		data, err := os.ReadFile("train/" + file)
		require.NoError(t, err)
		s := sha256.Sum256(data)
		return hex.EncodeToString(s[:])
	}
	require.Len(t, m.Recipe, 2)
	for file, want := range m.Recipe {
		require.Equal(t, want, sum(file), "%s is not what the weights were trained with", file)
	}
	require.Len(t, m.Weights, 2)
	for i, embedded := range [][]byte{FoamNet, InkNet} {
		w := m.Weights[i]
		s := sha256.Sum256(embedded)
		require.Equal(t, w.SHA256, hex.EncodeToString(s[:]))
		require.Equal(t, w.SHA256, sum(w.File))
		require.LessOrEqual(t, w.Reached, w.Steps)
		rate := (1 + math.Cos(math.Pi*float64(w.Reached)/float64(w.Steps))) / 2
		require.Less(t, rate, 0.0025, "of its peak: at its end train.py's schedule leaves a floor of 5e-6 of 2e-3, which nothing need undercut")
		require.Contains(t, w.Command, w.Medium)
		require.Equal(t, []int{FoamChannels, InkChannels}[i], w.Inputs)
		require.True(t, strings.Contains(w.Command, "--light") == (w.Inputs == FoamChannels))
	}
	require.Less(t, len(FoamNet)+len(InkNet), 10<<20, "under 10 MB in the repository")
}
