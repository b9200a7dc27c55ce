package shop

import (
	"image"
	_ "image/jpeg" // logos are PNG or JPEG
	_ "image/png"
	"os"

	"sitspan/cmd/sitspan/internal/words"
)

// Logo is the shop's logo; nil where none is named.
func (s Shop) Logo() (image.Image, error) {
	if s.LogoFile == "" {
		return nil, nil
	}
	f, err := os.Open(s.LogoFile)
	if err != nil {
		return nil, words.Fault("error.logo.unread", words.Values{"file": s.LogoFile, "why": err})
	}
	defer f.Close()
	img, _, err := image.Decode(f)
	if err != nil {
		return nil, words.Fault("error.logo.kind", words.Values{"file": s.LogoFile})
	}
	return img, nil
}
