package relief

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// manifest is what train/weights.json says of a weight file: its sum, and the recipe that it was made by, as
// that was then.
type manifest struct {
	Weights []struct {
		Medium, File, SHA256, Command string
		Seed, Steps, Reached, Inputs  int
		Peak, Seconds, Minutes        float64
		Recipe                        struct {
			Commit string
			Files  map[string]string
		}
		Start    struct{ Commit, File, SHA256 string }
		Together struct {
			File, SHA256 string
			Photos       int
		}
	}
}

func readManifest(t *testing.T) (m manifest) {
	t.Helper()
	require.NoError(t, json.Unmarshal(Manifest, &m))
	return m
}

func sumOf(data []byte) string {
	s := sha256.Sum256(data)
	return hex.EncodeToString(s[:])
}

// The weights are those that the manifest names, each with the commit and the sums of the recipe that made
// it.
func TestTheManifestNamesTheWeights(t *testing.T) {
	m := readManifest(t)
	require.Len(t, m.Weights, 2)
	total := 0
	held := func(file, want string) {
		r, err := stored(file)
		require.NoError(t, err)
		data, err := io.ReadAll(r)
		require.NoError(t, err)
		require.Equal(t, want, sumOf(data), file)
		total += len(data)
	}
	for i, w := range m.Weights {
		held(w.File, w.SHA256)
		require.Regexp(t, "^[0-9a-f]{40}$", w.Recipe.Commit)
		require.Contains(t, w.Recipe.Files, "recipe.py")
		require.Contains(t, w.Recipe.Files, "train.py")
		for file, s := range w.Recipe.Files {
			require.Regexp(t, "^[0-9a-f]{64}$", s, file)
		}
		if w.Minutes > 0 {
			require.GreaterOrEqual(t, w.Seconds, 60*w.Minutes, "the schedule was followed to its end")
		} else {
			require.Equal(t, w.Steps, w.Reached)
		}
		require.Contains(t, w.Command, w.Medium)
		require.Equal(t, []int{FoamChannels, InkChannels}[i], w.Inputs)
		require.True(t, strings.Contains(w.Command, "--light") == (w.Inputs == FoamChannels))
		if w.Medium == "foam" {
			held(w.Together.File, w.Together.SHA256)
			require.Equal(t, Photos, w.Together.Photos)
			require.Contains(t, w.Command, "--photos 3")
		}
	}
	require.Less(t, total, 20_000_000, "under 20 MB in the repository")
	parts, err := files.ReadDir("train")
	require.NoError(t, err)
	for _, f := range parts {
		info, err := f.Info()
		require.NoError(t, err)
		require.Less(t, info.Size(), int64(3_000_000), "%s: no file over 3 MB", f.Name())
	}
}

// Where the history is at hand, the commits that the manifest names hold that recipe, and what a run started
// from.
func TestTheRecipeOfEachWeightFileIsInHistory(t *testing.T) {
	same := func(commit, file, want string) {
		data, err := exec.Command("git", "show", commit+":imprint/relief/train/"+file).Output()
		require.NoError(t, err, "%s at %s", file, commit)
		require.Equal(t, want, sumOf(data), "%s at %s", file, commit)
	}
	for _, w := range readManifest(t).Weights {
		if err := exec.Command("git", "cat-file", "-e", w.Recipe.Commit+"^{commit}").Run(); err != nil {
			t.Skipf("no history with commit %s here: %v", w.Recipe.Commit, err)
		}
		for file, want := range w.Recipe.Files {
			same(w.Recipe.Commit, file, want)
		}
		if w.Start.Commit != "" {
			same(w.Start.Commit, w.Start.File, w.Start.SHA256)
		}
	}
}
