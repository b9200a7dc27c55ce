package overlay

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"sitspan/imprint/contour"
)

// Relief is a surface on a grid about the frame's origin, row by row from the
// front and from the left, and how the photo shows it.
type Relief struct {
	Step          float64 // mm
	Columns, Rows int
	Z             []float64 // mm below the frame's plane; NaN where there is none
	U             []float64 // standard uncertainty of Z, mm; NaN, or no list at all, where not known
	// Deepest are both deepest points on the frame's axes, mm, the rider's left
	// first. Where they are one, no section is drawn.
	Deepest [2][2]float64
	// Surface is the pad's undented surface, mm below the frame's plane; nil
	// where it is not known.
	Surface *float64
	// Show says where the upright original shows a point x, y, z in mm, z below
	// the frame's plane.
	Show func(mm [3]float64) (px [2]float64)
}

// deepest is the depth in mm beyond which no surface is taken for a pad's.
const deepest = 200

// check tells in one line what is wrong with a relief, or nil.
func (r *Relief) check() error {
	if r == nil {
		return nil
	}
	if err := r.depths().Check(); err != nil {
		return fmt.Errorf("overlay: relief: %w", err)
	}
	if len(r.U) != 0 && len(r.U) != len(r.Z) {
		return fmt.Errorf("overlay: relief: %d uncertainties of %d depths, but one each, or none, is needed",
			len(r.U), len(r.Z))
	}
	if r.Show == nil {
		return errors.New("overlay: relief: nothing says where the photo shows it")
	}
	least, largest, ok := r.depths().Range()
	if !ok || least < -deepest || largest > deepest {
		return fmt.Errorf("overlay: relief: depths from %g to %g mm, but numbers within ±%d mm are needed",
			least, largest, deepest)
	}
	if s := r.Surface; s != nil && !(math.Abs(*s) <= deepest) {
		return fmt.Errorf("overlay: relief: the pad's surface at %g mm, but a number within ±%d mm is needed",
			*s, deepest)
	}
	return nil
}

// places are the deepest points.
func (r *Relief) places() []place {
	if r == nil {
		return nil
	}
	return []place{
		{"relief's left deepest point", r.Deepest[0]},
		{"relief's right deepest point", r.Deepest[1]},
	}
}

func (r *Relief) depths() contour.Grid {
	return contour.Grid{Step: r.Step, Columns: r.Columns, Rows: r.Rows, Z: r.Z}
}

// strongest is how many mm lie between the stronger contour lines.
const strongest = 5

// leastPxPerMM is the scale in px/mm below which only the stronger lines are
// drawn: on a dent's flank, half a mm deeper each mm, the others stand 2 mm
// apart, and take three pixels each with their casing.
const leastPxPerMM = 1.7

// contourLine is a contour line as the canvas shows it.
type contourLine struct {
	level  int // mm
	pieces [][]point
}

// contourLines are the lines of the relief at whole mm, those at every fifth
// apart.
func (v *view) contourLines() (fine, strong []contourLine) {
	r := v.scene.Relief
	least, largest, _ := r.depths().Range()
	for level := int(math.Ceil(least)); level <= int(math.Floor(largest)); level++ {
		c := contourLine{level: level}
		for _, line := range r.depths().Lines(float64(level)) {
			c.pieces = append(c.pieces, v.shown(line, float64(level))...)
		}
		if level%strongest == 0 {
			strong = append(strong, c)
		} else if v.reliefScale() >= leastPxPerMM {
			fine = append(fine, c)
		}
	}
	return fine, strong
}

// shown traces a line of the surface, cut where the picture cannot show it.
func (v *view) shown(line contour.Line, z float64) (pieces [][]point) {
	return v.tracedPx(len(line),
		func(i int) [2]float64 { return v.scene.Relief.Show([3]float64{line[i].X, line[i].Y, z}) })
}

// tracedPx makes polylines of n points of the original, cut where one is none.
func (v *view) tracedPx(n int, px func(i int) [2]float64) (pieces [][]point) {
	var piece []point
	for i := range n {
		if p := px(i); usable(p) {
			piece = append(piece, v.at(p))
			continue
		}
		pieces, piece = append(pieces, piece), nil
	}
	return append(pieces, piece)
}

// reliefScale is the canvas's scale in px/mm amid the relief.
func (v *view) reliefScale() float64 {
	show := v.scene.Relief.Show
	a, b := show([3]float64{-10, 0, 0}), show([3]float64{10, 0, 0})
	if !usable(a) || !usable(b) {
		return 0
	}
	return v.at(a).distance(v.at(b)) / 20
}

