package relief

import (
	"compress/gzip"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// golden is one window of either medium as the training program saw it, with its own input of it (PyTorch
// 2.11; written by the training run that made the weights, the input once more in plain float32). Of foam
// there are three, photos of one imprint.
type golden struct {
	Image string
	View  [3]float64
	Input map[string][]float64
}

func loadGolden(t *testing.T, medium string) (golden, []float64) {
	t.Helper()
	f, err := os.Open("testdata/golden.json.gz")
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	all := map[string][]golden{}
	require.NoError(t, json.NewDecoder(z).Decode(&all))
	return all[medium][0], floats(t, all[medium][0].Image)
}

func floats(t *testing.T, text string) []float64 {
	t.Helper()
	raw, err := base64.StdEncoding.DecodeString(text)
	require.NoError(t, err)
	v := make([]float64, len(raw)/4)
	for i := range v {
		v[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(raw[4*i:])))
	}
	return v
}

// The input is the training program's to float32's rounding: its sums run over 6656 terms, each rounded to
// 2^-24 of values up to 6, so some 1e-4 after scaling.
func TestInputIsTheTrainingPrograms(t *testing.T) {
	for medium, channels := range map[string]int{"foam": FoamChannels, "ink": InkChannels} {
		g, light := loadGolden(t, medium)
		in, err := Input(Window{Light: light, View: View{g.View[0], g.View[1], g.View[2]}}, channels)
		require.NoError(t, err)
		for c, name := range []string{"0", "1", "2", "3", "4", "5"} {
			for k, i := range []int{0, 1000, 3333, 6655} {
				require.InDelta(t, g.Input[name][k], in.Values[c*Cells+i], 1e-3, "%s channel %d cell %d", medium, c, i)
			}
		}
	}
}

// The frame's edge darkens the window's rim only: the rest of the input is what it was without the shadow.
func TestTheFramesShadowLeavesTheBackgroundAlone(t *testing.T) {
	_, light := loadGolden(t, "foam")
	shaded := make([]float64, Cells)
	var clear []int
	for i := range light {
		shaded[i] = light[i]
		if p := At(i); p.X < -96 {
			shaded[i] *= 0.2
		} else {
			clear = append(clear, i)
		}
	}
	change := func(channels int) (most float64) {
		cut := 0
		a, err := Input(Window{Light: light}, channels)
		require.NoError(t, err)
		b, err := Input(Window{Light: shaded}, channels)
		require.NoError(t, err)
		for _, i := range clear {
			if math.Max(math.Abs(float64(a.Values[i])), math.Abs(float64(b.Values[i]))) > 0.999*mostScaled {
				cut++ // at a level that goes with the contrast
				continue
			}
			most = math.Max(most, math.Abs(float64(a.Values[i])*a.Contrast-float64(b.Values[i])*b.Contrast))
		}
		require.Less(t, cut, len(clear)/10, "nine tenths and more are compared")
		return most
	}
	require.Less(t, change(FoamChannels), 1e-5,
		"float32 rounds values up to 6 to 2^-22, times a contrast below 1")
	require.Greater(t, change(InkChannels), 0.05, "the shadow bends a background fitted over all")
}

func TestBrightnessOverTheFrame(t *testing.T) {
	_, light := loadGolden(t, "foam")
	f := FrameLight{c: [6]float64{-1, 0.2, -0.1, 0.05, 0.03, -0.02}}
	under := make([]float64, Cells)
	for i := range under {
		under[i] = light[i] * math.Exp(f.At(At(i))) // the same pad under the frame's uneven light
	}
	even, err := Input(Window{Light: light}, FoamChannels)
	require.NoError(t, err)
	uneven, err := Input(Window{Light: under, Frame: f}, FoamChannels)
	require.NoError(t, err)
	for i := range Cells {
		if light[i] > 2*darkest && under[i] > 2*darkest {
			require.InDelta(t, even.Values[6*Cells+i], uneven.Values[6*Cells+i], 1e-5)
		}
	}
}

func TestInputTakesAnyExposure(t *testing.T) {
	_, light := loadGolden(t, "foam")
	brighter := make([]float64, Cells)
	for i := range light {
		light[i] = math.Max(light[i], 2*darkest)
		brighter[i] = 1.7 * light[i]
	}
	a, err := Input(Window{Light: light}, FoamChannels)
	require.NoError(t, err)
	b, err := Input(Window{Light: brighter}, FoamChannels)
	require.NoError(t, err)
	for i := range a.Values {
		require.InDelta(t, a.Values[i], b.Values[i], 1e-5)
	}
}

func TestMirrorTwiceIsTheSame(t *testing.T) {
	g, light := loadGolden(t, "foam")
	in, err := Input(Window{Light: light, View: View{g.View[0], g.View[1], g.View[2]}}, FoamChannels)
	require.NoError(t, err)
	require.Equal(t, in.Values, in.Mirrored().Mirrored().Values)
	require.NotEqual(t, in.Values, in.Mirrored().Values)
}

func TestAWindowOutOfThePictureIsNoWindow(t *testing.T) {
	light := make([]float64, Cells)
	for i := range light {
		light[i] = math.NaN()
	}
	_, err := Input(Window{Light: light}, FoamChannels)
	require.ErrorIs(t, err, ErrNoWindow)
	_, err = Input(Window{Light: light[:5]}, FoamChannels)
	require.Error(t, err)
	for i := range light {
		light[i] = 0.3
	}
	light[7] = math.NaN()
	in, err := Input(Window{Light: light}, FoamChannels)
	require.NoError(t, err)
	require.Equal(t, 1, in.Hidden)
	for _, v := range in.Values {
		require.False(t, math.IsNaN(float64(v)) || math.IsInf(float64(v), 0))
	}
}
