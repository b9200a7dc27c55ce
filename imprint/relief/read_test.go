package relief

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// drawn are maps with a Gaussian score of the given widths round two places, and constant other maps.
func drawn(left, right Point, sigma float64) []float32 {
	y := make([]float32, OutputChannels*Cells)
	for i := range Cells {
		p := At(i)
		for side, c := range []Point{left, right} {
			d2 := (p.X-c.X)*(p.X-c.X) + (p.Y-c.Y)*(p.Y-c.Y)
			y[side*Cells+i] = float32(-d2 / (2 * sigma * sigma))
		}
		for c, v := range map[int]float32{2: 0.5, 3: -1, 4: 0.25, 5: 0, 6: 1.4, 7: 1.6, 8: -3, 9: -2, 10: 0.3,
			11: 0.9, 12: 0.2, 14: 0.1, 16: -4, 18: -0.7, 21: 5} {
			y[c*Cells+i] = v
		}
	}
	return y
}

// A Gaussian of width s averaged under a Gaussian of width R about the peak's cell is pulled toward that
// cell's centre by s^2/(s^2+R^2) of its offset, at most 1 mm x 0.083 here.
func TestReadFindsThePeaks(t *testing.T) {
	left, right := Point{-60.7, 4.3}, Point{55.2, -10.6}
	r, err := Read(drawn(left, right, 3))
	require.NoError(t, err)
	require.InDelta(t, left.X, r.Left.At.X, 0.09)
	require.InDelta(t, left.Y, r.Left.At.Y, 0.09)
	require.InDelta(t, right.X, r.Right.At.X, 0.09)
	require.InDelta(t, right.Y, r.Right.At.Y, 0.09)
	require.InDelta(t, math.Exp(0.5), r.Left.VarX, 1e-6)
	require.InDelta(t, math.Exp(0.25), r.Left.VarY, 1e-6)
	require.InDelta(t, math.Exp(-1.0), r.Right.VarX, 1e-6)
	require.InDelta(t, 14, r.Left.Depth, 1e-5)
	require.InDelta(t, 100*math.Exp(-2), r.Right.VarDepth, 1e-4)
	require.InDelta(t, 9, r.Right.Flat, 1e-5)
	require.InDelta(t, math.Exp(-0.7), r.VarSpacing, 1e-6)
	require.Greater(t, r.Count[2], 0.97)
	require.InDelta(t, 1, r.Count[0]+r.Count[1]+r.Count[2]+r.Count[3], 1e-9)
}

func TestReadOfAMirrorIsTheMirrorOfTheReading(t *testing.T) {
	left, right := Point{-61, 5}, Point{51, -11}
	a, err := Read(drawn(left, right, 3))
	require.NoError(t, err)
	b, err := Read(drawn(Point{-right.X, right.Y}, Point{-left.X, left.Y}, 3))
	require.NoError(t, err)
	m := b.Mirrored()
	require.InDelta(t, a.Left.At.X, m.Left.At.X, 1e-6)
	require.InDelta(t, a.Right.At.Y, m.Right.At.Y, 1e-6)
	mean := a.Mean(m)
	require.InDelta(t, 0, mean.Mirror, 1e-6)
	require.InDelta(t, a.Distance(), mean.Distance(), 1e-6)
}

func TestARivalPeakIsSeen(t *testing.T) {
	y := drawn(Point{-61, 5}, Point{51, -11}, 3)
	third := Point{-15, 41}
	for i := range Cells {
		p := At(i)
		d2 := (p.X-third.X)*(p.X-third.X) + (p.Y-third.Y)*(p.Y-third.Y)
		y[i] = float32(math.Max(-80, math.Log(math.Exp(float64(y[i]))+0.6*math.Exp(-d2/18))))
	}
	r, err := Read(y)
	require.NoError(t, err)
	require.InDelta(t, 0.6, r.Left.Second, 0.01)
	require.Equal(t, third, r.Left.SecondPlace)
	require.Less(t, r.Right.Second, 0.01)
}

func TestReadRefusesWhatIsNoReading(t *testing.T) {
	_, err := Read(make([]float32, 7))
	require.ErrorIs(t, err, ErrBadOutput)
	y := drawn(Point{-61, 5}, Point{51, -11}, 3)
	y[123] = float32(math.NaN())
	_, err = Read(y)
	require.ErrorIs(t, err, ErrBadOutput)
}
