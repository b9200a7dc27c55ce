package audit

import (
	"cmp"
	"math"
	"slices"
)

// When two pictures are the same one saved again.
const (
	// mostSigns is the number of a fingerprint's 255 signs that may differ. On
	// drawn scans saved again as JPEG of quality 40 to 85, reduced to a half or
	// two thirds, or turned, the most was 6; between 60 drawn scans of different
	// imprints, each compared upside down, too, the least was 26. In a trial of
	// 1,000 files all of 30 were found and no other.
	mostSigns = 16
	// centresMM is how far apart the centres may be found in the two, in mm on
	// the imprint.
	centresMM = 1.0
	// shapeShare is how much the two pictures' proportions may differ, relative.
	shapeShare = 0.01
)

// savedAgain groups pictures that are the same one saved again; a group has two
// or more indices, ascending. Two pictures belong together where the fingerprint
// is near and both centres were found in the same place, for one of the four
// quarter turns.
func savedAgain(looks []*look) [][]int {
	order := make([]int, 0, len(looks))
	for i, l := range looks {
		if l != nil {
			order = append(order, i)
		}
	}
	// The distance of the centres as a share of the diagonal is the same however
	// a picture is saved or turned, so only neighbours in it are compared.
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(looks[a].span(), looks[b].span()) })
	sets := newSets(len(looks))
	for at, i := range order {
		a := looks[i]
		turns := a.turns()
		for _, k := range order[at+1:] {
			b := looks[k]
			if b.span() > a.span()*1.02+1e-9 {
				break
			}
			if slices.ContainsFunc(turns[:], func(t look) bool { return t.overlies(b) }) {
				sets.join(i, k)
			}
		}
	}
	return sets.groups()
}

// span is the distance of the centres as a share of the picture's diagonal.
func (l *look) span() float64 {
	dx, dy := (l.right[0]-l.left[0])*l.width, (l.right[1]-l.left[1])*l.height
	return math.Hypot(dx, dy) / math.Hypot(l.width, l.height)
}

// turns are the four ways in which the picture may lie.
func (l *look) turns() (all [4]look) {
	all[0] = *l
	for i := range 3 {
		all[i+1] = all[i].quarterTurn()
	}
	return all
}

// overlies compares two pictures as they lie. Which of the centres is called
// left depends on how the picture lies.
func (l *look) overlies(other *look) bool {
	if math.Abs(l.width*other.height/(l.height*other.width)-1) > shapeShare {
		return false
	}
	if l.print.Distance(other.print) > mostSigns {
		return false
	}
	straight := math.Max(l.apart(l.left, other.left), l.apart(l.right, other.right))
	crossed := math.Max(l.apart(l.left, other.right), l.apart(l.right, other.left))
	return math.Min(straight, crossed) <= centresMM
}

// apart is the distance of two places in mm on this picture.
func (l *look) apart(a, b [2]float64) float64 {
	return l.mmPerWidth * math.Hypot(a[0]-b[0], (a[1]-b[1])*l.height/l.width)
}

// quarterTurn turns the picture clockwise: (x, y) goes to (1-y, x).
func (l look) quarterTurn() look {
	turn := func(p [2]float64) [2]float64 { return [2]float64{1 - p[1], p[0]} }
	l.left, l.right = turn(l.left), turn(l.right)
	l.mmPerWidth *= l.height / l.width
	l.width, l.height = l.height, l.width
	l.print = l.print.Turned()
	return l
}

// sets are disjoint sets of indices.
type sets struct{ parent []int }

func newSets(n int) sets {
	s := sets{make([]int, n)}
	for i := range s.parent {
		s.parent[i] = i
	}
	return s
}

// root is the smallest index of a set.
func (s sets) root(i int) int {
	for s.parent[i] != i {
		s.parent[i] = s.parent[s.parent[i]]
		i = s.parent[i]
	}
	return i
}

func (s sets) join(a, b int) {
	a, b = s.root(a), s.root(b)
	s.parent[max(a, b)] = min(a, b)
}

// groups are the sets of two or more, in the order of their smallest index.
func (s sets) groups() (groups [][]int) {
	at := make(map[int]int)
	for i := range s.parent { // a root is the first of its set
		root := s.root(i)
		if root == i {
			continue
		}
		if _, there := at[root]; !there {
			at[root] = len(groups)
			groups = append(groups, []int{root})
		}
		groups[at[root]] = append(groups[at[root]], i)
	}
	slices.SortFunc(groups, func(a, b []int) int { return cmp.Compare(a[0], b[0]) })
	return groups
}
