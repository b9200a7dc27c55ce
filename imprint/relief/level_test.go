package relief

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Equation (1) by hand: from 190 mm above the frame's plane a point 10 mm below it is seen at 190/200 of its
// distance from the camera's foot point.
func TestALowerPointIsSeenNearerTheCamera(t *testing.T) {
	v := View{X: 20, Y: -40, Height: 190}
	require.InDelta(t, 20+0.95*100, v.OnFrame(Point{120, 60}).X, 1e-12)
	require.InDelta(t, -40+0.95*100, v.OnFrame(Point{120, 60}).Y, 1e-12)
	require.Equal(t, Point{120, 60}, View{}.OnFrame(Point{120, 60}), "a scan")
	r := Reading{Left: Side{At: Point{-60, 0}, VarX: 4, VarY: 1},
		Right: Side{At: Point{60, 8}, SecondPlace: Point{X: 20}}, VarSpacing: 2, Mirror: 1}
	o := r.OnFrame(v)
	require.InDelta(t, 0.95*r.Distance(), o.Distance(), 1e-12)
	require.InDelta(t, 4*0.9025, o.Left.VarX, 1e-12)
	require.InDelta(t, 0.9025, o.Left.VarY, 1e-12)
	require.InDelta(t, 2*0.9025, o.VarSpacing, 1e-12)
	require.InDelta(t, 0.95, o.Mirror, 1e-12)
	require.InDelta(t, 20, o.Right.SecondPlace.X, 1e-12)
	require.Equal(t, r, r.OnFrame(View{}))
}
