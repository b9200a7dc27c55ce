package homography

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Focal is a focal length in px with its standard uncertainty.
type Focal struct {
	Pixels float64 // px
	U      float64 // px
}

// relative returns U / Pixels.
func (f Focal) relative() float64 { return f.U / f.Pixels }

// fullFrameDiagonal in mm: that of 36 mm x 24 mm film.
const fullFrameDiagonal = 43.2666

// FocalU35 is the relative standard uncertainty of a focal length taken from
// the 35 mm equivalent in EXIF: makers round it, some mean the width and not
// the diagonal, and focusing close changes it. An assumption.
const FocalU35 = 0.04

// FocalUUnchecked is the relative standard uncertainty of a 35 mm equivalent
// (mm) where nothing in the file tells that the picture is whole and the entry
// its own. A factor of two, toward the phone's other main lens or a picture cut
// to half, is two standard uncertainties of what is worked out with it, which
// goes with 1/f: a long lens's entry on a wide one's picture doubles that, a
// wide lens's on a cut picture halves it (an assumption).
func FocalUUnchecked(f35 float64) float64 {
	if f35 > betweenLenses {
		return 0.5
	}
	return 0.25
}

// betweenLenses parts the 35 mm equivalents of a phone's two main lenses, mm: the geometric mean of 26 and
// 52.
const betweenLenses = 37

// FocalFrom35mm turns the EXIF's 35 mm equivalent (mm) into px for a picture
// of width x height px: f = f35 / 43.2666 times the picture's diagonal (CIPA
// DCG-001, by public summaries of it; makers differ), with u = [FocalU35] relative.
func FocalFrom35mm(f35 float64, width, height int) (Focal, error) {
	if !(f35 > 0) || math.IsInf(f35, 1) || width < 2 || height < 2 {
		return Focal{}, fmt.Errorf("focal length: found %v mm (35 mm equivalent) for a picture of %d x %d px, "+
			"need positive numbers", f35, width, height)
	}
	pixels := f35 / fullFrameDiagonal * math.Hypot(float64(width), float64(height))
	return Focal{pixels, FocalU35 * pixels}, nil
}

// FocalUnknown is what to assume of a phone whose EXIF is gone: 26 mm, the
// main camera of most, with u = 35 %, so that 50 mm and 14 mm are both within
// two standard uncertainties (an assumption).
func FocalUnknown(width, height int) Focal {
	pixels := 26 / fullFrameDiagonal * math.Hypot(float64(width), float64(height))
	return Focal{pixels, 0.35 * pixels}
}

// ErrFrontal says that the view is too frontal for the homography to tell the
// focal length.
var ErrFrontal = errors.New("the view is too frontal to tell the focal length")

// frontalLimit is the least significance of the conditions' coefficients p
// (a chi-square with 2 degrees of freedom) at which p w + q = 0 is solved for
// w. With 40, Fieller's g = 1.96^2 / 40 is 0.1: the coefficients' own error
// makes an interval for w unsymmetric by a tenth at most (Fieller, J. R.
// Statist. Soc. B 16 (1954) 175; the page from memory, the paper settles it).
const frontalLimit = 40

// FocalFromHomography estimates the focal length from the homography alone.
// The first two columns h1, h2 of K^-1 H are the images of the plane's axes,
// so they are orthogonal and of equal length (Zhang, IEEE PAMI 22 (2000)
// 1330, eq. 3 and 4). With the principal point known and square pixels both
// conditions are linear in w = 1/f^2; they are weighed by their covariance.
// It returns [ErrFrontal] where the view is no more oblique than noise could
// make it look, or u(f) exceeds a quarter of f: there the estimate is neither
// Gaussian nor unbiased.
func (f *PlaneFit) FocalFromHomography() (Focal, error) {
	if f.problem.flat {
		return Focal{}, fmt.Errorf("%w: a scan has none", ErrFrontal)
	}
	if !(f.obliqueness() > frontalLimit) {
		return Focal{}, ErrFrontal
	}
	w := math.NaN()
	var variance float64
	// The weights depend on w: start with equal ones, then iterate.
	for range 5 {
		w, variance = f.inverseSquareFocal(w)
	}
	if !(w > 0) || !(variance > 0) {
		return Focal{}, ErrFrontal
	}
	pixels := f.problem.norm.radius / math.Sqrt(w)
	focal := Focal{pixels, pixels * math.Sqrt(variance) / w / 2} // df/f = dw/w / 2
	if !(focal.relative() < 0.25) {
		return Focal{}, ErrFrontal
	}
	return focal, nil
}

// A print's two scales differ, and its axes are not quite square: paper is fed along one of them. From above
// that looks like a tilt, and with corners good to hundredths of a pixel it looks certain. A frame rendered
// 0.03 % longer along one axis made a camera 0.04 degrees off the vertical contradict its focal length by 22
// standard uncertainties.
const (
	// of the ratio of a print's two scales (assumption: two scales of 0.15 % each, as two measured bars tell
	// them; a print never measured may do worse)
	uStretch = 0.002
	uSkew    = 0.001 // rad, of the angle between its axes (assumption: 0.2 mm over the frame's height)
)

