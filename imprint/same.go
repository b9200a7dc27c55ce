package imprint

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"sitspan/imprint/judge"
)

// leaveCopies marks each photo that shows what an earlier one shows: the picture saved again by a messenger,
// turned or cut, or taken from a stand under the same lamp. Its reading would be no second one.
func leaveCopies(all []*sight) {
	for i, v := range all {
		for _, first := range all[:i] {
			v.again = v.again || !first.again && v.sameAs(first)
		}
	}
}

// sameAs tells whether the marks lie alike in both pictures, but for size, place and turn, and the window is
// lit alike. From a hand no two pictures are.
func (v *sight) sameAs(o *sight) bool {
	if v.m.Plane == nil || o.m.Plane == nil || v.m.Plane.Camera == nil || o.m.Plane.Camera == nil {
		return false // of a scan the marks lie alike whatever lies between them
	}
	return marksApart(v, o) < judge.SameMarks.Value && litAlike(v, o) > judge.SameLight.Value
}

// marksApart is the rms distance between the corners of marks that both pictures show, after the best shift,
// turn and scale of one, over their rms distance from their middle.
func marksApart(v, o *sight) float64 {
	var p, q []complex128
	for _, a := range v.m.Plane.Marks {
		for _, b := range o.m.Plane.Marks {
			if a.ID != b.ID {
				continue
			}
			for i := range a.Corners {
				p = append(p, complex(a.Corners[i].X, a.Corners[i].Y))
				q = append(q, complex(b.Corners[i].X, b.Corners[i].Y))
			}
		}
	}
	if len(p) < 4*int(judge.LeastMarks.Value) {
		return math.Inf(1)
	}
	var middleP, middleQ complex128
	for i := range p {
		middleP += p[i] / complex(float64(len(p)), 0)
		middleQ += q[i] / complex(float64(len(p)), 0)
	}
	var cross complex128
	var squareP, squareQ float64
	for i := range p {
		a, b := p[i]-middleP, q[i]-middleQ
		cross += complex(real(a), -imag(a)) * b
		squareP += real(a)*real(a) + imag(a)*imag(a)
		squareQ += real(b)*real(b) + imag(b)*imag(b)
	}
	kept := (real(cross)*real(cross) + imag(cross)*imag(cross)) / (squareP * squareQ)
	return math.Sqrt(math.Max(0, 1-kept))
}

// litAlike is the correlation of the logarithms of the light in both windows; 0 where one has none.
func litAlike(v, o *sight) float64 {
	a, b := v.window.Light, o.window.Light
	if len(a) == 0 || len(a) != len(b) {
		return 0
	}
	var x, y []float64
	for i := range a {
		if a[i] > 0 && b[i] > 0 {
			x, y = append(x, math.Log(a[i])), append(y, math.Log(b[i]))
		}
	}
	if len(x) < len(a)/2 {
		return 0
	}
	return stat.Correlation(x, y, nil)
}
