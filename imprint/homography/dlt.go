package homography

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ErrDegenerate says that the points do not determine a homography: fewer
// than four, on one line, or coinciding.
var ErrDegenerate = errors.New("the points do not determine a plane")

// pair is a correspondence in normalised coordinates: the picture's centre is
// 0 and half its diagonal 1; the marks' centroid is 0 and their rms distance
// from it 1.
type pair struct{ x, y, px, py float64 }

// directLinear returns the matrix that takes (px, py) to (x, y), by the
// normalised direct linear transform: the right singular vector of the
// equations x cross (M p) = 0 at the smallest singular value (Hartley and
// Zisserman, Multiple View Geometry, algorithm 4.2; number from memory, the book settles it).
func directLinear(pairs []pair) (matrix3, error) {
	if len(pairs) < 4 {
		return matrix3{}, fmt.Errorf("%w: found %d points, need at least 4", ErrDegenerate, len(pairs))
	}
	from := normaliser(len(pairs), func(i int) (float64, float64) { return pairs[i].px, pairs[i].py })
	to := normaliser(len(pairs), func(i int) (float64, float64) { return pairs[i].x, pairs[i].y })
	if !from.finite() || !to.finite() {
		return matrix3{}, fmt.Errorf("%w: all %d points coincide", ErrDegenerate, len(pairs))
	}
	normal := mat.NewSymDense(9, nil)
	for _, p := range pairs {
		px, py := from.apply(p.px, p.py)
		x, y := to.apply(p.x, p.y)
		addEquation(normal, [9]float64{-px, -py, -1, 0, 0, 0, x * px, x * py, x})
		addEquation(normal, [9]float64{0, 0, 0, -px, -py, -1, y * px, y * py, y})
	}
	m, err := smallestEigenvector(normal)
	if err != nil {
		return matrix3{}, err
	}
	return to.inverse().times(m).times(from), nil
}

// addEquation adds a a' to the normal matrix.
func addEquation(normal *mat.SymDense, a [9]float64) {
	for i := range 9 {
		for j := i; j < 9; j++ {
			normal.SetSym(i, j, normal.At(i, j)+a[i]*a[j])
		}
	}
}

// rankTolerance bounds the second smallest eigenvalue of the normal matrix
// against the largest. Rounding of the squared system is of the order of
// 1e-16 relative; points on one line leave the second eigenvalue there, while
// four marks over a tenth of the picture give more than 1e-8.
const rankTolerance = 1e-12

func smallestEigenvector(normal *mat.SymDense) (matrix3, error) {
	var eigen mat.EigenSym
	if !eigen.Factorize(normal, true) {
		return matrix3{}, fmt.Errorf("%w: no eigenvectors", ErrDegenerate)
	}
	values := eigen.Values(nil)
	if !(values[1] > rankTolerance*values[8]) {
		return matrix3{}, fmt.Errorf("%w: they lie on one line or coincide", ErrDegenerate)
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	var m matrix3
	for i := range m {
		m[i] = vectors.At(i, 0)
	}
	return m, nil
}

// normaliser returns the similarity that moves n points' centroid to 0 and
// their rms distance from it to sqrt(2). It is not finite if they coincide.
func normaliser(n int, at func(int) (float64, float64)) matrix3 {
	var mx, my, square float64
	for i := range n {
		x, y := at(i)
		mx, my = mx+x/float64(n), my+y/float64(n)
	}
	for i := range n {
		x, y := at(i)
		square += ((x-mx)*(x-mx) + (y-my)*(y-my)) / float64(n)
	}
	s := math.Sqrt(2 / square)
	return matrix3{s, 0, -s * mx, 0, s, -s * my, 0, 0, 1}
}
