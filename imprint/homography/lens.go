package homography

import (
	"fmt"
	"math"
)

// Lens is the radial distortion that a fit found or assumed.
type Lens struct {
	Principal Pixel   // centre of the distortion and of the projection, px
	K1, K2    float64 // dimensionless, r in units of Radius
	Radius    float64 // half the picture's diagonal, px
	// UK1, UK2 and UPrincipal (px, either coordinate) are the standard
	// uncertainties after the fit.
	UK1, UK2, UPrincipal float64
	// Constrained tells whether the marks halved the prior uncertainty of k1
	// at least; otherwise k1 is mostly the assumption.
	Constrained bool
	// Unusual tells that the marks contradicted the prior, so that it was
	// widened tenfold: a lens that the camera did not correct.
	Unusual bool
}

// InUnitsOf returns k1 and k2 for r in units of length px (the focal length
// in px gives the terms as camera calibration programs state them).
func (l Lens) InUnitsOf(length float64) (k1, k2 float64) {
	ratio := length / l.Radius
	return l.K1 * ratio * ratio, l.K2 * math.Pow(ratio, 4)
}

// LensPrior says what is known of a lens before the marks are seen: Gaussian,
// in units of half the picture's diagonal. A zero U fixes its term.
type LensPrior struct {
	K1, UK1 float64
	K2, UK2 float64
	// UPrincipal is the standard uncertainty of the principal point about the
	// picture's centre, as a fraction of half the diagonal.
	UPrincipal float64
}

// PhoneLens is the prior for a phone's picture: the phone has corrected the
// lens, leaving below about 1 % at the corners, taken as one standard
// uncertainty of k1, and half of it for k2; the principal point lies within
// 2 % of the half diagonal (all from memory, no source seen).
func PhoneLens() LensPrior {
	return LensPrior{UK1: 0.01, UK2: 0.005, UPrincipal: 0.02}
}

// NoLens is the prior for a flatbed scan: no distortion at all.
func NoLens() LensPrior { return LensPrior{} }

// check refuses priors that mean nothing.
func (p LensPrior) check() error {
	for _, v := range []float64{p.K1, p.UK1, p.K2, p.UK2, p.UPrincipal} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("lens prior: found %v, need finite numbers", p)
		}
	}
	if p.UK1 < 0 || p.UK2 < 0 || p.UPrincipal < 0 {
		return fmt.Errorf("lens prior: found a negative standard uncertainty in %+v", p)
	}
	return nil
}

// widened returns the prior with its standard uncertainties of k1 and k2 ten
// times larger, and that of the principal point doubled.
func (p LensPrior) widened() LensPrior {
	p.UK1, p.UK2, p.UPrincipal = 10*p.UK1, 10*p.UK2, 2*p.UPrincipal
	return p
}

// radial holds the model's numbers in normalised picture units: the unit is
// half the diagonal, the origin the picture's centre.
type radial struct{ k1, k2, cx, cy float64 }

// distort maps an ideal point to the picture and gives the Jacobian.
func (d radial) distort(x, y float64) (dx, dy float64, jac Jacobian2) {
	qx, qy := x-d.cx, y-d.cy
	r2 := qx*qx + qy*qy
	gain := 1 + r2*(d.k1+r2*d.k2)
	slope := 2*d.k1 + 4*d.k2*r2 // d(gain)/d(r2) times 2
	jac = Jacobian2{
		{gain + slope*qx*qx, slope * qx * qy},
		{slope * qx * qy, gain + slope*qy*qy},
	}
	return d.cx + qx*gain, d.cy + qy*gain, jac
}

// undistort inverts distort by Newton's method on the radius. It reports
// false beyond the radius where the polynomial turns back, so has no inverse.
func (d radial) undistort(x, y float64) (ux, uy float64, ok bool) {
	qx, qy := x-d.cx, y-d.cy
	target := math.Hypot(qx, qy)
	if target == 0 {
		return x, y, true
	}
	r := target
	for range 50 {
		r2 := r * r
		value := r*(1+r2*(d.k1+r2*d.k2)) - target
		slope := 1 + r2*(3*d.k1+5*r2*d.k2)
		if slope <= 0 {
			return 0, 0, false
		}
		step := value / slope
		r -= step
		// Quadratic convergence: a step of 1e-9 leaves an error near 1e-18.
		if math.Abs(step) < 1e-9 {
			return d.cx + qx*r/target, d.cy + qy*r/target, r > 0
		}
	}
	return 0, 0, false
}
