package dots

import "gonum.org/v1/gonum/mat"

// solveSmall solves the normal equations of one dot.
func solveSmall(n [parameters][parameters]float64, right [parameters]float64) (x [parameters]float64,
	ok bool) {
	var chol mat.Cholesky
	if !chol.Factorize(symmetric(n)) {
		return x, false
	}
	var out mat.VecDense
	if chol.SolveVecTo(&out, mat.NewVecDense(parameters, right[:])) != nil {
		return x, false
	}
	copy(x[:], out.RawVector().Data)
	return x, true
}

// invertSmall inverts them.
func invertSmall(n [parameters][parameters]float64) (inverse [parameters][parameters]float64, ok bool) {
	var chol mat.Cholesky
	if !chol.Factorize(symmetric(n)) {
		return inverse, false
	}
	var out mat.SymDense
	if chol.InverseTo(&out) != nil {
		return inverse, false
	}
	for i := range inverse {
		for k := range inverse {
			inverse[i][k] = out.At(i, k)
		}
	}
	return inverse, true
}

func symmetric(n [parameters][parameters]float64) *mat.SymDense {
	s := mat.NewSymDense(parameters, nil)
	for i := range n {
		for k := i; k < parameters; k++ {
			s.SetSym(i, k, n[i][k])
		}
	}
	return s
}
