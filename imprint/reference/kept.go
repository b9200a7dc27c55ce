package reference

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"

	"sitspan/imprint/homography"
)

// Kept is a card that was found, as numbers: what is needed to measure again where its
// face was painted over, and with it its edges.
type Kept struct {
	Width, Height int                 // of the picture, px
	Corners       [4]homography.Pixel // of the card, clockwise, the roundings filled up
	Rotation      [9]float64          // that the turn in Parameters is about
	Parameters    []float64           // of the pose: see firstOwn and cardCount
	Information   []float64           // their inverse covariance, its upper triangle row by row
	RMSPixels     float64
}

// Keep gives a card's pose as numbers; false where the pose is none of a card.
func (s *Pose) Keep() (Kept, bool) {
	if s.count != cardCount {
		return Kept{}, false
	}
	k := Kept{
		Width: s.width, Height: s.height, Corners: s.corner(0), Rotation: s.rotation, RMSPixels: s.RMSPixels,
		Parameters: append([]float64(nil), s.p...),
	}
	for i := range s.count {
		for j := i; j < s.count; j++ {
			k.Information = append(k.Information, s.info.At(i, j))
		}
	}
	return k, true
}

// errNotKept says that kept numbers are no card's.
var errNotKept = errors.New("the kept numbers are none of a card in this picture")

// Card gives the card back, for a picture of the given size.
func (k Kept) Card(width, height int) (*Card, error) {
	if k.Width != width || k.Height != height || len(k.Parameters) != cardCount ||
		len(k.Information) != cardCount*(cardCount+1)/2 {
		return nil, errNotKept
	}
	info, n := mat.NewSymDense(cardCount, nil), 0
	for i := range cardCount {
		for j := i; j < cardCount; j++ {
			info.SetSym(i, j, k.Information[n])
			n++
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(info) {
		return nil, errNotKept
	}
	c := &Card{Pose: Pose{
		scene: scene{width: width, height: height, rotation: k.Rotation, count: cardCount},
		p:     append([]float64(nil), k.Parameters...), info: info, RMSPixels: k.RMSPixels, groups: cardGroups,
	}}
	if h := -c.eye(c.p).from[2]; !(h >= leastHeight && h <= mostHeight) {
		return nil, errNotKept
	}
	c.Outline = c.corner(faceRim)
	for _, q := range c.Outline {
		if math.IsNaN(q.X + q.Y) {
			return nil, errNotKept
		}
	}
	return c, nil
}
