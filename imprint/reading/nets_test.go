package reading

import (
	"compress/gzip"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"sitspan/imprint/relief"
)

// trained is one of three photos of a drawn imprint, and what the training program read of it with the same
// weights (PyTorch 2.11, on a GPU), by itself and together with the other two.
type trained struct {
	Image, Over     string
	View            [3]float64
	Alone, Together struct {
		Centre [2][2]float64
		LVS    float64 // ln variance of the spacing
		Depth  [2]float64
	}
}

func trainedPhotos(t *testing.T) (photos []trained, in []relief.Tensor) {
	t.Helper()
	f, err := os.Open("../relief/testdata/golden.json.gz")
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	var all struct{ Foam []trained }
	require.NoError(t, json.NewDecoder(z).Decode(&all))
	for _, p := range all.Foam {
		w := relief.Window{View: relief.View{X: p.View[0], Y: p.View[1], Height: p.View[2]}}
		for _, v := range decoded(t, p.Image) {
			w.Light = append(w.Light, float64(v))
		}
		x, err := relief.Input(w, relief.FoamChannels)
		require.NoError(t, err)
		// the drawn frame's light has more than a quadratic
		copy(x.Values[6*relief.Cells:], decoded(t, p.Over))
		in = append(in, x)
	}
	require.Len(t, in, relief.Photos)
	return all.Foam, in
}

func decoded(t *testing.T, text string) (v []float32) {
	t.Helper()
	raw, err := base64.StdEncoding.DecodeString(text)
	require.NoError(t, err)
	for i := 0; i < len(raw); i += 4 {
		v = append(v, math.Float32frombits(binary.LittleEndian.Uint32(raw[i:])))
	}
	return v
}

// Both nets read what the training program read: to a fiftieth of the readings' own standard uncertainty,
// though their weights are halves here and the training program's sums were rounded to TF32's eleven bits.
func TestTheNetsReadAsInTraining(t *testing.T) {
	photos, in := trainedPhotos(t)
	same := func(got relief.Reading, centre [2][2]float64, lvs float64, depth [2]float64) {
		t.Helper()
		u := math.Exp(lvs / 2)
		for k, s := range []relief.Side{got.Left, got.Right} {
			require.InDelta(t, centre[k][0], s.At.X, u/50)
			require.InDelta(t, centre[k][1], s.At.Y, u/50)
			require.InDelta(t, depth[k], s.Depth, math.Sqrt(s.VarDepth)/50)
		}
		require.InEpsilon(t, u, math.Sqrt(got.VarSpacing), 0.02)
	}
	one, err := loadNet(relief.FoamNet, 1, relief.FoamChannels)
	require.NoError(t, err)
	defer one.Close()
	three, err := loadNet(relief.FoamTogetherNet, relief.Photos, relief.FoamChannels)
	require.NoError(t, err)
	defer three.Close()
	for i, p := range photos {
		r, err := runOnce(one, in[i:i+1])
		require.NoError(t, err)
		same(r[0], p.Alone.Centre, p.Alone.LVS, p.Alone.Depth)
	}
	r, err := runOnce(three, in)
	require.NoError(t, err)
	for i, p := range photos {
		same(r[i], p.Together.Centre, p.Together.LVS, p.Together.Depth)
	}
}