// perspective is the homography's covariance as far as the camera is judged by it: that of the corners,
// raised once more where the marks show a frame that is not flat, and the print's unknown stretch and skew.
// The residuals show what of a buckle no homography can follow; the rest bends the homography itself, and so
// its perspective, by about as much again. (Without it a frame with a buckle of 0.8 mm, seen at 6 degrees,
// contradicted its true focal length by 3.7 standard uncertainties.)
func (f *PlaneFit) perspective() *mat.SymDense {
	bent := math.Max(1, f.Clustering)
	c := mat.NewSymDense(paramCount, nil)
	c.ScaleSym(bent*bent, f.covariance)
	at := f.found.at
	var stretch, skew [paramCount]float64
	for row := range 3 {
		stretch[3*row] = uStretch * at[3*row] // the plane's x axis
		skew[3*row+1] = uSkew * at[3*row]     // its y axis, turned toward x
	}
	c.SymRankOne(c, 1, mat.NewVecDense(paramCount, stretch[:]))
	c.SymRankOne(c, 1, mat.NewVecDense(paramCount, skew[:]))
	return c
}

// obliqueness is p' C^-1 p with C the covariance of p: the significance of
// the foreshortening, a chi-square with 2 degrees of freedom seen frontally.
func (f *PlaneFit) obliqueness() float64 {
	p, _ := orthogonality(&f.found.at)
	inverse := Jacobian2(f.conditionCovariance(1, 0)).inverse()
	return p[0]*(inverse[0][0]*p[0]+inverse[0][1]*p[1]) + p[1]*(inverse[1][0]*p[0]+inverse[1][1]*p[1])
}

// orthogonality returns p and q of the two conditions p w + q = 0.
func orthogonality(at *parameters) (p, q [2]float64) {
	cx, cy := at[paramCX], at[paramCY]
	a := [3]float64{at[0] - cx*at[6], at[3] - cy*at[6], at[6]}
	b := [3]float64{at[1] - cx*at[7], at[4] - cy*at[7], at[7]}
	p = [2]float64{a[0]*b[0] + a[1]*b[1], a[0]*a[0] + a[1]*a[1] - b[0]*b[0] - b[1]*b[1]}
	q = [2]float64{a[2] * b[2], a[2]*a[2] - b[2]*b[2]}
	return p, q
}

// inverseSquareFocal solves the two conditions for w by weighted least
// squares, with weights for the previous w (NaN: equal weights).
func (f *PlaneFit) inverseSquareFocal(previous float64) (w, variance float64) {
	p, q := orthogonality(&f.found.at)
	inverse := Jacobian2{{1, 0}, {0, 1}}
	if !math.IsNaN(previous) {
		c := f.conditionCovariance(previous, 1)
		inverse = Jacobian2(c).inverse()
	}
	weigh := func(a, b [2]float64) float64 {
		return a[0]*(inverse[0][0]*b[0]+inverse[0][1]*b[1]) + a[1]*(inverse[1][0]*b[0]+inverse[1][1]*b[1])
	}
	return -weigh(p, q) / weigh(p, p), 1 / weigh(p, p)
}

// conditionCovariance is the covariance of a p + b q, by differences of the
// parameters: the conditions are polynomials of second degree, so central
// differences are exact but for rounding.
func (f *PlaneFit) conditionCovariance(a, b float64) Covariance2 {
	var rows [2][paramCount]float64
	for j := range paramCount {
		step := 1e-4
		up, down := f.found.at, f.found.at
		up[j] += step
		down[j] -= step
		pu, qu := orthogonality(&up)
		pd, qd := orthogonality(&down)
		for i := range 2 {
			rows[i][j] = (a*(pu[i]-pd[i]) + b*(qu[i]-qd[i])) / (2 * step)
		}
	}
	var c Covariance2
	perspective := f.perspective()
	for i := range 2 {
		for j := range 2 {
			c[i][j] = bilinear(perspective, rows[i], rows[j])
		}
	}
	return c
}

// FocalVerdict says how two estimates of the focal length were combined.
type FocalVerdict int

const (
	// FocalStated: only the stated focal length was there.
	FocalStated FocalVerdict = iota
	// FocalAgrees: both agree, and their weighted mean was taken.
	FocalAgrees
	// FocalOverruled: they disagree and the homography is the sharper one: a
	// cropped picture or a wrong EXIF entry. The homography's was taken.
	FocalOverruled
	// FocalInDoubt: they disagree and the homography is not the sharper one.
	// The stated one was taken, its uncertainty raised to the discrepancy.
	FocalInDoubt
)

// FocalLimit is the normalised error beyond which two focal lengths disagree:
// 2.5 standard uncertainties, 1.2 % by chance.
const FocalLimit = 2.5

// CombineFocal weighs a stated focal length (EXIF) and one from the homography
// in logarithms, and tells whether they agree. The normalised error is their
// difference in units of its standard uncertainty.
func CombineFocal(stated, homography Focal) (combined Focal, normalisedError float64, verdict FocalVerdict) {
	us, uh := stated.relative(), homography.relative()
	difference := math.Log(homography.Pixels / stated.Pixels)
	normalisedError = math.Abs(difference) / math.Hypot(us, uh)
	switch {
	case normalisedError <= FocalLimit:
		weight := us * us / (us*us + uh*uh) // of the homography
		pixels := stated.Pixels * math.Exp(weight*difference)
		return Focal{pixels, pixels * us * uh / math.Hypot(us, uh)}, normalisedError, FocalAgrees
	case uh < us:
		return homography, normalisedError, FocalOverruled
	default:
		return Focal{stated.Pixels, stated.Pixels * math.Abs(difference)}, normalisedError, FocalInDoubt
	}
}
