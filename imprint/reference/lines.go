package reference

import (
	"image"
	"math"
	"slices"

	"sitspan/imprint/homography"
	"sitspan/imprint/internal/cores"
)

const (
	searchSide = 1100 // px, longer side at most, of the reduced picture in which lines are looked for
	mostLines  = 90
	mostBands  = 24
	binAlong   = 4.0 // px of the reduced picture: the pieces in which a line's support is noted
)

// line is a straight edge in the reduced picture: the points with x cos + y sin = rho, and which pieces of it
// are seen.
type line struct {
	angle, rho float64
	cos, sin   float64
	first      int // number of the first piece
	support    []bool
	weight     float64
}

func (l line) along(x, y float64) float64 { return y*l.cos - x*l.sin }

// point is the place t px along the line.
func (l line) point(t float64) (x, y float64) { return l.rho*l.cos - t*l.sin, l.rho*l.sin + t*l.cos }

// seen is the share of the pieces between two places along the line where the edge is seen.
func (l line) seen(from, to float64) float64 {
	if from > to {
		from, to = to, from
	}
	a, b := int(math.Floor(from/binAlong)), int(math.Floor(to/binAlong))
	n := 0
	for k := a; k <= b; k++ {
		if i := k - l.first; i >= 0 && i < len(l.support) && l.support[i] {
			n++
		}
	}
	return float64(n) / float64(b-a+1)
}

// field is the reduced picture's straight edges.
type field struct {
	scale  float64 // px of the picture per reduced px
	w, h   int
	edgels []edgel
	turned [sectors][]edgel // the edgels by their angle
	lines  []line
	bands  []line // along which edges cross: rows of graduation lines
}

// full carries a reduced point to the picture.
func (f *field) full(x, y float64) homography.Pixel {
	return homography.Pixel{X: (x+0.5)*f.scale - 0.5, Y: (y+0.5)*f.scale - 0.5}
}

// straight finds the picture's straight edges by a Hough transform in which every edge pixel votes for its
// own direction (Ballard, Pattern Recognition 13 (1981) 111; page from memory, the paper settles it), faint
// ones as loudly as strong ones.
func straight(img *image.Gray) *field {
	k := (max(img.Rect.Dx(), img.Rect.Dy()) + searchSide - 1) / searchSide
	l := reduced(img, k)
	f := &field{scale: float64(k), w: l.w, h: l.h, edgels: l.edgels()}
	for _, e := range f.edgels {
		s := sector(e.angle)
		f.turned[s] = append(f.turned[s], e)
	}
	find := []func(){f.findLines, f.findBands}
	cores.Each(len(find), func(i int) { find[i]() })
	return f
}

func (f *field) findLines() {
	for _, p := range f.vote(0, 3, mostLines*2) {
		if len(f.lines) == mostLines {
			break
		}
		if ln, ok := f.refine(p.angle, p.rho); ok && !f.has(ln) {
			f.lines = append(f.lines, ln)
		}
	}
}

func (f *field) findBands() {
	for _, p := range f.vote(math.Pi/2, 5, mostBands) {
		p.cos, p.sin = math.Cos(p.angle), math.Sin(p.angle)
		p.note(f, math.Pi/2)
		f.bands = append(f.bands, p)
	}
}

const votingAngles = 180

// vote is the Hough transform: every edge pixel votes for the lines through it whose normal is turned against
// its gradient, give or take so many degrees.
func (f *field) vote(turned float64, give, most int) (found []line) {
	diag := int(math.Hypot(float64(f.w), float64(f.h))) + 2
	rhos := 2*diag + 1
	votes := make([]float32, votingAngles*rhos)
	var cos, sin [votingAngles]float64
	for a := range votingAngles {
		cos[a], sin[a] = math.Cos(float64(a)*math.Pi/votingAngles), math.Sin(float64(a)*math.Pi/votingAngles)
	}
	for _, e := range f.edgels {
		near := int(math.Round((e.angle + turned) * votingAngles / math.Pi))
		for d := -give; d <= give; d++ {
			a := ((near+d)%votingAngles + votingAngles) % votingAngles
			// diag makes it positive, so that cutting off is rounding
			votes[a*rhos+int(e.x*cos[a]+e.y*sin[a]+float64(diag)+0.5)]++
		}
	}
	for _, p := range peaks(votes, votingAngles, rhos, most) {
		found = append(found, line{angle: float64(p/rhos) * math.Pi / votingAngles, rho: float64(p%rhos - diag)})
	}
	return found
}

