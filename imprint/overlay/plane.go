package overlay

import "math"

// Spacing of the grid's lines in mm, and of the points that draw one: between
// points a line is straight, whatever the lens does.
const (
	gridFine   = 10
	gridStrong = 50
	gridStep   = 5
)

// grid draws the plane's grid over the window: lines every 10 mm, every fifth
// stronger, and the window's outline.
func (v *view) grid() {
	if v.scene.Plane == nil || v.scene.Window[0] <= 0 || v.scene.Window[1] <= 0 {
		return
	}
	var fine, strong [][]point
	for axis := range 2 {
		half := v.scene.Window[axis] / 2
		for i := range gridCount(half) {
			// From the origin outwards: 0, 10, -10, 20, -20, ...
			at := gridFine * float64((i+1)/2) * float64(1-2*((i+1)%2))
			lines := v.gridLine(axis, at)
			if math.Mod(at, gridStrong) == 0 {
				strong = append(strong, lines...)
			} else {
				fine = append(fine, lines...)
			}
		}
		strong = append(strong, v.gridLine(axis, half)...)
		strong = append(strong, v.gridLine(axis, -half)...)
	}
	v.gridLines(fine, 0.20, 0.28)
	v.gridLines(strong, 0.32, 0.52)
}

// gridCount is the number of lines inside a half-width of so many mm, no more
// than can be told apart on any picture.
func gridCount(half float64) int {
	return 1 + 2*int(math.Min(200, math.Ceil(half/gridFine)-1))
}

// gridLine is the line of points of the window whose coordinate along an axis
// is at, in mm, cut where the picture cannot show it.
func (v *view) gridLine(axis int, at float64) [][]point {
	length := v.scene.Window[1-axis]
	n := int(math.Min(200, math.Ceil(length/gridStep)))
	var mm [][2]float64
	for i := range n + 1 {
		p := [2]float64{}
		p[axis], p[1-axis] = at, length*(float64(i)/float64(n)-0.5)
		mm = append(mm, p)
	}
	return v.traced(mm)
}

// traced shows a path of the plane as polylines, cut where the picture cannot
// show it.
func (v *view) traced(mm [][2]float64) (lines [][]point) {
	var line []point
	for _, m := range mm {
		p, ok := v.onPlane(m)
		if ok {
			line = append(line, p)
			continue
		}
		lines, line = append(lines, line), nil
	}
	return append(lines, line)
}

// gridLines draws lines whose dark casing and light core have these opacities:
// the one shows on light pads, the other on dark ones.
func (v *view) gridLines(lines [][]point, casing, core float64) {
	half := math.Max(0.5, 0.15*v.unit)
	add := func(half float64) {
		for _, l := range lines {
			v.polyline(l, half)
		}
	}
	add(half + math.Max(0.5, 0.15*v.unit))
	v.ink(faded(dark, casing))
	add(half)
	v.ink(faded(light, core))
}

// ellipse is the outline of a centre's 95 % region on the plane, cut where the
// picture cannot show it; nil where there is none.
func (v *view) ellipse(c *Centre) [][]point {
	if v.scene.Plane == nil || c.Semi == [2]float64{} {
		return nil
	}
	const n = 72
	sin, cos := math.Sincos(c.DirectionDeg * math.Pi / 180)
	var mm [][2]float64
	for i := range n + 1 {
		b, a := math.Sincos(2 * math.Pi * float64(i%n) / n)
		a, b = a*c.Semi[0], b*c.Semi[1]
		mm = append(mm, [2]float64{c.PlaneMM[0] + a*cos - b*sin, c.PlaneMM[1] + a*sin + b*cos})
	}
	return v.traced(mm)
}
