package report

import (
	"math"

	"sitspan/calibration"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/fit"
)

// plan is a drawing of both centres at scale, from above, front up: what can be
// shown of a record alone.
type plan struct {
	*sheet
	x, y, w, h float64 // of the drawing on the page, mm
	scale      float64 // page mm per mm
	midX, midY float64 // frame axes, mm, at the drawing's middle
	window     bool    // the frame's window is its border
}

// newPlan makes the window the border where the centres lie in it. A scan has
// its own axes, and a record may lack the centres: then the drawing is centred
// on what there is.
func (s *sheet) newPlan(x, y, w, h float64) plan {
	p := plan{sheet: s, x: x, y: y, w: w, h: h, scale: s.figure}
	left, right := s.centres()
	p.window = s.m.ScaleSource == "frame" && inWindow(left) && inWindow(right)
	if !p.window {
		p.midX, p.midY = (left[0]+right[0])/2, (left[1]+right[1])/2
		p.scale = math.Min(p.scale, 0.86*w/math.Hypot(right[0]-left[0], right[1]-left[1]))
	}
	return p
}

// farMM bounds what is drawn as a place: beyond it a record is at fault.
const farMM = 1e4

// centres are both deepest points in mm; where the record has none that can be
// drawn, the distance alone.
func (s *sheet) centres() (left, right [2]float64) {
	if l, r := s.m.LeftMM, s.m.RightMM; l != nil && r != nil {
		far := math.Max(math.Hypot(l[0], l[1]), math.Hypot(r[0], r[1]))
		if far < farMM && math.Hypot(r[0]-l[0], r[1]-l[1]) >= 1 {
			return *l, *r
		}
	}
	return [2]float64{-*s.m.Spacing / 2, 0}, [2]float64{*s.m.Spacing / 2, 0}
}

func inWindow(at [2]float64) bool {
	size := calibration.ControlFrame.Window
	return math.Abs(at[0]) < size.Width/2 && math.Abs(at[1]) < size.Height/2
}

// page turns frame axes into the page's.
func (p plan) page(mm [2]float64) (x, y float64) {
	return p.x + p.w/2 + (mm[0]-p.midX)*p.scale, p.y + p.h/2 + (mm[1]-p.midY)*p.scale
}

func (p plan) draw() {
	p.box(p.x, p.y, p.w, p.h, wash)
	p.grid()
	if p.window {
		p.frame(p.x, p.y, p.w, p.h, 0.35, grey)
	}
	side := style{7.4 * p.density.scale, true, grey}
	p.putMiddle(p.x+p.w/2, p.y+p.gap(6), p.lang.Text("sheet.front"), side)
	p.arrow(p.x+p.w/2, p.y+p.gap(1.4))
	left, right := p.centres()
	p.dimensions(left, right)
	p.centre(left, p.m.Left, p.lang.Text("sheet.left"), side)
	p.centre(right, p.m.Right, p.lang.Text("sheet.right"), side)
}

// arrow points to the front.
func (p plan) arrow(x, y float64) {
	if p.doc == nil {
		return
	}
	d := p.gap(1.1)
	p.line(x-d, y+d, x, y, 0.35, grey)
	p.line(x+d, y+d, x, y, 0.35, grey)
}

// gridMM is the distance of the plan's lines: 20 mm, as on the frame's ticks.
const gridMM = 20.0

func (p plan) grid() {
	for i := math.Ceil((p.midX - p.w/2/p.scale) / gridMM); ; i++ {
		x, _ := p.page([2]float64{i * gridMM, 0})
		if x >= p.x+p.w {
			break
		}
		p.line(x, p.y, x, p.y+p.h, 0.12, pale)
	}
	for i := math.Ceil((p.midY - p.h/2/p.scale) / gridMM); ; i++ {
		_, y := p.page([2]float64{0, i * gridMM})
		if y >= p.y+p.h {
			break
		}
		p.line(p.x, y, p.x+p.w, y, 0.12, pale)
	}
}

// centre is one deepest point with its ellipse and its side's name.
func (p plan) centre(at [2]float64, d *record.Dent, name string, st style) {
	x, y := p.page(at)
	top := p.gap(2)
	if d != nil {
		rx, ry, deg := ellipse95(d.Cov)
		if rx > 0 {
			p.ellipse(x, y, rx*p.scale, ry*p.scale, deg, 0.25, accent, tint)
			top = max(top, rx*p.scale)
		}
	}
	p.line(x-1.6, y, x+1.6, y, 0.3, accent)
	p.line(x, y-1.6, x, y+1.6, 0.3, accent)
	p.putMiddle(x, y-top-p.gap(1.4), name, st)
}

