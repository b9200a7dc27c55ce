package record

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// RadiusAbout is the radius of curvature, mm, of the bowl that fits the depths within reach mm of a point
// best, by least squares: depth = a - r^2/2R, with r from the grid's point next to it. It is 0 where there is
// no bowl, or no whole circle of depths.
func (r *Relief) RadiusAbout(x, y, reach float64) float64 {
	if r.StepMM <= 0 || r.Columns*r.Rows != len(r.Z) {
		return 0
	}
	column := int(math.Round(x/r.StepMM + float64(r.Columns-1)/2))
	row := int(math.Round(y/r.StepMM + float64(r.Rows-1)/2))
	n := int(reach / r.StepMM)
	if column < n || column >= r.Columns-n || row < n || row >= r.Rows-n {
		return 0
	}
	var squares, depths []float64
	for j := -n; j <= n; j++ {
		for i := -n; i <= n; i++ {
			if square := float64(i*i+j*j) * r.StepMM * r.StepMM; square <= reach*reach {
				squares = append(squares, square)
				depths = append(depths, float64(r.Z[(row+j)*r.Columns+column+i])/100)
			}
		}
	}
	// Over a whole circle the slopes and what is oblong are at right angles to r^2: a line in r^2 is enough.
	if _, slope := stat.LinearRegression(squares, depths, nil, false); slope < 0 {
		return -1 / (2 * slope)
	}
	return 0
}
