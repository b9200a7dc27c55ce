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

// detail is a raster with its surroundings taken off and their strength taken out: of mean 0 and about unit
// variance.
type detail struct {
	columns, rows int
	halfW, halfH  float64
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

func detailOf(r *raster.Raster) detail {
	fine := raster.Blur(r.Ln, r.Columns, r.Rows, finest/raster.Step)
	broad := raster.Blur(r.Ln, r.Columns, r.Rows, surroundings/raster.Step)
	d := detail{columns: r.Columns, rows: r.Rows, halfW: r.Window.HalfWidth, halfH: r.Window.HalfHeight,
		v: make([]float32, len(fine))}
	square := make([]float32, len(fine))
	for i := range fine {
		d.v[i] = fine[i] - broad[i]
		square[i] = d.v[i] * d.v[i]
	}
	power := raster.Blur(square, r.Columns, r.Rows, strength/raster.Step)
	for i := range d.v {
		d.v[i] /= float32(math.Sqrt(float64(power[i]) + noiseLn*noiseLn))
	}
	return d
}

// at reads the detail at a place of the plane, bilinear; false outside.
func (d *detail) at(x, y float64) (float32, bool) {
	i, j := (x+d.halfW)/raster.Step-0.5, (y+d.halfH)/raster.Step-0.5
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
