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
	dotsClose  = 5.4 // likewise where riders sit; about 7 mm
)

// seats is where riders sit on a sheet that lies as the frame does: from seatsFrom to seatsTo mm on either
// side, seatsHalf mm to the front and back. The distances between sit bones, some 80 to 160 mm (common
// practice, no source), lie well within.
const (
	seatsFrom = 25.0
	seatsTo   = 95.0
	seatsHalf = 45.0
)

// apart is how far a dot keeps from those set before it. Dots 7 mm apart about the deepest points leave half
// the error of dots 9 mm apart (docs/evidence.md, how close should dots be).
func (d Dot) apart() float64 {
	if x := math.Abs(d.Centre.X); x >= seatsFrom && x <= seatsTo && math.Abs(d.Centre.Y) <= seatsHalf {
		return dotsClose
	}
	return dotsApart
}

// Dot is a printed dot in mm, in axes about the middle of its sheet.
type Dot struct {
	Centre   calibration.Point
	Diameter float64
}

// dotSeeds fix the dots of each sheet: whoever prints one again gets the same.
// They are the first for which no two dots of a sheet have like neighbours.
var dotSeeds = [DotSheets]uint64{44, 9, 34, 20}

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
		if math.Hypot(d.Centre.X-o.Centre.X, d.Centre.Y-o.Centre.Y) < min(d.apart(), o.apart()) {
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
