package intake

import (
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/imprint"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
	"sitspan/imprint/reference"
)

// WithCards is the station with the cards that are known of photos, by their files' SHA-256.
func (s *Station) WithCards(cards map[[32]byte]KnownCard) *Station {
	own := *s
	own.settings.Cards = map[[32]byte]reference.Kept{}
	for sum, k := range cards {
		own.settings.Cards[sum] = k.kept()
	}
	return &own
}

// KnownCard is a card that was found in a picture, and the picture's size in px.
type KnownCard struct {
	Card          record.Card
	Width, Height int
}

func (k KnownCard) kept() reference.Kept {
	out := reference.Kept{
		Width: k.Width, Height: k.Height, Rotation: k.Card.Rotation, RMSPixels: k.Card.RMSPixels,
		Parameters: k.Card.Parameters, Information: k.Card.Information,
	}
	for i, c := range k.Card.Corners {
		out.Corners[i] = homography.Pixel{X: c[0], Y: c[1]}
	}
	return out
}

// cardOf is the card that gave a measurement its scale; nil for none.
func cardOf(m *imprint.Measurement) *record.Card {
	if m.Reference == nil {
		return nil
	}
	k, ok := m.Reference.Card()
	if !ok {
		return nil
	}
	out := &record.Card{Rotation: k.Rotation, Parameters: k.Parameters, Information: k.Information,
		RMSPixels: k.RMSPixels}
	for i, c := range k.Corners {
		out.Corners[i] = [2]float64{c.X, c.Y}
	}
	return out
}

// shown is the place among the photos of the one whose picture a measurement's pixels are of: the first
// that took part.
func shown(m *imprint.Measurement, photos []*photo.Photo) int {
	if len(m.Parts) == len(photos) && !m.OfSittings {
		for i, p := range m.Parts {
			if p.Used {
				return i
			}
		}
	}
	return 0
}
