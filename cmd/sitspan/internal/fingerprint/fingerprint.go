// Package fingerprint tells whether two pictures are the same one saved again:
// as another format, at another size or quality, or turned by quarter turns.
//
// Its opinion: a fingerprint only says where to look. Two imprints of one rider
// look alike, too, so whoever counts pictures must ask for more, such as that
// what was measured lies in the same place.
//
// The fingerprint is of the kind known as a perceptual hash: the cosine transform
// of the picture's greys is taken, and of the lowest 16 x 16 coefficients the
// signs are kept, but for the mean's. A sign changes only
// where the coefficient is small, so saving again changes few; another picture
// changes about half of those that its contents decide. A quarter turn swaps
// rows and columns and changes the signs of the odd ones, so turned pictures are
// compared without being read again.
package fingerprint

import (
	"encoding/hex"
	"fmt"
	"image"
	"math"
	"math/bits"
)

// side is the number of coefficients on a side.
const side = 16

// Bits is the number of signs in a fingerprint.
const Bits = side*side - 1

// Print is a picture's fingerprint: bit 16 v + u is set where the coefficient of
// horizontal frequency u and vertical frequency v is negative. Bit 0 is unused.
type Print [side * side / 64]uint64

// Of takes a picture's fingerprint. Reduce a large picture to some 128 px first:
// what is finer does not reach the lowest frequencies.
func Of(m image.Image) Print {
	b := m.Bounds()
	horizontal, vertical := cosines(b.Dx()), cosines(b.Dy())
	var sums [side][side]float64 // by v, u
	for y := range b.Dy() {
		across := [side]float64{}
		for x := range b.Dx() {
			grey := luma(m, b.Min.X+x, b.Min.Y+y)
			for u, c := range horizontal[x] {
				across[u] += grey * c
			}
		}
		for v, c := range vertical[y] {
			for u := range across {
				sums[v][u] += across[u] * c
			}
		}
	}
	var p Print
	for v := range side {
		for u := range side {
			if u+v > 0 && sums[v][u] < 0 {
				p.set(u, v)
			}
		}
	}
	return p
}

// luma is ITU-R BT.601's.
func luma(m image.Image, x, y int) float64 {
	r, g, b, _ := m.At(x, y).RGBA()
	return 0.299*float64(r) + 0.587*float64(g) + 0.114*float64(b)
}

// cosines are those of the cosine transform (DCT-II) of n values, by place and
// frequency.
func cosines(n int) [][side]float64 {
	c := make([][side]float64, n)
	for i := range c {
		for u := range c[i] {
			c[i][u] = math.Cos(math.Pi * float64(u) * (float64(i) + 0.5) / float64(n))
		}
	}
	return c
}

func (p *Print) set(u, v int) { i := side*v + u; p[i/64] |= 1 << (i % 64) }

func (p Print) at(u, v int) bool { i := side*v + u; return p[i/64]>>(i%64)&1 == 1 }

// Turned is the fingerprint of the picture turned clockwise by a quarter turn.
// The pixel at (x, y) goes to (1-y, x), so the coefficient (u, v) of the turned
// picture is the old one of (v, u), its sign changed where u is odd.
func (p Print) Turned() (q Print) {
	for v := range side {
		for u := range side {
			if u+v > 0 && p.at(v, u) != (u%2 == 1) {
				q.set(u, v)
			}
		}
	}
	return q
}

// Distance is the number of signs in which two fingerprints differ, 0 to Bits.
func (p Print) Distance(q Print) (n int) {
	for i := range p {
		n += bits.OnesCount64(p[i] ^ q[i])
	}
	return n
}

// String is the fingerprint in hexadecimal digits.
func (p Print) String() string {
	var b []byte
	for _, w := range p {
		for k := range 8 {
			b = append(b, byte(w>>(8*k)))
		}
	}
	return hex.EncodeToString(b)
}

// Parse reads what String wrote.
func Parse(text string) (p Print, err error) {
	b, err := hex.DecodeString(text)
	if err != nil || len(b) != 8*len(p) {
		return p, fmt.Errorf("%q is no fingerprint: %d hexadecimal digits are needed", text, 16*len(p))
	}
	for i := range p {
		for k := range 8 {
			p[i] |= uint64(b[8*i+k]) << (8 * k)
		}
	}
	return p, nil
}
