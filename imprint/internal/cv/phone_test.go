package cv

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// phone is what stands between a lens and a file: a phone's own processing
// and a messenger's. Each step is left out where its value is 0.
type phone struct {
	denoise float64 // bilateral filter over 7 px: range in grey levels
	lift    float64 // local tone: share of the way from the surround to mid grey, halved
	amount  float64 // of the unsharp mask
	radius  float64 // of the unsharp mask: its Gaussian's sigma, px
	long    int     // long side that a messenger shrinks to, px
	back    bool    // enlarged to its first size again
	after   float64 // amount of an unsharp mask of 0.7 px after the shrinking
	quality int     // of the JPEG
}

func (f phone) String() string {
	s := fmt.Sprintf("a%.1f r%.1f", f.amount, f.radius)
	if f.denoise > 0 {
		s += fmt.Sprintf(" dn%.0f", f.denoise)
	}
	if f.lift > 0 {
		s += fmt.Sprintf(" lt%.1f", f.lift)
	}
	if f.long > 0 {
		s += fmt.Sprintf(" %dpx", f.long)
	}
	if f.back {
		s += " up"
	}
	if f.after > 0 {
		s += fmt.Sprintf(" s%.1f", f.after)
	}
	return s + fmt.Sprintf(" q%d", f.quality)
}

// scale is how many px of the picture a px of the source becomes.
func (f phone) scale(img image.Rectangle) float64 {
	if long := max(img.Dx(), img.Dy()); f.long > 0 && f.long < long && !f.back {
		return float64(f.long) / float64(long)
	}
	return 1
}

// spoil runs a grey picture through the phone.
func (f phone) spoil(t testing.TB, img *image.Gray) *image.Gray {
	t.Helper()
	w, h := img.Rect.Dx(), img.Rect.Dy()
	v := make([]float32, w*h)
	for i, p := range img.Pix {
		v[i] = float32(p)
	}
	src, err := borrow(h, w, gocv.MatTypeCV32F, 4, bytesOf32(v))
	require.NoError(t, err)
	defer src.Close()
	m := src.Mat
	if f.denoise > 0 {
		smooth := gocv.NewMat()
		defer smooth.Close()
		gocv.BilateralFilter(m, &smooth, 7, f.denoise, 3)
		m = smooth
	}
	if f.lift > 0 {
		base := gocv.NewMat()
		defer base.Close()
		gocv.BoxFilter(m, &base, -1, image.Pt(w/6, w/6))
		blend(t, m, base, func(x, b float32) float32 { return x + float32(f.lift)*(127.5-b)/2 })
	}
	unsharp(t, m, f.amount, f.radius)
	if f.long > 0 && f.long < max(w, h) {
		small := gocv.NewMat()
		defer small.Close()
		k := float64(f.long) / float64(max(w, h))
		size := image.Pt(int(math.Round(k*float64(w))), int(math.Round(k*float64(h))))
		gocv.Resize(m, &small, size, 0, 0, gocv.InterpolationArea)
		unsharp(t, small, f.after, 0.7)
		m = small
		if f.back {
			large := gocv.NewMat()
			defer large.Close()
			sent := jpegged(t, m, f.quality)
			defer sent.Close()
			gocv.Resize(sent.Mat, &large, image.Pt(w, h), 0, 0, gocv.InterpolationCubic)
			m = large
		}
	}
	sent := jpegged(t, m, f.quality)
	defer sent.Close()
	return rounded(t, sent.Mat)
}

// blend replaces each value by f of it and the other picture's.
func blend(t testing.TB, m, other gocv.Mat, f func(x, o float32) float32) {
	t.Helper()
	v, err := m.DataPtrFloat32()
	require.NoError(t, err)
	o, err := other.DataPtrFloat32()
	require.NoError(t, err)
	for i := range v {
		v[i] = min(255, max(0, f(v[i], o[i])))
	}
}

// unsharp adds the difference to a blurred copy, and clips.
func unsharp(t testing.TB, m gocv.Mat, amount, sigma float64) {
	t.Helper()
	if amount == 0 {
		return
	}
	soft := gocv.NewMat()
	defer soft.Close()
	gocv.GaussianBlur(m, &soft, image.Pt(0, 0), sigma, sigma, gocv.BorderReplicate)
	blend(t, m, soft, func(x, s float32) float32 { return x + float32(amount)*(x-s) })
}

// rounded gives whole grey levels.
func rounded(t testing.TB, m gocv.Mat) *image.Gray {
	t.Helper()
	v, err := m.DataPtrFloat32()
	require.NoError(t, err)
	img := image.NewGray(image.Rect(0, 0, m.Cols(), m.Rows()))
	for i, x := range v {
		img.Pix[i] = uint8(min(255, max(0, x+0.5)))
	}
	return img
}

// jpegged writes and reads a JPEG file; quality 0 only rounds. The caller closes it.
func jpegged(t testing.TB, m gocv.Mat, quality int) *borrowed {
	t.Helper()
	img := rounded(t, m)
	if quality > 0 {
		var b bytes.Buffer
		require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}))
		back, err := jpeg.Decode(&b)
		require.NoError(t, err)
		img = back.(*image.Gray)
	}
	v := make([]float32, 0, len(img.Pix))
	for y := range img.Rect.Dy() {
		for _, p := range img.Pix[y*img.Stride : y*img.Stride+img.Rect.Dx()] {
			v = append(v, float32(p))
		}
	}
	out, err := borrow(m.Rows(), m.Cols(), gocv.MatTypeCV32F, 4, bytesOf32(v))
	require.NoError(t, err)
	return out
}
