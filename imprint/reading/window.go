package reading

import (
	"image"
	"math"

	"sitspan/imprint/homography"
	"sitspan/imprint/internal/cv"
	"sitspan/imprint/internal/rank"
	"sitspan/imprint/relief"
	"sitspan/imprint/tone"
)

const (
	burntOut  = 250 // grey level from which a sample counts as burnt out
	whiteSafe = 240 // grey level of the frame's white up to which light alone does not burn a sheet out
)

// Rectify reads the frame's window on the grid of package relief, in linear light, with the light on the
// frame and where the camera stood. A phone's local tone is taken off; nil is none.
func Rectify(
	grey *image.Gray,
	place func(relief.Point) homography.Pixel,
	view relief.View,
	local *tone.Tone,
) (w relief.Window, err error) {
	at := func(i int) homography.Pixel { return place(relief.At(i)) }
	levels, err := SampleAt(grey, relief.Columns, relief.Rows, at)
	if err != nil {
		return w, err
	}
	takeOff(local, levels, at)
	w = relief.Window{Light: Linear(levels), View: view}
	patches, err := patchLight(grey, place, local)
	if err != nil {
		return w, err
	}
	w.Frame, _ = relief.FitFrameLight(patches)
	return w, nil
}

// BurntShare is the share of the window that is burnt out. Of paper only that counts which the light on the
// frame's white does not burn out, too: a lamp's mirror image, that hides whatever lies under it. Bright
// paper beside dark ink hides nothing.
func BurntShare(w relief.Window, paper bool) (share float64) {
	for i, l := range w.Light {
		if l >= relief.Linear(burntOut) &&
			!(paper && math.Exp(w.Frame.At(relief.At(i))) > relief.Linear(whiteSafe)) {
			share += 1. / relief.Cells
		}
	}
	return share
}

// whiteShare is the share of a patch's samples that its white exceeds: the frame's own words and figures
// stand on some patches, and darken up to two thirds of the samples there.
const whiteShare = 0.1

// patchLight is the linear light of each patch of the frame where it is white; NaN where it is not in the
// picture.
func patchLight(
	grey *image.Gray,
	place func(relief.Point) homography.Pixel,
	local *tone.Tone,
) ([]float64, error) {
	const side = 11 // samples along a patch, 1 mm apart
	n := len(relief.Patches)
	at := func(i int) homography.Pixel {
		p, k := relief.Patches[i/(side*side)], i%(side*side)
		p.X += float64(k%side) - relief.PatchHalf
		p.Y += float64(k/side) - relief.PatchHalf
		return place(p)
	}
	levels, err := SampleAt(grey, side, side*n, at)
	if err != nil {
		return nil, err
	}
	takeOff(local, levels, at)
	light := make([]float64, n)
	for k := range light {
		light[k] = relief.Linear(rank.Quantile32(levels[k*side*side:(k+1)*side*side], 1-whiteShare))
	}
	return light, nil
}

// SampleAt reads grey levels at w x h places of the picture.
func SampleAt(grey *image.Gray, w, h int, at func(int) homography.Pixel) ([]float32, error) {
	mx, my := make([]float32, w*h), make([]float32, w*h)
	for i := range mx {
		p := at(i)
		mx[i], my[i] = float32(p.X), float32(p.Y)
	}
	return cv.Sample(grey, mx, my, w, h)
}

// Linear is grey levels as linear light.
func Linear(levels []float32) []float64 {
	l := make([]float64, len(levels))
	for i, v := range levels {
		l[i] = relief.Linear(float64(v))
	}
	return l
}

// ViewOf is where a camera stood, as package relief takes it; the zero View over a scan.
func ViewOf(c *homography.Camera) relief.View {
	if c == nil {
		return relief.View{}
	}
	return relief.View{X: c.Position.X, Y: c.Position.Y, Height: c.Height}
}
