package artwork

import (
	"math"
	"math/rand/v2"

	"sitspan/calibration"
)

// DotSheets is the number of sheets of dots; all differ.
const DotSheets = 4

// What the dots of a sheet keep to, in mm. They cover more than the frame's
// window of 212 x 140 mm, which one sheet fills.
const (
	dotsWidth  = 250.0
	dotsHeight = 180.0
	dotLeast   = 2.0 // diameter
	dotMost    = 3.0
	dotsApart  = 7.5 // between centres at least; about 9 mm where a sheet is full
)

// Dot is a printed dot in mm, in axes about the middle of its sheet.
type Dot struct {
	Centre   calibration.Point
	Diameter float64
}

// dotSeeds fix the dots of each sheet: whoever prints one again gets the same.
// They are the first for which no two dots of a sheet have like neighbours.
var dotSeeds = [DotSheets]uint64{1, 1, 2, 4}

// fullAfter is how many places in a row must be taken before a sheet is full.
const fullAfter = 4000

// Dots are a sheet's dots, 1 to DotSheets: places thrown at random and kept
// where they are far enough from all before them (Poisson discs by dart
// throwing, Cook, ACM Trans. Graphics 5 (1986) 51; page from memory, the paper settles it). So no
// neighbourhood is like another, and a dot can be told by its neighbours.
func Dots(sheet int) []Dot {
	source := rand.NewPCG(dotSeeds[sheet-1], uint64(sheet))
	// Not rand.Float64: the source's own bits stay the same for ever.
	between := func(low, high float64) float64 {
		return low + (high-low)*float64(source.Uint64()>>11)/(1<<53)
	}
	const x, y = (dotsWidth - dotMost) / 2, (dotsHeight - dotMost) / 2
	var dots []Dot
	for missed := 0; missed < fullAfter; missed++ {
		d := Dot{calibration.Point{X: between(-x, x), Y: between(-y, y)}, between(dotLeast, dotMost)}
		if d.clear(dots) {
			dots, missed = append(dots, d), -1
		}
	}
	return dots
}

// clear tells whether a dot is far enough from the others.
func (d Dot) clear(others []Dot) bool {
	for _, o := range others {
		if math.Hypot(d.Centre.X-o.Centre.X, d.Centre.Y-o.Centre.Y) < dotsApart {
			return false
		}
	}
	return true
}

// corners of the polygon that a dot is drawn as: it is never more than 0.004 mm
// inside the circle.
const dotCorners = 48

// outline is the dot's boundary, in its own axes.
func (d Dot) outline() []calibration.Point {
	points := make([]calibration.Point, dotCorners)
	for k := range points {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / dotCorners)
		points[k] = calibration.Point{X: d.Centre.X + d.Diameter/2*cos, Y: d.Centre.Y + d.Diameter/2*sin}
	}
	return points
}
