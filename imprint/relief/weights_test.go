package relief

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"math"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protowire"
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
		data, err := stored(file)
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

// tensorOf is a TensorProto (onnx.proto: data_type 2, name 8, raw_data 9), modelOf a model of nothing but
// tensors.
func tensorOf(name string, kind uint64, raw []byte) (b []byte) {
	b = protowire.AppendVarint(protowire.AppendTag(nil, 2, protowire.VarintType), kind)
	b = protowire.AppendString(protowire.AppendTag(b, 8, protowire.BytesType), name)
	if raw != nil {
		b = protowire.AppendBytes(protowire.AppendTag(b, 9, protowire.BytesType), raw)
	}
	return b
}

func modelOf(tensors ...[]byte) []byte {
	graph := protowire.AppendString(protowire.AppendTag(nil, 2, protowire.BytesType), "graph")
	for _, t := range tensors {
		graph = protowire.AppendBytes(protowire.AppendTag(graph, 5, protowire.BytesType), t)
	}
	version := protowire.AppendVarint(protowire.AppendTag(nil, 1, protowire.VarintType), 6)
	return protowire.AppendBytes(protowire.AppendTag(version, 7, protowire.BytesType), graph)
}

// The halves are those of IEEE 754-2019's binary16 (five bits of exponent less 15, ten of fraction): 1 is
// 3C00, -2 is C000, the least subnormal 2^-24 is 0001.
func TestHalvesAreFilledIn(t *testing.T) {
	halves := []byte{0x00, 0x3C, 0x00, 0xC0, 0x01, 0x00}
	var full []byte
	for _, v := range []float32{1, -2, 1. / (1 << 24)} {
		full = binary.LittleEndian.AppendUint32(full, math.Float32bits(v))
	}
	store := modelOf(tensorOf("a", 10, halves), tensorOf("b", 10, halves[:2]))
	values, err := valuesOf(store)
	require.NoError(t, err)
	got, err := filled(modelOf(tensorOf("a", 10, nil)), values)
	require.NoError(t, err)
	seen := 0
	_, err = initializers(got, func(b []byte) (*message, error) {
		seen++
		name, raw, err := named(b)
		require.Equal(t, "a", name)
		require.Equal(t, full, raw)
		require.Equal(t, 1, bytes.Count(b, []byte{2 << 3, 1}), "a float now")
		require.Zero(t, bytes.Count(b, []byte{2 << 3, 10}), "and no half")
		return &message{}, err
	})
	require.NoError(t, err)
	require.Equal(t, 1, seen)
	own, err := filled(modelOf(tensorOf("a", 10, halves)), nil)
	require.NoError(t, err)
	require.Equal(t, got, own, "its own values are as good")
	_, err = filled(modelOf(tensorOf("c", 10, nil)), values)
	require.ErrorIs(t, err, ErrBadWeights, "nobody holds it")
	for cut := 1; cut < len(store); cut++ {
		_, err := filled(store[:cut], nil)
		if cut > 2 { // the version alone is a whole message
			require.ErrorIs(t, err, ErrBadWeights, "%d bytes of %d", cut, len(store))
		}
	}
}
