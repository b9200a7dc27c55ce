package relief

import (
	"errors"
	"fmt"
	"math"
)

// OutputChannels is the number of maps that the nets answer with; train/model.py lists them.
const OutputChannels = 23

const readRadius = 10.0 // mm, of the soft window round a peak in which the maps are averaged

// Side is what the net says of one dent, as it appears on the frame's plane.
type Side struct {
	At          Point
	VarX, VarY  float64    // mm^2
	Depth       float64    // mm below the pad's flat surface; meaningless for ink
	VarDepth    float64    // mm^2
	Flat        float64    // radius in mm of the area within 0.3 mm of the deepest point
	Oblong      [2]float64 // ln(long/short axis) times (cos 2a, sin 2a), a the long axis's direction
	VarOblong   float64
	Peak        float64 // share of the score in the cell at the peak
	Second      float64 // score of the best rival peak beyond 20 mm, as a share of this one's
	SecondPlace Point
}

// Reading is what the net says of a window.
type Reading struct {
	Left, Right Side
	VarSpacing  float64    // of the distance on the plane, mm^2, by the net's own word
	Count       [4]float64 // probabilities of no dent, one, two, more
	Mirror      float64    // mm, how much the mirrored reading of the distance differed (0 for a single reading)
}

// ErrBadOutput says that a net's output is not what Read expects.
var ErrBadOutput = errors.New("the net's output is not a reading")

// Read turns the net's maps (OutputChannels x Rows x Columns) into numbers, as train/reading.py's read()
// does: a soft average within some 10 mm of each score's peak.
func Read(y []float32) (Reading, error) {
	if len(y) != OutputChannels*Cells {
		return Reading{}, fmt.Errorf("%w: %d values", ErrBadOutput, len(y))
	}
	for _, v := range y {
		if v != v || math.IsInf(float64(v), 0) {
			return Reading{}, fmt.Errorf("%w: a value is not finite", ErrBadOutput)
		}
	}
	var r Reading
	var logSpacing float64
	for side, s := range []*Side{&r.Left, &r.Right} {
		*s = readSide(y, side, &logSpacing)
	}
	r.VarSpacing = math.Exp(clamp(logSpacing/2, 9))
	r.Count = softmaxMeans(y[19*Cells:])
	return r, nil
}

func readSide(y []float32, side int, logSpacing *float64) Side {
	score := y[side*Cells : (side+1)*Cells]
	p := softmax(score)
	top := peak(p)
	centre := At(top)
	var weight, x, yy float64
	w := make([]float64, Cells)
	for i := range p {
		q := At(i)
		d2 := (q.X-centre.X)*(q.X-centre.X) + (q.Y-centre.Y)*(q.Y-centre.Y)
		w[i] = p[i] * math.Exp(-d2/(2*readRadius*readRadius))
		weight += w[i]
		x += w[i] * q.X
		yy += w[i] * q.Y
	}
	mean := func(channel int) (m float64) {
		for i, v := range y[channel*Cells : (channel+1)*Cells] {
			m += w[i] * float64(v)
		}
		return m / weight
	}
	variance := func(channel int) float64 { return math.Exp(clamp(mean(channel), 9)) }
	*logSpacing += mean(18)
	s := Side{
		At:   Point{x / weight, yy / weight},
		VarX: variance(2 + side), VarY: variance(4 + side),
		Depth: 10 * mean(6+side), VarDepth: 100 * variance(8+side), Flat: 10 * mean(10+side),
		Oblong: [2]float64{mean(12 + side), mean(14 + side)}, VarOblong: variance(16 + side),
		Peak: p[top],
	}
	s.Second, s.SecondPlace = rival(p, centre, p[top])
	return s
}

// rival is the best peak beyond 20 mm from centre.
func rival(p []float64, centre Point, top float64) (share float64, at Point) {
	for i, v := range p {
		q := At(i)
		if v > share && math.Hypot(q.X-centre.X, q.Y-centre.Y) > 20 {
			share, at = v, q
		}
	}
	return share / top, at
}

func softmax(score []float32) []float64 {
	most := math.Inf(-1)
	for _, v := range score {
		most = math.Max(most, float64(v))
	}
	p, sum := make([]float64, len(score)), 0.0
	for i, v := range score {
		p[i] = math.Exp(float64(v) - most)
		sum += p[i]
	}
	for i := range p {
		p[i] /= sum
	}
	return p
}

func softmaxMeans(y []float32) (p [4]float64) {
	means := make([]float32, 4)
	for c := range means {
		var s float64
		for _, v := range y[c*Cells : (c+1)*Cells] {
			s += float64(v)
		}
		means[c] = float32(s / Cells)
	}
	copy(p[:], softmax(means))
	return p
}

func peak(p []float64) (at int) {
	for i, v := range p {
		if v > p[at] {
			at = i
		}
	}
	return at
}

// Mirrored gives the reading of a mirrored window in the window's own axes.
func (r Reading) Mirrored() Reading {
	turn := func(s Side) Side {
		s.At.X, s.SecondPlace.X = -s.At.X, -s.SecondPlace.X
		s.Oblong[1] = -s.Oblong[1]
		return s
	}
	m := r
	m.Left, m.Right = turn(r.Right), turn(r.Left)
	return m
}

// Distance is the distance of the two centres on the plane, mm.
func (r Reading) Distance() float64 {
	return math.Hypot(r.Right.At.X-r.Left.At.X, r.Right.At.Y-r.Left.At.Y)
}

// Mean combines a reading and its mirror image's (already turned back by Mirrored): the mean of the two, with
// the mean of their variances, since their errors are much the same; half their difference is added to the
// spacing's.
func (r Reading) Mean(m Reading) Reading {
	mean := Reading{
		Left: r.Left.mean(m.Left), Right: r.Right.mean(m.Right),
		VarSpacing: (r.VarSpacing + m.VarSpacing) / 2,
		Mirror:     math.Abs(r.Distance() - m.Distance()),
	}
	for i := range mean.Count {
		mean.Count[i] = (r.Count[i] + m.Count[i]) / 2
	}
	mean.VarSpacing += mean.Mirror * mean.Mirror / 4
	return mean
}

func (s Side) mean(t Side) Side {
	u := Side{
		At:   Point{(s.At.X + t.At.X) / 2, (s.At.Y + t.At.Y) / 2},
		VarX: (s.VarX + t.VarX) / 2, VarY: (s.VarY + t.VarY) / 2,
		Depth: (s.Depth + t.Depth) / 2, VarDepth: (s.VarDepth + t.VarDepth) / 2,
		Flat:      (s.Flat + t.Flat) / 2,
		Oblong:    [2]float64{(s.Oblong[0] + t.Oblong[0]) / 2, (s.Oblong[1] + t.Oblong[1]) / 2},
		VarOblong: (s.VarOblong + t.VarOblong) / 2,
		Peak:      (s.Peak + t.Peak) / 2, Second: math.Max(s.Second, t.Second), SecondPlace: s.SecondPlace,
	}
	if t.Second > s.Second {
		u.SecondPlace = t.SecondPlace
	}
	return u
}
