package homography

import (
	"fmt"
	"math"
)

// Lens is the distortion that a fit found or assumed.
type Lens struct {
	Principal Pixel   // centre of the distortion and of the projection, px
	K1, K2    float64 // radial terms, dimensionless, r in units of Radius
	P1, P2    float64 // decentring terms, likewise
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
	// UDecentring is the standard uncertainty of the decentring terms, about 0.
	UDecentring float64
}

// PhoneLens is the prior for a phone's picture: the phone has corrected the
// lens, leaving below about 1 % at the corners, taken as one standard
// uncertainty of k1, and half of it for k2; the principal point lies within
// 2 % of the half diagonal; decentring leaves 0.15 % at the corners (all from
// memory, no source seen).
func PhoneLens() LensPrior {
	return LensPrior{UK1: 0.01, UK2: 0.005, UPrincipal: 0.02, UDecentring: 0.0005}
}

// NoLens is the prior for a flatbed scan: no distortion at all.
func NoLens() LensPrior { return LensPrior{} }

// check refuses priors that mean nothing.
func (p LensPrior) check() error {
	for _, v := range []float64{p.K1, p.UK1, p.K2, p.UK2, p.UPrincipal, p.UDecentring} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("lens prior: found %v, need finite numbers", p)
		}
	}
	if p.UK1 < 0 || p.UK2 < 0 || p.UPrincipal < 0 || p.UDecentring < 0 {
		return fmt.Errorf("lens prior: found a negative standard uncertainty in %+v", p)
	}
	return nil
}

// widened returns the prior for a lens that the camera did not correct: the
// standard uncertainties of k1 and k2 are ten times larger, and what comes of
// the lens' mounting is doubled.
func (p LensPrior) widened() LensPrior {
	p.UK1, p.UK2 = 10*p.UK1, 10*p.UK2
	p.UPrincipal, p.UDecentring = 2*p.UPrincipal, 2*p.UDecentring
	return p
}

// distortion holds the model's numbers in normalised picture units: the unit
// is half the diagonal, the origin the picture's centre.
type distortion struct{ k1, k2, cx, cy, p1, p2 float64 }

// distort maps an ideal point to the picture and gives the Jacobian.
func (d distortion) distort(x, y float64) (dx, dy float64, jac Jacobian2) {
	qx, qy := x-d.cx, y-d.cy
	r2 := qx*qx + qy*qy
	gain := 1 + r2*(d.k1+r2*d.k2)
	slope := 2*d.k1 + 4*d.k2*r2 // d(gain)/d(r2) times 2
	mixed := slope*qx*qy + 2*d.p1*qx + 2*d.p2*qy
	jac = Jacobian2{
		{gain + slope*qx*qx + 2*d.p1*qy + 6*d.p2*qx, mixed},
		{mixed, gain + slope*qy*qy + 6*d.p1*qy + 2*d.p2*qx},
	}
	return d.cx + qx*gain + 2*d.p1*qx*qy + d.p2*(r2+2*qx*qx),
		d.cy + qy*gain + d.p1*(r2+2*qy*qy) + 2*d.p2*qx*qy, jac
}

// undistort inverts distort by Newton's method from the picture's point. It
// reports false where the model folds back, so has no inverse, and where the
// method leaves the part around the centre that can be inverted.
func (d distortion) undistort(x, y float64) (ux, uy float64, ok bool) {
	ux, uy = x, y
	for range 50 {
		atX, atY, jac := d.distort(ux, uy)
		determinant := jac.Determinant()
		if !(determinant > 0) || jac[0][0]+jac[1][1] <= 0 {
			return 0, 0, false
		}
		inverse := jac.inverse()
		stepX := inverse[0][0]*(x-atX) + inverse[0][1]*(y-atY)
		stepY := inverse[1][0]*(x-atX) + inverse[1][1]*(y-atY)
		ux, uy = ux+stepX, uy+stepY
		// Quadratic convergence: a step of 1e-9 leaves an error near 1e-18.
		if math.Hypot(stepX, stepY) < 1e-9 {
			return ux, uy, true
		}
	}
	return 0, 0, false
}
