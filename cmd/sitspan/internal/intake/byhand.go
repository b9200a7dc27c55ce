package intake

import (
	"fmt"
	"math"
	"sort"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/imprint"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
	"sitspan/imprint/reference"
)

// HandScale is what a person set on a photo without a frame: px of the upright picture.
type HandScale struct {
	record.HandScale
	Left  [2]float64 `json:"left"` // both centres, as the rider sat
	Right [2]float64 `json:"right"`
	U     float64    `json:"u_mm"` // standard uncertainty of a centre, mm; 0 takes the default
}

// The scales that a person can set.
const (
	ByRule = "rule" // two points, their distance typed
	ByCard = "card" // a card's four corners, where its edges would meet
)

// cardSkew is how far the ratio of a card's sides may be from its own: a camera tilted by 30 degrees shortens
// one of them to 0.87, and fingers set the corners.
const cardSkew = 0.18

// ByHand measures a photo by a scale and centres that a person set. The error says what is wrong with them,
// or with the photo. A card's face is masked.
func (s *Station) ByHand(path string, h HandScale) (Outcome, error) {
	p, err := photo.Read(path, s.options.Limits)
	if err != nil {
		return Outcome{}, err
	}
	scale, face, err := scaleOf(h.HandScale)
	if err != nil {
		return Outcome{}, err
	}
	m, err := imprint.MeasureByHandScale(
		p,
		s.settings,
		scale[0],
		scale[1],
		h.MM,
		[2]homography.Pixel{pixelOf(h.Left), pixelOf(h.Right)},
		h.U,
	)
	if err != nil {
		return Outcome{}, err
	}
	if face != nil {
		m.Masked = append(m.Masked, *face)
	}
	o := s.outcome(m, p)
	if g := o.Record.Measurement.Geometry; g != nil {
		g.Hand = &h.HandScale
	}
	return o, nil
}

func pixelOf(q [2]float64) homography.Pixel { return homography.Pixel{X: q[0], Y: q[1]} }

// scaleOf is the scale as two points h.MM apart, and a card's face.
func scaleOf(h record.HandScale) (ends [2]homography.Pixel, face *[4]homography.Pixel, err error) {
	switch {
	case h.Source == ByRule && len(h.Points) == 2:
		return [2]homography.Pixel{pixelOf(h.Points[0]), pixelOf(h.Points[1])}, nil, nil
	case h.Source == ByCard && len(h.Points) == 4:
		quad := inOrder(h.Points)
		ends, err = cardEnds(quad)
		return ends, grown(quad), err
	}
	return ends, nil, &HandFault{Code: "points"}
}

// HandFault is what is wrong with a scale set by hand: a stable code, and the numbers that belong to it.
type HandFault struct {
	Code string // points, card (ratio seen, ratio needed)
	Args []any
}

// Error says it in English.
func (f *HandFault) Error() string {
	if f.Code == "card" {
		return fmt.Sprintf(
			"the four points have sides of %.2f to 1, a card has %.2f to 1: put them where the card's edges would "+
				"meet",
			f.Args...)
	}
	return "a scale by hand needs two points of a rule, or the four corners of a card"
}

// Check says what is wrong with the points, as a *HandFault.
func (h HandScale) Check() error {
	_, _, err := scaleOf(h.HandScale)
	return err
}

// CardMM is the distance in mm between the middles of a card's short sides.
const CardMM = reference.CardWidth

// inOrder puts four corners in order round their middle, whichever way they were set.
func inOrder(points [][2]float64) (quad [4]homography.Pixel) {
	var mid homography.Pixel
	for i, q := range points {
		quad[i] = pixelOf(q)
		mid.X, mid.Y = mid.X+q[0]/4, mid.Y+q[1]/4
	}
	angle := func(q homography.Pixel) float64 { return math.Atan2(q.Y-mid.Y, q.X-mid.X) }
	sort.Slice(quad[:], func(i, j int) bool { return angle(quad[i]) < angle(quad[j]) })
	return quad
}

// grown is a card's face with a rim, for corners that fingers set: 3 % on either side.
func grown(q [4]homography.Pixel) *[4]homography.Pixel {
	const rim = 1.06
	var mid homography.Pixel
	for _, c := range q {
		mid.X, mid.Y = mid.X+c.X/4, mid.Y+c.Y/4
	}
	for i, c := range q {
		q[i] = homography.Pixel{X: mid.X + rim*(c.X-mid.X), Y: mid.Y + rim*(c.Y-mid.Y)}
	}
	return &q
}

// cardEnds are the middles of a card's two short sides: what they are apart is the mean of the long ones,
// tilt or none.
func cardEnds(q [4]homography.Pixel) ([2]homography.Pixel, error) {
	middle := func(a, b homography.Pixel) homography.Pixel {
		return homography.Pixel{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}
	}
	one := [2]homography.Pixel{middle(q[0], q[1]), middle(q[2], q[3])}
	two := [2]homography.Pixel{middle(q[1], q[2]), middle(q[3], q[0])}
	if one[0].Distance(one[1]) < two[0].Distance(two[1]) {
		one, two = two, one
	}
	ratio := one[0].Distance(one[1]) / two[0].Distance(two[1])
	if want := reference.CardWidth / reference.CardHeight; !(math.Abs(ratio/want-1) <= cardSkew) {
		return one, &HandFault{"card", []any{ratio, want}}
	}
	return one, nil
}
