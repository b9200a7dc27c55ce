package intake

import (
	"sitspan/imprint"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
)

// HandScale is what a person set on a photo without a frame: px of the upright picture.
type HandScale struct {
	A    [2]float64 `json:"a"` // two points of a known distance
	B    [2]float64 `json:"b"`
	MM   float64    `json:"mm"`   // between them
	Left [2]float64 `json:"left"` // both centres, as the rider sat

	Right [2]float64 `json:"right"`
	U     float64    `json:"u_mm"` // standard uncertainty of a centre, mm; 0 takes the default
}

// ByHand measures a photo by a scale and centres that a person set. The error says what is wrong with them, or with the
// photo.
func (s *Station) ByHand(path string, h HandScale) (Outcome, error) {
	p, err := photo.Read(path, s.options.Limits)
	if err != nil {
		return Outcome{}, err
	}
	px := func(q [2]float64) homography.Pixel { return homography.Pixel{X: q[0], Y: q[1]} }
	m, err := imprint.MeasureByHandScale(p, s.settings, px(h.A), px(h.B), h.MM, [2]homography.Pixel{px(h.Left), px(h.Right)}, h.U)
	if err != nil {
		return Outcome{}, err
	}
	return s.outcome(m, p), nil
}
