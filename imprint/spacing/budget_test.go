package spacing

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/codes"
)

// Whether an influence is shared hangs on its code. The words of the basis, in whatever language, and
// its parameters change no U.
func TestWordsCannotChangeU(t *testing.T) {
	budget := func(from codes.Said) Budget {
		return Budget{
			Of(
				codes.LeftCentre,
				1.5,
				1,
				from,
			), Of(codes.DentDepth, 4, 0.25, from), Of(codes.PrintScale, 0.4, 1, from),
			Of(codes.MarkCorners, 0.1, 1, from).WithDoF(40),
		}
	}
	one, other := budget(
		codes.PadProfile.With("gel"),
	), budget(
		codes.Said{Kind: codes.Basis, Code: "reworded"},
	)
	u, k := one.Expanded(0.95)
	v, l := other.Expanded(0.95)
	assert.Equal(t, []float64{u, k}, []float64{v, l})
	for _, b := range []Budget{one, other} {
		shared := SharedBy(codes.BySittings, b, b)
		require.Len(t, shared, 2, "the print and the depth")
		assert.Equal(t, "dent_depth", shared[0].Source)
		assert.Equal(t, "print_scale", shared[1].Source)
	}
}

// Each influence that sittings share counts once, by its largest contribution.
func TestSharedLinesAreTheLargest(t *testing.T) {
	from := codes.Assumed.With()
	shared := SharedBy(
		codes.BySittings,
		Budget{Of(codes.Lens, 0.2, 1, from), Of(codes.RightCentre, 9, 1, from)},
		Budget{Of(codes.Lens, 0.1, 3, from), Of(codes.CardThickness, 0.3, 0.25, from)},
	)
	require.Len(t, shared, 2)
	assert.InDelta(t, 0.3, shared[0].Contribution(), 1e-12, "0.1 x 3 by hand")
	assert.Equal(t, "card_thickness", shared[1].Source)
}

func TestPartIsARootSumOfSquares(t *testing.T) {
	from := codes.Assumed.With()
	b := Budget{
		Of(codes.DentDepth, 3, 1, from),
		Of(codes.DepthOfSides, 4, -1, from),
		Of(codes.Lens, 7, 1, from),
	}
	assert.InDelta(t, 5, b.Part(codes.DentDepth, codes.DepthOfSides, codes.CardThickness), 1e-12, "3, 4, 5")
}
