package reading

import (
	"image"
	"math"

	"gonum.org/v1/gonum/mat"

	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/internal/rank"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
	"sitspan/imprint/scale"
)

// Beside is a picture with a reference, reduced to a coarse map of ink in the reference's plane: what is no
// paper, the reference itself and the table round the sheet, is left out.
type Beside struct {
	Sheet
	photo     *photo.Photo
	axes      scale.Reference // as they were when the map was made
	left, top float64         // of the map's edge, mm
	ground    []float64       // ln of the paper's own light, cell by cell
	out       []bool          // cells that show no paper
	noise     float64         // how much the paper brightens over its ground, against how much it darkens
}

const (
	mostSheet   = 640.0 // mm, side of the map
	maskMargin  = 5.0   // mm round the reference that its shadow may fall on
	offPaper    = 0.30  // ln of light below the paper from which a cell at the picture's rim is no paper
	rimOfSheet  = 3     // cells round what is no paper that may show its edge
	leastOfInk  = 0.10  // mean ink from which cells belong to a mark
	strayShare  = 0.15  // of the largest patch of ink that a patch must have to count
	paperPlenty = 200   // cells of paper that are needed
)

// NewBeside samples the plane on a 2 mm grid over what the picture shows of it.
func NewBeside(p *photo.Photo, grey *image.Gray, r *scale.Reference) (*Beside, error) {
	s := &Beside{photo: p, axes: *r}
	s.step = 2
	x0, y0, x1, y1 := r.Extent(p.Width, p.Height, mostSheet)
	s.left, s.top = x0, y0
	s.w, s.h = max(4, int((x1-x0)/s.step)), max(4, int((y1-y0)/s.step))
	levels, err := SampleAt(
		grey,
		s.w,
		s.h,
		func(i int) homography.Pixel { return r.ImageFromPlane(homography.PlanePoint(s.place(i))) },
	)
	if err != nil {
		return nil, err
	}
	light := Linear(levels)
	s.out = make([]bool, len(light))
	masked := make([]bool, len(light))
	hole := polygonOf(r)
	for i, l := range light {
		masked[i] = hole.near(s.place(i), maskMargin)
		s.out[i] = masked[i] || math.IsNaN(l)
	}
	s.fitGround(light)
	s.dropRim(masked)
	s.fitGround(light)
	cell, _ := s.patches().counts()
	for i, on := range cell {
		if !on {
			s.ink[i] = 0
		}
	}
	return s, nil
}

// place is cell i in the measurement's axes.
func (s *Beside) place(i int) relief.Point {
	q := s.at(i)
	return relief.Point{X: q.X + s.left, Y: q.Y + s.top}
}

// fitGround lays a quadratic through ln of the paper's light and takes the ink from it: first through the
// lightest fifth of the cells, then through all that are not darker than it.
func (s *Beside) fitGround(light []float64) {
	var lit []float64
	for i, l := range light {
		if !s.out[i] {
			lit = append(lit, math.Log(math.Max(l, 1e-3)))
		}
	}
	s.ink, s.ground = make([]float64, len(light)), make([]float64, len(light))
	if len(lit) < paperPlenty {
		return
	}
	order := rank.Sorted(lit)
	level := order[len(order)*9/10]
	for i := range s.ground {
		s.ground[i] = level
	}
	for _, below := range []float64{0.30, 0.12, 0.08} {
		if !s.quadratic(light, below) {
			break
		}
	}
	var dark, bright float64
	for i, l := range light {
		if s.out[i] {
			continue
		}
		d := s.ground[i] - math.Log(math.Max(l, 1e-3))
		s.ink[i] = math.Max(0, d-0.08)
		if d > 0 {
			dark += d * d
		} else {
			bright += d * d
		}
	}
	s.noise = bright / math.Max(dark, 1e-9)
}

// quadratic refits the ground through the cells that are at most so much below it, and not as much above.
func (s *Beside) quadratic(light []float64, below float64) bool {
	a, b := mat.NewSymDense(6, nil), mat.NewVecDense(6, nil)
	row := func(i int) [6]float64 {
		x, y := 2*float64(i%s.w)/float64(s.w)-1, 2*float64(i/s.w)/float64(s.h)-1
		return [6]float64{1, x, y, x * x, x * y, y * y}
	}
	n := 0
	for i, l := range light {
		if s.out[i] {
			continue
		}
		v := math.Log(math.Max(l, 1e-3))
		if d := s.ground[i] - v; d > below || d < -below {
			continue
		}
		n++
		r := row(i)
		for j := range r {
			b.SetVec(j, b.AtVec(j)+r[j]*v)
			for k := j; k < len(r); k++ {
				a.SetSym(j, k, a.At(j, k)+r[j]*r[k])
			}
		}
	}
	if n < paperPlenty {
		return false
	}
	for j := range 6 {
		a.SetSym(j, j, a.At(j, j)+1e-3*float64(n)) // few cells in a corner do not bend the ground
	}
	var chol mat.Cholesky
	var c mat.VecDense
	if !chol.Factorize(a) || chol.SolveVecTo(&c, b) != nil {
		return false
	}
	for i := range s.ground {
		s.ground[i] = 0
		for j, v := range row(i) {
			s.ground[i] += c.AtVec(j) * v
		}
	}
	return true
}

