package homography

import (
	"errors"
	"fmt"
	"math"
)

// Options says how to fit. Width and Height are required.
type Options struct {
	Width, Height int       // the picture's size in px, upright like the corners
	Lens          LensPrior // what is known of the lens beforehand
	// Flat fits an affine map with no lens: for a flatbed scan, which has no
	// camera and no perspective.
	Flat bool
	// OutlierFloor is the rms error in mm below which a mark is never
	// dropped, however sharp the others are: the residual of a slightly bent
	// frame is to be reported, not hidden by dropping marks. 0 means
	// [DefaultOutlierFloor].
	OutlierFloor float64
	// Seed fixes the random samples, drawn only where there are too many
	// marks to try all combinations.
	Seed uint64
}

// DefaultOutlierFloor in mm: a lone corner set off by as much moves a fit of
// a dozen marks by a tenth of that or so, well below what the centres of an
// imprint are known to.
const DefaultOutlierFloor = 0.4

// ForPhoto returns options for a phone's photo of width x height px.
func ForPhoto(width, height int) Options {
	return Options{Width: width, Height: height, Lens: PhoneLens()}
}

// ForScan returns options for a flatbed scan of width x height px.
func ForScan(width, height int) Options {
	return Options{Width: width, Height: height, Lens: NoLens(), Flat: true}
}

// halfDiagonal returns half the picture's diagonal in px.
func (o Options) halfDiagonal() float64 {
	return math.Hypot(float64(o.Width), float64(o.Height)) / 2
}

// centre returns the picture's centre.
func (o Options) centre() Pixel {
	return Pixel{(float64(o.Width) - 1) / 2, (float64(o.Height) - 1) / 2}
}

func (o Options) check() error {
	if o.Width < 2 || o.Height < 2 {
		return fmt.Errorf("picture of %d x %d px: need its size to place the lens", o.Width, o.Height)
	}
	if !(o.OutlierFloor >= 0) || math.IsInf(o.OutlierFloor, 0) {
		return fmt.Errorf("outlier floor: found %v mm, need 0 or more", o.OutlierFloor)
	}
	return o.Lens.check()
}

func (o Options) outlierFloor() float64 {
	if o.OutlierFloor == 0 {
		return DefaultOutlierFloor
	}
	return o.OutlierFloor
}

// ErrOneMark says that all points belong to one mark: it fixes a plane only
// near itself.
var ErrOneMark = errors.New("all points belong to one mark")

// checkPoints refuses correspondences that no fit can use.
func checkPoints(points []Correspondence) error {
	if len(points) < 4 {
		return fmt.Errorf("%w: found %d points, need at least 4", ErrDegenerate, len(points))
	}
	groups := map[int]bool{}
	for i, p := range points {
		for _, v := range []float64{p.Pixel.X, p.Pixel.Y, p.Plane.X, p.Plane.Y, p.U} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("point %d of mark %d: found %v, need finite numbers", i, p.Group, p)
			}
		}
		if p.U < 0 {
			return fmt.Errorf("point %d of mark %d: found a standard uncertainty of %v px, need 0 or more", i, p.Group,
				p.U)
		}
		groups[p.Group] = true
	}
	if len(groups) == 1 {
		return fmt.Errorf("%w (mark %d): need marks on two sides of the window at least", ErrOneMark,
			points[0].Group)
	}
	return nil
}
