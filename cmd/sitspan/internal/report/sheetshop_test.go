package report

import (
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/fit"
)

// The shop stands at the top right: logo, name, and the address line by line, above the day.
func TestShopStandsOnTheSheet(t *testing.T) {
	rec := advised(t, kept(t, "schema1-foam.json"), fit.Rider{MassKg: 78, Bikes: oneBike})
	o := SheetOptions{Shop: "Rad & Tat", Address: "Mühlgasse 3\n12345 Erfunden", Logo: drawnLogo(600, 200)}
	text := holdsOnOnePage(t, rec, o, "")
	assert.Contains(t, text, "Rad & Tat")
	assert.Contains(t, text, "Mühlgasse 3")
	assert.Contains(t, text, "12345 Erfunden")
	pdf := rendered(t, rec, o)
	assert.Contains(t, string(pdf), "/Width 600\n/Height 200\n", "the logo is in it")
	if dir := os.Getenv("SITSPAN_SHEETS"); dir != "" { // to be looked at
		require.NoError(t, os.WriteFile(filepath.Join(dir, "shop.pdf"), pdf, 0o644))
	}
	o.Logo, o.Address = nil, ""
	assert.NotContains(t, string(rendered(t, rec, o)), "/Width 600")
	o.Address = "\U0001F6B2 1"
	err := WriteSheet(&strings.Builder{}, rec, o)
	assert.ErrorContains(t, err, "the shop's address")
}

// drawnLogo is a disc and a bar, as most logos are.
func drawnLogo(w, h int) image.Image {
	m := image.NewGray(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		x, y := i%w, i/w
		dx, dy := x-h/2, y-h/2
		if dx*dx+dy*dy > h*h/5 && !(x > h*11/10 && y > h/3 && y < h*2/3) {
			m.Pix[i] = 255
		}
	}
	return m
}
