package bundle

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// An angle known to a ten-millionth of a radian beside a height known to ten millimetres: by their numbers
// the matrix looks singular (its condition number is 1e18), and it is not.
func TestUnitsMakeNoMatrixSingular(t *testing.T) {
	m := mat.NewSymDense(2, []float64{1e16, 5e6, 5e6, 1e-2})
	var chol mat.Cholesky
	require.True(t, chol.Factorize(m))
	require.Error(t, chol.InverseTo(&mat.SymDense{}), "as it stands")
	got, ok := inverseInUnits(m)
	require.True(t, ok)
	// by hand: the determinant is 1e14 - 2.5e13
	assert.InEpsilon(t, 1e-2/7.5e13, got.At(0, 0), 1e-12)
	assert.InEpsilon(t, -5e6/7.5e13, got.At(0, 1), 1e-12)
	assert.InEpsilon(t, 1e16/7.5e13, got.At(1, 1), 1e-12)
}

func TestAnUnknownThatNothingTellsIsSaid(t *testing.T) {
	_, ok := inverseInUnits(mat.NewSymDense(2, []float64{1, 0, 0, 0}))
	assert.False(t, ok)
	_, ok = inverseInUnits(mat.NewSymDense(2, []float64{1, 1, 1, 1}))
	assert.False(t, ok)
}
