package imprint

import (
	"image"
	"math"
	"slices"

	"sitspan/imprint/homography"
	"sitspan/imprint/internal/cv"
	"sitspan/imprint/relief"
)

const (
	burntOut  = 250 // grey level from which a sample counts as burnt out
	whiteSafe = 240 // grey level of the frame's white up to which light alone does not burn a sheet out
)

// rectify reads the frame's window on the grid of package relief, in linear light, with the light on the frame and where
// the camera stood.
func rectify(grey *image.Gray, place func(relief.Point) homography.Pixel, view relief.View) (w relief.Window, err error) {
	levels, err := sampleAt(grey, relief.Columns, relief.Rows, func(i int) homography.Pixel { return place(relief.At(i)) })
	if err != nil {
		return w, err
	}
	w = relief.Window{Light: linear(levels), View: view}
	patches, err := patchLight(grey, place)
	if err != nil {
		return w, err
	}
	w.Frame, _ = relief.FitFrameLight(patches)
	return w, nil
}

// burntShare is the share of the window that is burnt out. Of paper only that counts which the light on the frame's white does
// not burn out, too: a lamp's mirror image, that hides whatever lies under it. Bright paper beside dark ink hides nothing.
func burntShare(w relief.Window, paper bool) (share float64) {
	for i, l := range w.Light {
		if l >= relief.Linear(burntOut) && !(paper && math.Exp(w.Frame.At(relief.At(i))) > relief.Linear(whiteSafe)) {
			share += 1. / relief.Cells
		}
	}
	return share
}

// whiteShare is the share of a patch's samples that its white exceeds: the frame's own words and figures stand on some
// patches, and darken up to two thirds of the samples there.
const whiteShare = 0.1

// patchLight is the linear light of each patch of the frame where it is white; NaN where it is not in the picture.
func patchLight(grey *image.Gray, place func(relief.Point) homography.Pixel) ([]float64, error) {
	const side = 11 // samples along a patch, 1 mm apart
	n := len(relief.Patches)
	levels, err := sampleAt(grey, side, side*n, func(i int) homography.Pixel {
		p, k := relief.Patches[i/(side*side)], i%(side*side)
		p.X += float64(k%side) - relief.PatchHalf
		p.Y += float64(k/side) - relief.PatchHalf
		return place(p)
	})
	if err != nil {
		return nil, err
	}
	light := make([]float64, n)
	for k := range light {
		light[k] = relief.Linear(quantile32(levels[k*side*side:(k+1)*side*side], 1-whiteShare))
	}
	return light, nil
}

func sampleAt(grey *image.Gray, w, h int, at func(int) homography.Pixel) ([]float32, error) {
	mx, my := make([]float32, w*h), make([]float32, w*h)
	for i := range mx {
		p := at(i)
		mx[i], my[i] = float32(p.X), float32(p.Y)
	}
	return cv.Sample(grey, mx, my, w, h)
}

func linear(levels []float32) []float64 {
	l := make([]float64, len(levels))
	for i, v := range levels {
		l[i] = relief.Linear(float64(v))
	}
	return l
}

func median32(v []float32) float64 { return quantile32(v, 0.5) }

// quantile32 is NaN where any value is: half a patch out of the picture is no patch.
func quantile32(v []float32, p float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s) // NaN first
	if s[0] != s[0] {
		return float64(s[0])
	}
	return float64(s[int(p*float64(len(s)))])
}

func sorted(v []float64) []float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s
}