// peaks are the n largest votes that are largest in their neighbourhood.
func peaks(votes []float32, angles, rhos, n int) []int {
	var all []int
	for a := range angles {
		for r := 2; r+2 < rhos; r++ {
			v := votes[a*rhos+r]
			if v < 18 {
				continue
			}
			top := true
			for da := -2; da <= 2 && top; da++ {
				aa, rr := a+da, r
				if aa < 0 || aa >= angles { // the other way round
					aa, rr = (aa+angles)%angles, rhos-1-r
				}
				for dr := -2; dr <= 2; dr++ {
					if rr+dr >= 0 && rr+dr < rhos && votes[aa*rhos+rr+dr] > v {
						top = false
						break
					}
				}
			}
			if top {
				all = append(all, a*rhos+r)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b int) int {
		switch {
		case votes[a] > votes[b]:
			return -1
		case votes[a] < votes[b]:
			return 1
		}
		return 0
	})
	return all[:min(n, len(all))]
}

const sectors = 64 // of half a turn, by which edge pixels are kept

// sector is the one that an angle lies in.
func sector(angle float64) int {
	k := int(math.Floor(angle * sectors / math.Pi))
	return (k%sectors + sectors) % sectors
}

// turnedTo are the edge pixels of all sectors that hold an angle within so many radians of another.
func (f *field) turnedTo(angle, within float64) (some [][]edgel) {
	const width = math.Pi / sectors
	for k := range min(sectors, int(2*within/width)+2) {
		some = append(some, f.turned[sector(angle-within+float64(k)*width)])
	}
	return some
}

// refine fits the line to the edge pixels near it, twice, and notes where it is seen.
func (f *field) refine(angle, rho float64) (line, bool) {
	l := line{angle: angle, rho: rho}
	for _, width := range []float64{2.5, 1.5} {
		l.cos, l.sin = math.Cos(l.angle), math.Sin(l.angle)
		var n, st, sd, stt, std float64
		for _, some := range f.turnedTo(l.angle, 0.16) {
			for _, e := range some {
				d := e.x*l.cos + e.y*l.sin - l.rho
				if math.Abs(d) > width || angleApart(e.angle, l.angle) > 0.16 {
					continue
				}
				t := l.along(e.x, e.y)
				n, st, sd, stt, std = n+1, st+t, sd+d, stt+t*t, std+t*d
			}
		}
		if n < 15 {
			return l, false
		}
		slope := (std - st*sd/n) / math.Max(1, stt-st*st/n)
		slope = math.Max(-0.05, math.Min(0.05, slope))
		mt, md := st/n, sd/n
		x, y := l.point(mt)
		x, y = x+md*l.cos, y+md*l.sin
		l.angle -= math.Atan(slope)
		l.cos, l.sin = math.Cos(l.angle), math.Sin(l.angle)
		l.rho = x*l.cos + y*l.sin
	}
	l.note(f, 0)
	return l, l.weight >= 10
}

// note marks the pieces of the line where edges are seen whose gradient is turned against the line's normal.
func (l *line) note(f *field, turned float64) {
	var at []int
	for _, some := range f.turnedTo(l.angle-turned, 0.2) {
		for _, e := range some {
			if math.Abs(e.x*l.cos+e.y*l.sin-l.rho) <= 1.5 && angleApart(e.angle+turned, l.angle) <= 0.2 {
				at = append(at, int(math.Floor(l.along(e.x, e.y)/binAlong)))
			}
		}
	}
	if len(at) == 0 {
		return
	}
	l.first = slices.Min(at)
	l.support = make([]bool, slices.Max(at)-l.first+1)
	for _, k := range at {
		if !l.support[k-l.first] {
			l.support[k-l.first] = true
			l.weight++
		}
	}
}

func (f *field) has(l line) bool {
	for _, o := range f.lines {
		// Two lines are one where they stay within 2 px over the picture's middle.
		x, y := l.point(l.along(float64(f.w)/2, float64(f.h)/2))
		if angleApart(o.angle, l.angle) < 0.012 && math.Abs(x*o.cos+y*o.sin-o.rho) < 2 {
			return true
		}
	}
	return false
}

// angleApart is the difference of two directions modulo pi, 0 to pi/2.
func angleApart(a, b float64) float64 {
	d := math.Abs(math.Mod(a-b, math.Pi))
	return math.Min(d, math.Pi-d)
}
