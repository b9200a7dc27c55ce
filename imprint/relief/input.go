package relief

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Channels of the two nets' inputs.
const (
	FoamChannels = 7
	InkChannels  = 6
)

// The constants of the input, as in train/reading.py's normalise().
const (
	darkest     = 0.0015 // linear light below which the logarithm is cut
	scaleFloor  = 0.006  // of the robust scale: what grain and paint make of a flat pad
	madToSD     = 1.48
	mostScaled  = 6.0  // scaled values are cut at +- this
	overScale   = 0.15 // of the pad's brightness over the frame's
	lightScaleX = 100.0
	lightScaleY = 70.0
)

// Window is the picture of the frame's window on the grid.
type Window struct {
	Light []float64  // linear light, Cells values; NaN outside the picture
	Frame FrameLight // what the frame's white says of the light
	View  View
}

// Tensor is a net's input with the contrast that it was scaled by.
type Tensor struct {
	Values   []float32 // channel by channel, row by row
	Channels int
	Contrast float64 // robust standard deviation of ln light over its quadratic background
	Hidden   int     // cells outside the picture, filled with their neighbours' mean
}

// ErrNoWindow says that too much of the window lies outside the picture.
var ErrNoWindow = errors.New("the frame's window is not in the picture")

// Input makes a net's input from a window: ln of the light with its quadratic background taken off, robustly
// scaled; the scale; the place; the line of sight; and for foam the pad's brightness over the light on the
// frame.
func Input(w Window, channels int) (Tensor, error) {
	if len(w.Light) != Cells || (channels != FoamChannels && channels != InkChannels) {
		return Tensor{}, fmt.Errorf("a window has %d cells and 6 or 7 channels, not %d and %d", Cells, len(w.Light),
			channels)
	}
	l, hidden := logLight(w.Light)
	if hidden > Cells/5 {
		return Tensor{}, ErrNoWindow
	}
	t := Tensor{Values: make([]float32, channels*Cells), Channels: channels, Hidden: hidden}
	if channels == FoamChannels {
		t.fill(6, overFrame(l, w.Frame))
		foamBackground().takeOff(l)
	} else {
		inkBackground().takeOff(l)
	}
	t.Contrast = lowerMedianAbs(l)*madToSD + scaleFloor
	for i, v := range l {
		p := At(i)
		sx, sy := w.View.slopes(p)
		for c, value := range [6]float64{clamp(v/t.Contrast, mostScaled), math.Log(t.Contrast)/2 + 1, p.X / 100,
			p.Y / 70, sx, sy} {
			t.Values[c*Cells+i] = float32(value)
		}
	}
	return t, nil
}

// overFrame is ln of the pad's brightness over the light on the frame's plane, its median taken off.
func overFrame(l []float64, f FrameLight) []float64 {
	over := make([]float64, Cells)
	for i := range over {
		over[i] = l[i] - f.At(At(i))
	}
	m := lowerMedian(over)
	for i := range over {
		over[i] = clamp((over[i]-m)/overScale, mostScaled)
	}
	return over
}

func (t *Tensor) fill(channel int, v []float64) {
	for i, x := range v {
		t.Values[channel*Cells+i] = float32(x)
	}
}

// Mirrored is the input of the same window seen in a mirror: x turns round, left and right change places.
func (t Tensor) Mirrored() Tensor {
	m := t
	m.Values = make([]float32, len(t.Values))
	for c := range t.Channels {
		sign := float32(1)
		if c == 2 || c == 4 {
			sign = -1
		}
		for r := range Rows {
			at := c*Cells + r*Columns
			for x := range Columns {
				m.Values[at+x] = sign * t.Values[at+Columns-1-x]
			}
		}
	}
	return m
}

// logLight is ln of the light, with cells outside the picture given the mean of the rest.
func logLight(light []float64) (l []float64, hidden int) {
	l = make([]float64, Cells)
	var sum float64
	for i, v := range light {
		if math.IsNaN(v) {
			hidden++
			l[i] = math.NaN()
			continue
		}
		l[i] = math.Log(math.Max(v, darkest))
		sum += l[i]
	}
	if hidden == 0 || hidden == Cells {
		return l, hidden
	}
	for i := range l {
		if math.IsNaN(l[i]) {
			l[i] = sum / float64(Cells-hidden)
		}
	}
	return l, hidden
}

// lowerMedian is the lower of the two middle values: what the training's median is.
func lowerMedian(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[(len(s)-1)/2]
}

func lowerMedianAbs(v []float64) float64 {
	a := make([]float64, len(v))
	for i, x := range v {
		a[i] = math.Abs(x)
	}
	return lowerMedian(a)
}

// Linear turns a grey level (0 to 255, gamma-encoded as sRGB, IEC 61966-2-1, whose constants public copies
// print) into linear light from 0 to 1.
func Linear(level float64) float64 {
	v := level / 255
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}
