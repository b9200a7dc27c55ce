// Package fingerprint tells whether two pictures are the same one saved again:
// as another format, at another size or quality, or turned by quarter turns.
//
// Its opinion: a fingerprint only says where to look. Two imprints of one rider
// look alike, too, so whoever counts pictures must ask for more, such as that
// what was measured lies in the same place.
//
// The fingerprint is of the kind known as a perceptual hash: the picture is
// reduced to 32 x 32 greys, its cosine transform is taken, and of the lowest 16
// x 16 coefficients the signs are kept, but for the mean's. A sign changes only
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

const (
	grid = 32 // greys on a side
	side = 16 // coefficients on a side
)

// Bits is the number of signs in a fingerprint.
const Bits = side*side - 1

// Print is a picture's fingerprint: bit 16 v + u is set where the coefficient of
// horizontal frequency u and vertical frequency v is negative. Bit 0 is unused.
type Print [side * side / 64]uint64

// Of takes a picture's fingerprint. Reduce a large picture first.
func Of(m image.Image) Print {
	greys := reduce(m)
	var p Print
	for v := range side {
		for u := range side {
			if u+v > 0 && coefficient(greys, u, v) < 0 {
				p.set(u, v)
			}
		}
	}
	return p
}

// reduce averages the picture's luma over 32 x 32 areas.
func reduce(m image.Image) (greys [grid][grid]float64) {
	b := m.Bounds()
	var count [grid][grid]float64
	for y := b.Min.Y; y < b.Max.Y; y++ {
		j := (y - b.Min.Y) * grid / b.Dy()
		for x := b.Min.X; x < b.Max.X; x++ {
			i := (x - b.Min.X) * grid / b.Dx()
			r, g, b, _ := m.At(x, y).RGBA()
			greys[j][i] += 0.299*float64(r) + 0.587*float64(g) + 0.114*float64(b) // ITU-R BT.601
			count[j][i]++
		}
	}
	for j := range greys {
		for i := range greys[j] {
			greys[j][i] /= math.Max(1, count[j][i])
		}
	}
	return greys
}

// cosines are those of the transform (DCT-II).
var cosines = func() (c [side][grid]float64) {
	for u := range c {
		for i := range c[u] {
			c[u][i] = math.Cos(math.Pi * float64(u) * (float64(i) + 0.5) / grid)
		}
	}
	return c
}()

func coefficient(greys [grid][grid]float64, u, v int) (sum float64) {
	for j, row := range greys {
		var across float64
		for i, g := range row {
			across += g * cosines[u][i]
		}
		sum += across * cosines[v][j]
	}
	return sum
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
