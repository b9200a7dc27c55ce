package cv

import (
	"encoding/binary"
	"image"
	"math"
	"math/bits"

	"gocv.io/x/gocv"

	"sitspan/imprint/internal/blocks"
	"sitspan/imprint/internal/cores"
)

const (
	// searchSide is the long side in px of the reduced picture that is
	// searched first; retrySide that of the second try for small marks.
	searchSide, retrySide = 1600, 3200
	// minQuadSide is the shortest side in px of the reduced picture that a
	// candidate may have: a module is then 1.7 px.
	minQuadSide = 12
	// halfQuadSide likewise in a half searched as it is, per pixel that the long side asked for has of it: blur
	// takes as much from an outline in either, which is more of the fewer pixels.
	halfQuadSide = 10
	// maxAspect bounds the ratio of a candidate's longest to shortest side; a
	// square seen at 60 degrees has 2, perspective adds to it.
	maxAspect = 3.5
	// maxRuns bounds the dark runs in a thresholded picture, so that noise or
	// cloth cannot make millions of contours.
	maxRuns = 160_000
	// maxQuads bounds the candidates of one threshold.
	maxQuads = 3000
)

// thresholdWindows are the sides of the adaptive threshold's windows, as
// shares of the long side: from a small mark's border to a large mark.
var thresholdWindows = [...]float64{0.013, 0.032, 0.075}

// halfFrom is the long side in px from which a picture is halved before it is searched: its half, averaged
// over 2 x 2 px, still has as many as any search needs, and is made in a tenth of the time.
const halfFrom = 7 * searchSide / 2

// halved is the plane with half its sides.
func (p plane8) halved() plane8 { return plane8{blocks.Halved(p.pix, p.w, p.w, p.h), p.w / 2, p.h / 2} }

// reduced is the picture at search size.
type reduced struct {
	mat   gocv.Mat
	scale float64 // px of the full picture per px of this one
	least float64 // the shortest side that a mark may have, px of this one
}

// toFull maps a position of the reduced picture to the full one: both count
// from pixel centres.
func (r reduced) toFull(x, y float64) Pixel {
	return Pixel{X: (x+0.5)*r.scale - 0.5, Y: (y+0.5)*r.scale - 0.5}
}

// reduce shrinks the picture by area averaging to the given long side, or
// copies it when it is smaller. A pixel of it is so many px of the full picture.
func reduce(src gocv.Mat, longSide int, pixel float64) reduced {
	long := max(src.Cols(), src.Rows())
	scale := float64(long) / float64(longSide)
	if scale <= 1 && pixel > 1 { // a mark may be as small in the full picture as at the long side asked for
		return reduced{src.Clone(), pixel, halfQuadSide * scale}
	} else if scale <= 1 {
		return reduced{src.Clone(), 1, minQuadSide}
	}
	// At least 1 px: a picture may be 30000 px long and 14 px high.
	size := image.Pt(max(1, int(math.Round(float64(src.Cols())/scale))),
		max(1, int(math.Round(float64(src.Rows())/scale))))
	dst := gocv.NewMat()
	gocv.Resize(src, &dst, size, 0, 0, gocv.InterpolationArea)
	return reduced{dst, pixel * scale, minQuadSide}
}

// quads returns the convex four-cornered outlines in the reduced picture, in
// full-picture px, clockwise, with the number of outlines looked at.
func (r reduced) quads() (found [][4]Pixel, contours int) {
	blurred := gocv.NewMat()
	defer blurred.Close()
	gocv.GaussianBlur(r.mat, &blurred, image.Pt(3, 3), 0, 0, gocv.BorderReplicate)
	offset := thresholdOffset(r.mat)
	var by [len(thresholdWindows)][][4]Pixel
	var counts [len(thresholdWindows)]int
	cores.Each(len(thresholdWindows), func(i int) {
		by[i], counts[i] = r.quadsUnder(blurred, thresholdWindows[i], offset)
	})
	for i := range by {
		found, contours = append(found, by[i]...), contours+counts[i]
	}
	return found, contours
}

