package relief

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protowire"
)

// The weights are those that the manifest names, and the manifest was written with the recipe that lies beside it: change
// one of them and this fails until the weights are made again.
func TestWeightsAndRecipeBelongTogether(t *testing.T) {
	var m struct {
		Recipe  map[string]string
		Weights []struct {
			Medium, File, SHA256, Command string
			Seed, Steps, Reached, Inputs  int
			Together                      struct {
				File, SHA256 string
				Photos       int
			}
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
	for i, embedded := range [][]byte{foamModel, inkModel} {
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
	several := m.Weights[0].Together
	s := sha256.Sum256(foamTogetherModel)
	require.Equal(t, several.SHA256, hex.EncodeToString(s[:]))
	require.Equal(t, several.SHA256, sum(several.File))
	require.Equal(t, Photos, several.Photos)
	require.Contains(t, m.Weights[0].Command, "--photos 3")
	require.Less(t, len(foamModel)+len(foamTogetherModel)+len(inkModel), 10_000_000, "under 10 MB in the repository")
}

// tensorOf is a TensorProto (onnx.proto: data_type 2, name 8, raw_data 9), modelOf a model of nothing but tensors.
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

// The halves are those of IEEE 754-2019's binary16 (from memory): 1 is 3C00, -2 is C000, the least subnormal 2^-24 is 0001.
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
	_, err = initializers(got, func(b []byte) ([]byte, error) {
		seen++
		name, raw, err := named(b)
		require.Equal(t, "a", name)
		require.Equal(t, full, raw)
		require.Equal(t, 1, bytes.Count(b, []byte{2 << 3, 1}), "a float now")
		require.Zero(t, bytes.Count(b, []byte{2 << 3, 10}), "and no half")
		return b, err
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
