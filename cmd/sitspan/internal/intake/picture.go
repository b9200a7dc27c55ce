package intake

import (
	"errors"
	"image"
)

// Picture is the upright photo without anything drawn on it, the longer side at most maxSide px. It fails where there is
// no photo.
func (o Outcome) Picture(maxSide int) (image.Image, error) {
	if o.photo == nil {
		return nil, errors.New("there is no picture: the file could not be read")
	}
	return o.photo.Colour(maxSide), nil
}
