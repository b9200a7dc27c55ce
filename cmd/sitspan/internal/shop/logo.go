package shop

import (
	"fmt"
	"image"
	_ "image/jpeg" // logos are PNG or JPEG
	_ "image/png"
	"os"
)

// Logo is the shop's logo; nil where none is named.
func (s Shop) Logo() (image.Image, error) {
	if s.LogoFile == "" {
		return nil, nil
	}
	f, err := os.Open(s.LogoFile)
	if err != nil {
		return nil, fmt.Errorf("logo: %w", err)
	}
	defer f.Close()
	img, _, err := image.Decode(f)
	if err != nil {
		return nil, fmt.Errorf("logo %s: %w; needed: a PNG or JPEG", s.LogoFile, err)
	}
	return img, nil
}