// axis is the line of centres on the page: its middle, its direction and the
// direction toward the saddle's rear.
type axis struct{ x, y, alongX, alongY, rearX, rearY, length float64 }

func (p plan) axis(left, right [2]float64) axis {
	x1, y1 := p.page(left)
	x2, y2 := p.page(right)
	length := math.Hypot(x2-x1, y2-y1)
	ex, ey := (x2-x1)/length, (y2-y1)/length
	return axis{(x1 + x2) / 2, (y1 + y2) / 2, ex, ey, -ey, ex, length}
}

// at is the point so far along the axis from its middle, and so far to its rear.
func (a axis) at(along, rear float64) (x, y float64) {
	return a.x + along*a.alongX + rear*a.rearX, a.y + along*a.alongY + rear*a.rearY
}

// dimensions are the line of measure behind the centres, toward the saddle's
// rear, and where there is one bike and one width, the saddle's width behind it.
func (p plan) dimensions(left, right [2]float64) {
	a := p.axis(left, right)
	room := p.y + p.h - math.Max(a.y, a.y+math.Abs(a.alongY)*a.length/2) - p.gap(3)
	off := math.Min(p.gap(12), room)
	if off < p.gap(6) { // no room behind: before them
		off = -p.gap(12)
	}
	distance := p.lang.Number(*p.m.Spacing, 1) + " mm"
	p.dimension(a, a.length, off, distance, style{11 * p.density.scale, true, accent})
	width, ok := p.theWidth()
	second, wide := off+p.gap(9.5), width*p.scale
	if !ok || off < 0 || second > room || wide > p.w-p.gap(8) {
		return
	}
	p.dimension(a, wide, second, p.lang.Text("sheet.saddle")+" "+p.lang.Plain(width)+" mm",
		style{9 * p.density.scale, false, grey})
}

// theWidth is the width to take, where the sheet names but one.
func (p plan) theWidth() (float64, bool) {
	if len(p.advice) != 1 || p.advice[0].Choice.Verdict != fit.Clear || p.advice[0].Choice.WidthMM == nil {
		return 0, false
	}
	return *p.advice[0].Choice.WidthMM, true
}

// dimension is a line of measure of a length about the axis's middle, off to
// its rear, with extension lines from the axis and a text in its middle.
func (p plan) dimension(a axis, length, off float64, text string, st style) {
	for _, end := range []float64{-length / 2, length / 2} {
		x1, y1 := a.at(end, 0)
		x2, y2 := a.at(end, off+math.Copysign(1.5, off))
		p.line(x1, y1, x2, y2, 0.15, st.ink)
		x, y := a.at(end, off)
		in := -math.Copysign(1, end)
		p.arrowhead(x, y, in*a.alongX, in*a.alongY, st.ink)
	}
	x1, y1 := a.at(-length/2, off)
	x2, y2 := a.at(length/2, off)
	p.line(x1, y1, x2, y2, 0.4, st.ink)
	x, y := a.at(0, off)
	p.box(x-st.width(text)/2-1.2, y-st.height()/2, st.width(text)+2.4, st.height(), wash)
	p.putMiddle(x, y+st.pt*mmPerPoint*0.36, text, st)
}

// arrowhead ends a dimension line, pointing outward.
func (p plan) arrowhead(x, y, inX, inY float64, in ink) {
	const long, half = 2.2, 0.8
	p.line(x, y, x+inX*long-inY*half, y+inY*long+inX*half, 0.4, in)
	p.line(x, y, x+inX*long+inY*half, y+inY*long-inX*half, 0.4, in)
}

// ellipse95 is the ellipse that holds a centre with 95 %: its half-axes in mm
// and the long axis's direction in degrees from x toward y. The factor is that
// of two jointly normal coordinates, -2 ln(1 - 0.95) = 5.991 (JCGM 102:2011;
// chi-square of two degrees of freedom in closed form). Zero where the covariance is none.
func ellipse95(cov [3]float64) (long, short, deg float64) {
	xx, xy, yy := cov[0], cov[1], cov[2]
	mean, half := (xx+yy)/2, math.Hypot((xx-yy)/2, xy)
	if !(mean-half > 0) {
		return 0, 0, 0
	}
	k := -2 * math.Log(1-0.95)
	return math.Sqrt(k * (mean + half)), math.Sqrt(k * (mean - half)),
		math.Atan2(2*xy, xx-yy) / 2 * 180 / math.Pi
}
