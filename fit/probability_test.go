package fit

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

func TestProbabilityWithinAgainstJCGM106(t *testing.T) {
	inf := math.Inf(1)
	tests := []struct {
		name             string
		x, u, nu, limit  float64
		want, halfLastDP float64
		source           string
	}{
		{"upper limit of a voltage", -5.47, 0.05, inf, -5.40, 0.92, 0.005,
			"JCGM 106:2012, 7.3 kind: Φ(1.4) = 0.9192 in common tables"},
		{"lower limit of a pressure, mirrored", -509.7, 8.6, inf, -490, 0.99, 0.005,
			"JCGM 106:2012, 7.3 kind: Φ(2.29) = 0.9890 in common tables"},
		{"guard band of 2 u", 10, 0.5, inf, 11, 0.977, 0.0005, "JCGM 106:2012, 8.3.2; Φ(2)"},
		{"t, 16 degrees of freedom", 0, 1, 16, 2.12, 0.975, 0.0005,
			"JCGM 100:2008, table G.2: t95(16) = 2.12, two-sided"},
		{"t99, 16 degrees of freedom", 0, 1, 16, 2.92, 0.995, 0.0005,
			"JCGM 100:2008, table G.2: t99(16) = 2.92, two-sided"},
		{"certain and just inside", 145, 0, inf, 145, 1, 0, "by definition"},
		{"certain and outside", 145.01, 0, inf, 145, 0, 0, "by definition"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			assert.InDelta(t, tt.want, probabilityWithin(tt.x, tt.u, tt.nu, tt.limit), tt.halfLastDP, tt.source)
		})
	}
}

// Sheppard's theorem: at the medians P = 1/4 + asin(rho) / 2π (W. F. Sheppard,
// Phil. Trans. A 192 (1899); the page not looked up: it follows from Plackett's identity at 0).
func TestBivariateNormalAgainstSheppard(t *testing.T) {
	for _, rho := range []float64{0, 0.1, 0.5, 1 / math.Sqrt2, 0.9, 0.99, 0.9999} {
		assert.InDelta(t, 0.25+math.Asin(rho)/(2*math.Pi), bivariateNormal(0, 0, rho), 1e-9, "rho %g", rho)
	}
}

// Direct integration of φ(x) Φ((k - rho x)/sqrt(1 - rho²)) is another road to
// the same number. 1e-6 is what bivariateNormal's comment claims.
func TestBivariateNormalAgainstDirectIntegration(t *testing.T) {
	n := distuv.UnitNormal
	for _, rho := range []float64{0, 0.3, 0.7, 0.95, 0.999} {
		for _, h := range []float64{-1, 0.3, 1.645, 3} {
			for _, k := range []float64{-0.5, 1, 1.645, 2.5} {
				s := math.Sqrt(1 - rho*rho)
				f := func(x float64) float64 { return n.Prob(x) * n.CDF((k-rho*x)/s) }
				want := 0.0
				for lo := -9.0; lo < h; lo += 0.25 { // short pieces: steep where rho nears 1
					want += quad.Fixed(f, lo, math.Min(lo+0.25, h), 40, quad.Legendre{}, 0)
				}
				assert.InDelta(t, want, bivariateNormal(h, k, rho), 1e-6, "h %g, k %g, rho %g", h, k, rho)
			}
		}
	}
}

func TestJointProbabilityAtItsEnds(t *testing.T) {
	tests := []struct{ pa, pb, rho, want float64 }{
		{0.9, 0.8, 1, 0.8},
		{0.9, 0.8, 0, 0.72},
		{1, 0.8, 0.5, 0.8},
		{0.9, 0, 0.5, 0},
	}
	for _, tt := range tests {
		t.Run(fmt.Sprint(tt), func(t *testing.T) {
			assert.InDelta(t, tt.want, jointProbability(tt.pa, tt.pb, tt.rho), 1e-12)
		})
	}
}