// quadsUnder are those that one threshold's window shows, its side a share of the long one, with
// the number of outlines.
func (r reduced) quadsUnder(blurred gocv.Mat, share float64, offset float32) ([][4]Pixel, int) {
	binary := gocv.NewMat()
	defer binary.Close()
	long := max(r.mat.Cols(), r.mat.Rows())
	window := max(5, int(share*float64(long)))/2*2 + 1 // odd and above 1, as OpenCV demands
	gocv.AdaptiveThreshold(blurred, &binary, 255, gocv.AdaptiveThresholdMean, gocv.ThresholdBinaryInv, window,
		offset)
	if darkRuns(binary) > maxRuns {
		gocv.MedianBlur(binary, &binary, 5)
		if darkRuns(binary) > maxRuns {
			return nil, 0
		}
	}
	return r.outlines(binary)
}

// thresholdOffset is how far below its surround a pixel must lie to be dark:
// a share of the picture's own range, so that low contrast is not lost, yet
// above the noise of a flat area.
func thresholdOffset(m gocv.Mat) float32 {
	pix, err := m.DataPtrUint8()
	if err != nil || len(pix) == 0 {
		return 7
	}
	var hist [256]int
	n := 0
	for i := 0; i < len(pix); i += 7 {
		hist[pix[i]]++
		n++
	}
	lo, hi := percentile(hist[:], n, 0.02), percentile(hist[:], n, 0.98)
	return float32(min(10, max(3, 0.06*float64(hi-lo))))
}

// percentile is the grey level below which the share p of n counts lies.
func percentile(hist []int, n int, p float64) int {
	sum := 0
	for level, c := range hist {
		if sum += c; float64(sum) >= p*float64(n) {
			return level
		}
	}
	return len(hist) - 1
}

// darkRuns counts the starts of horizontal runs in a binary picture: an upper
// bound for the number of outlines in it, and cheap.
func darkRuns(binary gocv.Mat) int {
	pix, err := binary.DataPtrUint8()
	if err != nil {
		return math.MaxInt
	}
	return runsIn(pix)
}

// runsIn counts the bytes of 255 that follow a 0, or begin: eight bytes at a time, the highest bit of each.
func runsIn(pix []byte) (runs int) {
	const highest = 0x8080808080808080
	last := uint64(0)
	for ; len(pix) >= 8; pix = pix[8:] {
		eight := binary.LittleEndian.Uint64(pix)
		runs += bits.OnesCount64(eight & highest &^ (eight<<8 | last))
		last = eight >> 56
	}
	for _, v := range pix {
		if uint64(v) > last {
			runs++
		}
		last = uint64(v)
	}
	return runs
}

// outlines traces the binary picture and keeps what has four corners.
func (r reduced) outlines(binary gocv.Mat) (found [][4]Pixel, contours int) {
	all := gocv.FindContours(binary, gocv.RetrievalList, gocv.ChainApproxNone)
	defer all.Close()
	n := all.Size()
	for i := 0; i < n && len(found) < maxQuads; i++ {
		c := all.At(i) // a view into all: not to be closed
		if float64(c.Size()) < 4*r.least {
			continue
		}
		if q, ok := r.quad(c); ok {
			found = append(found, q)
		}
	}
	return found, n
}

// quad approximates an outline by a polygon and keeps a plausible mark.
func (r reduced) quad(c gocv.PointVector) (q [4]Pixel, ok bool) {
	// 4 % of the outline ignores a tick that touches the border yet keeps a
	// corner; the same share serves marks of every size.
	approx := gocv.ApproxPolyDP(c, 0.04*float64(c.Size()), true)
	defer approx.Close()
	if approx.Size() != 4 {
		return q, false
	}
	for i := range 4 {
		p := approx.At(i)
		q[i] = r.toFull(float64(p.X), float64(p.Y))
	}
	if turnedArea(q) < 0 {
		q[1], q[3] = q[3], q[1]
	}
	long := 0.0
	for i := range 4 {
		long = max(long, q[i].Distance(q[(i+1)%4]))
	}
	short := shortestSide(q)
	return q, convex(q) && short >= r.least*r.scale && long <= maxAspect*short
}
