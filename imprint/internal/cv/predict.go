package cv

import (
	"encoding/binary"
	"math"

	"gocv.io/x/gocv"

	"sitspan/calibration"
)

// layout is where the marks seen so far say that the frame lies: a plain
// projective map without lens terms, good to a fraction of a mark, never used
// to measure.
type layout struct {
	known bool
	h     [9]float64 // px from mm, row by row
	side  float64    // median side of the marks it came from, px
}

// place maps a point of the frame, mm, into the picture. ok is false beyond
// the horizon.
func (l layout) place(p calibration.Point) (q Pixel, ok bool) {
	w := l.h[6]*p.X + l.h[7]*p.Y + l.h[8]
	if w*l.h[8] <= 0 {
		return q, false
	}
	return Pixel{X: (l.h[0]*p.X + l.h[1]*p.Y + l.h[2]) / w, Y: (l.h[3]*p.X + l.h[4]*p.Y + l.h[5]) / w}, true
}

// quad is where a mark's corners should be.
func (l layout) quad(m calibration.Mark) (q [4]Pixel, ok bool) {
	for i, c := range m.Corners() {
		if q[i], ok = l.place(c); !ok {
			return q, false
		}
	}
	return q, convex(q)
}

// agrees reports whether a sighting lies where the layout has its mark, to a
// third of a side: a lens bends and a frame buckles by less.
func (l layout) agrees(m sighting) bool {
	q, ok := l.quad(calibration.ControlFrame.Marks[m.id])
	if !ok {
		return false
	}
	tolerance := meanSide(m.corners) / 3
	for i := range 4 {
		if q[i].Distance(m.corners[i]) > tolerance {
			return false
		}
	}
	return true
}

// locate fits the layout robustly to the sure sightings; two marks are the
// least. The random choices inside have a fixed seed in OpenCV.
func locate(sighted []sighting) (l layout) {
	var mm, px []float64
	var sides []float64
	for _, s := range sighted {
		if s.distance > seedDistance {
			continue
		}
		sides = append(sides, meanSide(s.corners))
		for i, c := range calibration.ControlFrame.Marks[s.id].Corners() {
			mm = append(mm, c.X, c.Y)
			px = append(px, s.corners[i].X, s.corners[i].Y)
		}
	}
	if len(sides) < 2 {
		return l
	}
	l.side = median(sides)
	l.h, l.known = robustMap(mm, px, 0.15*l.side)
	return l
}

// robustMap is OpenCV's robust fit of to over from, pairs of coordinates,
// with the given tolerance in the units of to.
func robustMap(from, to []float64, tolerance float64) (h [9]float64, ok bool) {
	n := len(from) / 2
	if n < 4 || len(from) != len(to) || !finite(from) || !finite(to) || tolerance <= 0 {
		return h, false
	}
	src, err := borrow(n, 1, gocv.MatTypeCV64FC2, 16, bytesOf(from))
	if err != nil {
		return h, false
	}
	defer src.Close()
	dst, err := borrow(n, 1, gocv.MatTypeCV64FC2, 16, bytesOf(to))
	if err != nil {
		return h, false
	}
	defer dst.Close()
	mask := gocv.NewMat()
	defer mask.Close()
	m := gocv.FindHomography(src.Mat, &dst.Mat, gocv.HomograpyMethodRANSAC, tolerance, &mask, 2000, 0.999)
	defer m.Close()
	v, err := m.DataPtrFloat64()
	if err != nil || len(v) != 9 || !finite(v) || v[8] == 0 {
		return h, false
	}
	return [9]float64(v), true
}

func finite(v []float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// bytesOf copies numbers into the bytes that OpenCV reads.
func bytesOf(v []float64) []byte {
	b := make([]byte, 0, 8*len(v))
	for _, x := range v {
		b = binary.NativeEndian.AppendUint64(b, math.Float64bits(x))
	}
	return b
}

// predict looks for the missing marks where the layout has them.
func (s *search) predict() {
	if !s.layout.known {
		return
	}
	best := s.best()
	for _, m := range calibration.ControlFrame.Marks {
		if _, found := best[m.ID]; found {
			continue
		}
		if q, ok := s.layout.quad(m); ok && s.inside(q) {
			before := len(s.sighted)
			// A tenth of a side covers a lens and a buckle.
			s.try(&attempt{quad: q, tolerance: 0.1 * meanSide(q)})
			if len(s.sighted) > before && s.sighted[before].id == m.ID && s.layout.agrees(s.sighted[before]) {
				s.d.Predicted++
			}
		}
	}
}

// inside reports whether a quad lies in the picture and is large enough.
func (s *search) inside(q [4]Pixel) bool {
	for _, c := range q {
		if c.X < 0 || c.Y < 0 || c.X > float64(s.plane.w-1) || c.Y > float64(s.plane.h-1) {
			return false
		}
	}
	return shortestSide(q) >= minFindSide
}
