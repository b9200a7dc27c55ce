package reading

import (
	"image"
	"math"

	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/internal/rank"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
)

// Sheet is a bare scan reduced to a coarse map of ink: how much darker each cell is than the paper, in ln of
// light.
type Sheet struct {
	step  float64 // mm
	w, h  int
	ink   []float64
	paper float64 // linear light of the unmarked paper
	edges []sheetEdge
}

// NewSheet samples the whole scan on a 2 mm grid.
func NewSheet(p *photo.Photo, grey *image.Gray) (*Sheet, error) {
	s := &Sheet{step: 2}
	s.w = max(4, int(float64(p.Width)/p.Density.X/s.step))
	s.h = max(4, int(float64(p.Height)/p.Density.Y/s.step))
	levels, err := SampleAt(grey, s.w, s.h, func(i int) homography.Pixel {
		q := s.at(i)
		return homography.Pixel{X: q.X*p.Density.X - 0.5, Y: q.Y*p.Density.Y - 0.5}
	})
	if err != nil {
		return nil, err
	}
	light := Linear(levels)
	order := rank.Sorted(light)
	s.paper = math.Max(1e-3, order[len(order)*7/10])
	s.findEdges(light)
	s.ink = make([]float64, len(light))
	for i, l := range light {
		s.ink[i] = math.Max(0, math.Log(s.paper/math.Max(l, 0.02))-0.08)
	}
	return s, nil
}

// at is the place of cell i in mm from the picture's top left edge.
func (s *Sheet) at(i int) relief.Point {
	return relief.Point{X: (float64(i%s.w) + 0.5) * s.step, Y: (float64(i/s.w) + 0.5) * s.step}
}

// Locate finds the two marks: the ink's own axis, and the mean of either half along it. It returns the middle
// between them (mm from the top left edge) and the turn that lays the line between them level.
func (s *Sheet) Locate() (middle relief.Point, turn float64, why *codes.Said) {
	if s.steepest() > judge.HardEdge.Value {
		return middle, 0, because(codes.HardEdges.With())
	}
	var sum, mx, my float64
	for i, k := range s.ink {
		q := s.at(i)
		sum, mx, my = sum+k, mx+k*q.X, my+k*q.Y
	}
	if sum*s.step*s.step < 40 { // mm^2 times ln light: less than a fingertip of solid ink
		return middle, 0, because(codes.NoDent.With())
	}
	centre := relief.Point{X: mx / sum, Y: my / sum}
	turn = s.axis(centre)
	for range 8 {
		a, b := s.halves(centre, turn)
		centre = relief.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}
		turn = math.Atan2(b.Y-a.Y, b.X-a.X)
	}
	a, b := s.halves(centre, turn)
	if math.Hypot(b.X-a.X, b.Y-a.Y) < 0.6*judge.LeastSpacing.Value {
		return middle, 0, because(codes.OneDent.With())
	}
	return centre, turn, nil
}

// axis is the direction of the ink's largest extent about c, within 90 degrees of x.
func (s *Sheet) axis(c relief.Point) float64 {
	var xx, xy, yy float64
	for i, k := range s.ink {
		q := s.at(i)
		xx += k * (q.X - c.X) * (q.X - c.X)
		xy += k * (q.X - c.X) * (q.Y - c.Y)
		yy += k * (q.Y - c.Y) * (q.Y - c.Y)
	}
	return math.Atan2(2*xy, xx-yy) / 2
}

// halves are the ink's means on either side of c along the direction turn, dark cells counting more.
func (s *Sheet) halves(c relief.Point, turn float64) (a, b relief.Point) {
	cos, sin := math.Cos(turn), math.Sin(turn)
	var n [2]float64
	var sum [2]relief.Point
	for i, k := range s.ink {
		q := s.at(i)
		side := 0
		if (q.X-c.X)*cos+(q.Y-c.Y)*sin > 0 {
			side = 1
		}
		k *= k
		n[side] += k
		sum[side].X += k * q.X
		sum[side].Y += k * q.Y
	}
	for i := range sum {
		if n[i] == 0 {
			return c, c
		}
		sum[i].X /= n[i]
		sum[i].Y /= n[i]
	}
	return sum[0], sum[1]
}

func because(s codes.Said) *codes.Said { return &s }