// relief draws the contour lines, each mm thin and every fifth stronger, and
// where the section goes.
func (v *view) relief() {
	if v.scene.Relief == nil {
		return
	}
	fine, strong := v.contourLines()
	v.contours(fine, 0.19*v.unit, 0.4, 0.72)
	v.contours(strong, 0.36*v.unit, 0.6, 0.95)
	v.sectionOnPhoto()
}

// contours draws lines in mint with a dark casing, of these opacities.
func (v *view) contours(lines []contourLine, half, casing, core float64) {
	half = math.Max(0.5, half)
	add := func(half float64) {
		for _, l := range lines {
			for _, piece := range l.pieces {
				v.polyline(piece, half)
			}
		}
	}
	add(half + math.Max(0.6, 0.22*v.unit))
	v.ink(faded(dark, casing))
	add(half)
	v.ink(faded(mint, core))
}

// sectionOnPhoto shows where the section goes, on the surface, by short dashes
// beyond both points; between them there is the line already.
func (v *view) sectionOnPhoto() {
	p, ok := v.profile()
	if !ok {
		return
	}
	const dash = 3.0 // mm, and as much between
	v.cased(faint, v.hair(), func(half float64) {
		for i := 1; i < len(p.Samples); i++ {
			a, b := p.Samples[i-1], p.Samples[i]
			beyond := b.Along < p.A || a.Along > p.B
			if !beyond || math.Mod(a.Along, 2*dash) > dash || math.IsNaN(a.Z+b.Z) {
				continue
			}
			from := v.scene.Relief.Show([3]float64{a.X, a.Y, a.Z})
			to := v.scene.Relief.Show([3]float64{b.X, b.Y, b.Z})
			if usable(from) && usable(to) {
				v.capsule(v.at(from), v.at(to), half)
			}
		}
	})
}

// bareRadius is the radius in mm about a centre that no contour's label covers:
// there the bottom itself is seen.
const bareRadius = 12

// contourLabels write the depth on the stronger lines, once a line, where it
// hides the least; a line that is all at a bottom stays without.
func (b *board) contourLabels() {
	if b.scene.Relief == nil {
		return
	}
	_, strong := b.contourLines()
	for _, c := range strong {
		for _, piece := range c.pieces {
			l := label{strconv.Itoa(c.level) + "\u00a0mm", b.tiny, mint}
			if anchors := b.bare(l, anchorsOf(piece)); len(anchors) > 0 && b.longEnough(piece) {
				b.put(l, anchors, 0, [][2]float64{{0, 0}})
			}
		}
	}
}

// bare are the anchors at which a label leaves both bottoms, and other labels,
// bare.
func (b *board) bare(l label, anchors []point) (left []point) {
	w, h := l.size()
	r := bareRadius * b.reliefScale()
	for _, a := range anchors {
		clear := b.holds(a)
		for _, c := range b.scene.centres() {
			at := b.at(c.Px)
			dx, dy := math.Max(0, math.Abs(at.x-a.x)-w/2), math.Max(0, math.Abs(at.y-a.y)-h/2)
			clear = clear && math.Hypot(dx, dy) > r
		}
		for _, plate := range b.plates {
			clear = clear && plate.overlap(box{a.x - w/2, a.y - h/2, a.x + w/2, a.y + h/2}) == 0
		}
		if clear {
			left = append(left, a)
		}
	}
	return left
}

// longEnough tells whether a line has room for its label: three times as long.
func (b *board) longEnough(line []point) bool {
	length := 0.0
	for i := 1; i < len(line); i++ {
		if b.holds(line[i]) {
			length += line[i].distance(line[i-1])
		}
	}
	w, _ := label{"00 mm", b.tiny, mint}.size()
	return length > 3*w
}

// anchorsOf are places spread over a line.
func anchorsOf(line []point) (anchors []point) {
	const most = 24
	for i := 0; i < len(line); i += 1 + len(line)/most {
		anchors = append(anchors, line[i])
	}
	return anchors
}

// number writes a depth or a length in the overlay's language.
func (w Words) number(mm float64, decimals int) string {
	if w.Number != nil {
		return w.Number(mm, decimals)
	}
	return strings.Replace(strconv.FormatFloat(mm, 'f', decimals, 64), "-", "−", 1)
}

// rings adds two rings, the one in the other, the inner one thinner.
func (v *view) rings(at point, r, half float64) {
	v.ring(at, r, half)
	v.ring(at, 0.5*r, 0.6*half)
}
