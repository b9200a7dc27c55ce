package record

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// bowl is a relief of one dent: a sphere-like bottom at x, y of a radius, on a slope.
func bowl(x, y, radius, slope float64) *Relief {
	r := &Relief{StepMM: 2, Columns: 105, Rows: 69}
	for j := range r.Rows {
		for i := range r.Columns {
			dx, dy := 2*float64(i-52)-x, 2*float64(j-34)-y
			r.Z = append(r.Z, int(math.Round(100*(20+slope*dx-(dx*dx+dy*dy)/2/radius))))
		}
	}
	return r
}

func TestRadiusAboutABottom(t *testing.T) {
	for _, radius := range []float64{15, 20, 40} {
		assert.InEpsilon(t, radius, bowl(-60, 4, radius, 0).RadiusAbout(-60, 4, 12), 0.01, "of a sphere's bottom")
		assert.InEpsilon(t, radius, bowl(-60, 4, radius, 0.2).RadiusAbout(-60, 4, 12), 0.01,
			"a slope changes nothing")
		assert.InEpsilon(t, radius, bowl(-60, 4, radius, 0).RadiusAbout(-59.2, 4.7, 12), 0.01,
			"between grid points")
	}
	assert.Zero(t, bowl(-60, 4, -40, 0).RadiusAbout(-60, 4, 12), "a hump")
	assert.Zero(t, bowl(-60, 4, math.Inf(1), 0).RadiusAbout(-60, 4, 12), "flat")
	assert.Zero(t, bowl(-60, 4, 40, 0).RadiusAbout(-96, 4, 12), "no whole circle to the left")
	assert.Zero(t, bowl(-60, 4, 40, 0).RadiusAbout(0, 60, 12), "no whole circle below")
	assert.Zero(t, (&Relief{}).RadiusAbout(0, 0, 12), "no depths")
}