// dropRim leaves out what is darker than paper and reaches the picture's rim: the table. The reference does
// not lead to it: a mark may touch both.
func (s *Beside) dropRim(masked []bool) {
	var queue []int
	table := make([]bool, len(s.ink))
	visit := func(i int) {
		if !table[i] && !masked[i] && (s.out[i] || s.ink[i] > offPaper) {
			table[i] = true
			queue = append(queue, i)
		}
	}
	for x := range s.w {
		visit(x)
		visit((s.h-1)*s.w + x)
	}
	for y := range s.h {
		visit(y * s.w)
		visit(y*s.w + s.w - 1)
	}
	for len(queue) > 0 {
		i := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		s.neighbours(i, visit)
	}
	for range rimOfSheet {
		next := append([]bool(nil), table...)
		for i, on := range table {
			if on {
				s.neighbours(i, func(k int) { next[k] = true })
			}
		}
		table = next
	}
	for i, on := range table {
		s.out[i] = s.out[i] || on
	}
}

// Locate finds the two marks, in the measurement's axes.
func (s *Beside) Locate() (relief.Point, float64, *codes.Said) {
	at, turn, why := s.Sheet.Locate()
	return relief.Point{X: at.X + s.left, Y: at.Y + s.top}, turn, why
}

// Inked tells marks on paper, which only darken it, from a relief, which brightens as much.
func (s *Beside) Inked() bool { return s.noise < 0.1 }

// Window reads the window with what is no paper filled with the paper's own light. place is as it stands when
// the window is read; the map keeps the axes that it was made in.
func (s *Beside) Window(grey *image.Gray, place func(relief.Point) homography.Pixel) (relief.Window, error) {
	levels, err := SampleAt(
		grey,
		relief.Columns,
		relief.Rows,
		func(i int) homography.Pixel { return place(relief.At(i)) },
	)
	if err != nil {
		return relief.Window{}, err
	}
	light := Linear(levels)
	for i := range light {
		if k := s.cell(place(relief.At(i))); s.out[k] || math.IsNaN(light[i]) {
			light[i] = math.Exp(s.ground[k])
		}
	}
	return relief.Window{Light: light}, nil
}

// cell is the map's cell that a pixel shows, or the nearest one.
func (s *Beside) cell(p homography.Pixel) int {
	q, err := s.axes.PlaneFromImage(p)
	if err != nil {
		return 0
	}
	x := max(0, min(s.w-1, int((q.X-s.left)/s.step)))
	y := max(0, min(s.h-1, int((q.Y-s.top)/s.step)))
	return y*s.w + x
}

// polygon is a convex figure on the plane, mm, its corners in order.
type polygon []relief.Point

// polygonOf is what a reference covers.
func polygonOf(r *scale.Reference) (p polygon) {
	for _, c := range r.Outline {
		if q, err := r.PlaneFromImage(c); err == nil {
			p = append(p, relief.Point(q))
		}
	}
	return p
}

// near tells whether a point lies inside or within so many mm of it.
func (p polygon) near(q relief.Point, margin float64) bool {
	var left, right bool
	for i, a := range p {
		b := p[(i+1)%len(p)]
		dx, dy := b.X-a.X, b.Y-a.Y
		cross := dx*(q.Y-a.Y) - dy*(q.X-a.X)
		left, right = left || cross > 0, right || cross < 0
		t := math.Max(0, math.Min(1, ((q.X-a.X)*dx+(q.Y-a.Y)*dy)/math.Max(1e-9, dx*dx+dy*dy)))
		if math.Hypot(q.X-a.X-t*dx, q.Y-a.Y-t*dy) < margin {
			return true
		}
	}
	return len(p) > 2 && left != right
}

const (
	markSample = 2.0 // mm
)

// Covered is why a mark that the reference, the sheet's edge or the picture's rim cuts is to be looked at;
// nil where none does.
func (s *Beside) Covered(r relief.Reading, toPixel func(relief.Point) homography.Pixel) *codes.Said {
	reach := judge.MarkReach.Value
	for _, side := range []relief.Side{r.Left, r.Right} {
		var n, hidden float64
		for dx := -reach; dx <= reach; dx += markSample {
			for dy := -reach; dy <= reach; dy += markSample {
				if math.Hypot(dx, dy) > reach {
					continue
				}
				n++
				p := toPixel(relief.Point{X: side.At.X + dx, Y: side.At.Y + dy})
				if !s.inPicture(p) || s.out[s.cell(p)] {
					hidden++
				}
			}
		}
		if hidden > judge.MarkCover.Value*n {
			return because(codes.MarkCovered.With(100*hidden/n, reach))
		}
	}
	return nil
}

func (s *Beside) inPicture(p homography.Pixel) bool {
	return p.X >= 0 && p.Y >= 0 && p.X <= float64(s.photo.Width-1) && p.Y <= float64(s.photo.Height-1)
}

// FoamWindow is the window on foam, of the plane below the reference's: only the reference is filled, since
// foam has no paper's ground.
func (s *Beside) FoamWindow(
	grey *image.Gray,
	r *scale.Reference,
	place func(relief.Point) homography.Pixel,
) (relief.Window, error) {
	view := ViewOf(r.Camera)
	at := func(i int) relief.Point { return view.OnFrame(relief.At(i)) }
	levels, err := SampleAt(
		grey,
		relief.Columns,
		relief.Rows,
		func(i int) homography.Pixel { return place(at(i)) },
	)
	if err != nil {
		return relief.Window{}, err
	}
	light := Linear(levels)
	fill := rank.Median(light)
	hole := polygonOf(r)
	for i := range light {
		if hole.near(at(i), maskMargin) {
			light[i] = fill
		}
	}
	return relief.Window{Light: light, View: view}, nil
}
