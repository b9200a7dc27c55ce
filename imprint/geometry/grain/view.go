package grain

import (
	"math"

	"sitspan/imprint/geometry/raster"
)

// View is one photo as the matcher sees it.
type View struct {
	Raster *raster.Raster
	X, Y   float64 // under the camera, mm
	Height float64 // of the camera above the frame's plane, mm
}

// Match is a point of the pad as several photos show it.
type Match struct {
	Seen []Seen // one a view, U 0 where it is not seen there
}

// Seen is where a photo's line of sight to the point meets the frame's plane.
type Seen struct {
	At raster.Point
	U  float64 // standard uncertainty of either coordinate, mm
}

// Spot is a round place that hides the pad's grain: a dot of a pen, with its rim.
type Spot struct {
	At     raster.Point
	Radius float64 // mm
}

// detail is a raster with its surroundings taken off and their strength taken out: of mean 0 and about unit
// variance.
type detail struct {
	columns, rows int
	corner        raster.Point // mm, of the first cell
	v             []float32
}

// Scales of what counts as the pad's own detail, mm: finer than a dent, coarser than the picture's noise.
const (
	surroundings = 2.5
	strength     = 4.0
	finest       = 0.3
	// noiseLn is what a phone's noise and sharpening leave in ln brightness at the finest scale: detail of less
	// is made no stronger than that.
	noiseLn = 0.006
)

// reach is how far the blurs of a detail see: strength and surroundings, three standard deviations and a
// larger cell each, and finest.
const reach = 24.0 // mm

// detailOf leaves out what lies under the spots, and lets no spot weigh on what is beside it.
func detailOf(r *raster.Raster, spots []Spot) detail {
	blur := func(v []float32, sigma float64) []float32 {
		return raster.Blur(v, r.Columns, r.Rows, sigma/raster.Step)
	}
	shown := shownBeside(r, spots)
	if shown == nil {
		return detailBy(r, r.Ln, blur)
	}
	return detailBy(r, r.Ln, func(v []float32, sigma float64) []float32 {
		weighed := make([]float32, len(v))
		for i := range v {
			weighed[i] = v[i] * shown[i]
		}
		out, share := blur(weighed, sigma), blur(shown, sigma)
		for i := range out {
			out[i] /= share[i] + 1e-6
		}
		return out
	})
}

// detailBy takes the detail off a raster's ln brightness with a way to blur.
func detailBy(r *raster.Raster, ln []float32, blur func(v []float32, sigma float64) []float32) detail {
	fine, broad := blur(ln, finest), blur(ln, surroundings)
	d := detail{columns: r.Columns, rows: r.Rows, corner: r.Corner, v: make([]float32, len(fine))}
	square := make([]float32, len(fine))
	for i := range fine {
		d.v[i] = fine[i] - broad[i]
		square[i] = d.v[i] * d.v[i]
	}
	power := blur(square, strength)
	for i := range d.v {
		d.v[i] /= float32(math.Sqrt(float64(power[i]) + noiseLn*noiseLn))
	}
	return d
}

// shownBeside is 1 where no spot lies and 0 where one does, nil where there are none.
func shownBeside(r *raster.Raster, spots []Spot) []float32 {
	if len(spots) == 0 {
		return nil
	}
	shown := make([]float32, len(r.Ln))
	for i := range shown {
		shown[i] = 1
	}
	for _, s := range spots {
		at := func(v, corner float64, n int) int { return min(max(int((v-corner)/raster.Step), 0), n-1) }
		c := r.Corner
		for j := at(s.At.Y-s.Radius, c.Y, r.Rows); j <= at(s.At.Y+s.Radius, c.Y, r.Rows); j++ {
			for i := at(s.At.X-s.Radius, c.X, r.Columns); i <= at(s.At.X+s.Radius, c.X, r.Columns); i++ {
				if p := r.At(float64(i), float64(j)); math.Hypot(p.X-s.At.X, p.Y-s.At.Y) <= s.Radius {
					shown[j*r.Columns+i] = 0
				}
			}
		}
	}
	return shown
}

// at reads the detail at a place of the plane, bilinear; false outside.
func (d *detail) at(x, y float64) (float32, bool) {
	i, j := (x-d.corner.X)/raster.Step-0.5, (y-d.corner.Y)/raster.Step-0.5
	if !(i >= 0 && j >= 0 && i < float64(d.columns-1) && j < float64(d.rows-1)) {
		return 0, false
	}
	x0, y0 := int(i), int(j)
	fx, fy := float32(i-float64(x0)), float32(j-float64(y0))
	k := y0*d.columns + x0
	top := d.v[k] + fx*(d.v[k+1]-d.v[k])
	bottom := d.v[k+d.columns] + fx*(d.v[k+d.columns+1]-d.v[k+d.columns])
	return top + fy*(bottom-top), true
}
