package raster

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A wide blur over larger cells is that cell by cell but for where in a cell something stood: of cells of k
// that is off by k/2 at the most along either axis, and the blurred by k/2 over sigma and the root of 2. A
// slope is blurred to rounding.
func TestAWideBlurIsOneCellByCell(t *testing.T) {
	const columns, rows = 301, 203
	random := rand.New(rand.NewPCG(1, 2))
	noise, slope := make([]float32, columns*rows), make([]float32, columns*rows)
	for i := range noise {
		noise[i] = float32(random.NormFloat64())
		slope[i] = float32(i%columns) / 100
	}
	for _, sigma := range []float64{9, 10, 13.7, 16, 31} {
		fine, coarse := blur(noise, columns, rows, sigma), Blur(noise, columns, rows, sigma)
		straight := Blur(slope, columns, rows, sigma)
		var off, all, n float64
		rim := int(3*sigma) + 8
		for j := rim; j < rows-rim; j++ {
			for i := rim; i < columns-rim; i++ {
				k := j*columns + i
				off += math.Pow(float64(coarse[k]-fine[k]), 2)
				all += math.Pow(float64(fine[k]), 2)
				n++
				assert.InDelta(t, slope[k], straight[k], 1e-4)
			}
		}
		t.Logf("sigma %g: %.4f of %.4f", sigma, math.Sqrt(off/n), math.Sqrt(all/n))
		k := math.Floor(sigma / (wide / 2))
		assert.Less(t, math.Sqrt(off/all), k/2/sigma, "sigma %g", sigma)
	}
}
