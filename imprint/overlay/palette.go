package overlay

import "image/color"

// The overlay's colours. Each light one has a dark casing or ground beside it:
// their relative luminances (WCAG 2.1, "relative luminance") are 0.35 or more
// against 0.01, so they part by brightness alone, for any colour vision.
var (
	dark  = color.NRGBA{0x10, 0x16, 0x22, 0xff} // casing, plates, the strip
	light = color.NRGBA{0xf5, 0xf6, 0xf1, 0xff} // words
	faint = color.NRGBA{0xb4, 0xbd, 0xc9, 0xff} // smaller words

	amber = color.NRGBA{0xff, 0xd8, 0x45, 0xff} // centres and the line between them
	sky   = color.NRGBA{0x66, 0xbd, 0xff, 0xff} // marks of the frame
	mint  = color.NRGBA{0x9f, 0xe3, 0xc4, 0xff} // the relief
	coral = color.NRGBA{0xff, 0x82, 0x55, 0xff} // what was left out
)

// faded returns a colour at an opacity of 0 to 1.
func faded(c color.NRGBA, opacity float64) color.NRGBA {
	c.A = uint8(255*opacity + 0.5)
	return c
}

// statusLook is a status's colour; each has its own sign and word too.
type statusLook struct {
	ground color.NRGBA
	sign   func(c *canvas, at point, r, half float64)
}

var statusLooks = map[string]statusLook{
	Measured: {sky, tick},
	Review:   {amber, exclamation},
	Refused:  {coral, saltire},
	Failed:   {faint, saltire},
}

// tick adds a check mark of radius r.
func tick(c *canvas, at point, r, half float64) {
	c.polyline([]point{at.plus(-0.8*r, 0.05*r), at.plus(-0.2*r, 0.65*r), at.plus(0.85*r, -0.6*r)}, half)
}

// exclamation adds an exclamation mark.
func exclamation(c *canvas, at point, r, half float64) {
	c.capsule(at.plus(0, -0.85*r), at.plus(0, 0.2*r), half)
	c.capsule(at.plus(0, 0.8*r), at.plus(0, 0.8*r), 1.2*half)
}

// saltire adds a diagonal cross.
func saltire(c *canvas, at point, r, half float64) {
	c.capsule(at.plus(-0.65*r, -0.65*r), at.plus(0.65*r, 0.65*r), half)
	c.capsule(at.plus(-0.65*r, 0.65*r), at.plus(0.65*r, -0.65*r), half)
}
