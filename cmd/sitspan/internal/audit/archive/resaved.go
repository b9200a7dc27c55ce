package archive

import (
	"cmp"
	"iter"
	"math"

	"sitspan/cmd/sitspan/internal/fingerprint"
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

// HeldLooks is how many pictures are compared at once, in memory. Tests make it
// smaller.
var HeldLooks = 16384

// order is that in which looks are compared. The distance of the centres as
// a share of the diagonal is the same however a picture is saved or turned, so
// only neighbours in it are compared.
func (l *look) order() []any { return []any{l.Span, l.N} }

func bySpan(a, b look) int { return cmp.Or(cmp.Compare(a.Span, b.Span), cmp.Compare(a.N, b.N)) }

// savedAgain joins the pictures that are the same one saved again: where the
// fingerprint is near and both centres were found in the same place, for one of
// the four quarter turns. looks are sorted by their span; a block of them at a time
// is held in memory and compared with itself and with what comes after it. step is
// called for each look.
func savedAgain(looks *Table[look], step func()) (sets, error) {
	same := sets{}
	n, from := 0, 0
	for _, err := range looks.All() {
		if err != nil {
			return nil, err
		}
		step()
		if n++; n-from < HeldLooks {
			continue
		}
		if err := same.joinNear(n-from, looks.From(from)); err != nil {
			return nil, err
		}
		from = n
	}
	return same, same.joinNear(n-from, looks.From(from))
}

// cluster are looks of one picture: a first one, and others that overlie it.
type cluster struct {
	first  look
	others []look
	reach  int     // signs in which one of the others, turned, differs from the first, at the most
	last   float64 // the longest span
}

// joinNear compares the first looks, so many of them, with themselves and those
// after them; all are sorted. Where many are alike, each is compared with the first
// of them only: what overlies that is joined to all, and what is farther from it
// than their reach and mostSigns overlies none.
func (s sets) joinNear(held int, from iter.Seq2[look, error]) error {
	var near []*cluster
	n := 0
	for b, err := range from {
		if err != nil {
			return err
		}
		for len(near) > 0 && b.Span > near[0].last*1.02+1e-9 {
			near = near[1:]
		}
		if len(near) == 0 && n >= held {
			return nil
		}
		own, apart := s.joinOne(near, &b)
		if n++; n > held {
			continue
		}
		if own == nil {
			near = append(near, &cluster{first: b, last: b.Span})
			continue
		}
		own.others, own.last, own.reach = append(own.others, b), b.Span, max(own.reach, apart)
	}
	return nil
}

// joinOne joins a look to those like it that come before it. It returns the first
// cluster whose first look it overlies, and in how many signs the two differ.
func (s sets) joinOne(near []*cluster, b *look) (own *cluster, apart int) {
	turns := b.turns()
	for _, c := range near {
		k, nearest := c.first.under(&turns)
		switch {
		case k >= 0:
			s.join(c.first.N, b.N)
			if own == nil {
				own, apart = c, c.first.Print.Distance(turns[k].Print)
			}
		case nearest <= mostSigns+c.reach:
			for i := range c.others {
				if k, _ := c.others[i].under(&turns); k >= 0 {
					s.join(c.first.N, b.N)
					break
				}
			}
		}
	}
	return own, apart
}

// under is the turn in which a look overlies this one, or -1, and the least number of
// signs in which any turn's fingerprint differs.
func (l *look) under(turns *[4]look) (turn, nearest int) {
	turn, nearest = -1, fingerprint.Bits
	may := l.mayOverlie(&turns[0])
	for k := range turns {
		d := l.Print.Distance(turns[k].Print)
		nearest = min(nearest, d)
		if may && d <= mostSigns && l.overlies(&turns[k]) {
			return k, nearest
		}
	}
	return turn, nearest
}

// measure fills in what is the same however the picture is saved or turned.
func (l *look) measure() {
	diagonal := math.Hypot(l.Width, l.Height)
	l.Span = math.Hypot((l.Right[0]-l.Left[0])*l.Width, (l.Right[1]-l.Left[1])*l.Height) / diagonal
	l.Off = math.Hypot((l.Right[0]+l.Left[0]-1)*l.Width, (l.Right[1]+l.Left[1]-1)*l.Height) / 2 / diagonal
	l.Diagonal = l.MMPerWidth * diagonal / l.Width
}

// mayOverlie is quickly told, and never false of pictures of which one overlies
// the other: the middle between the centres is not farther apart in them than the
// centres, and lengths over the diagonal differ no more than the shapes.
func (l *look) mayOverlie(other *look) bool {
	return math.Abs(l.Off-other.Off) <= centresMM/l.Diagonal+2*shapeShare*other.Off
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
	if math.Abs(l.Width*other.Height/(l.Height*other.Width)-1) > shapeShare {
		return false
	}
	if l.Print.Distance(other.Print) > mostSigns {
		return false
	}
	straight := math.Max(l.apart(l.Left, other.Left), l.apart(l.Right, other.Right))
	crossed := math.Max(l.apart(l.Left, other.Right), l.apart(l.Right, other.Left))
	return math.Min(straight, crossed) <= centresMM
}

// apart is the distance of two places in mm on this picture.
func (l *look) apart(a, b [2]float64) float64 {
	return l.MMPerWidth * math.Hypot(a[0]-b[0], (a[1]-b[1])*l.Height/l.Width)
}

// quarterTurn turns the picture clockwise: (x, y) goes to (1-y, x).
func (l look) quarterTurn() look {
	turn := func(p [2]float64) [2]float64 { return [2]float64{1 - p[1], p[0]} }
	l.Left, l.Right = turn(l.Left), turn(l.Right)
	l.MMPerWidth *= l.Height / l.Width
	l.Width, l.Height = l.Height, l.Width
	l.Print = l.Print.Turned()
	return l
}

// sets are disjoint sets of numbers. Only those are kept in memory that are in a
// set with others.
type sets map[int]int

// root is the smallest number of a set.
func (s sets) root(i int) int {
	for {
		up, there := s[i]
		if !there {
			return i
		}
		if further, there := s[up]; there {
			s[i] = further
		}
		i = up
	}
}

func (s sets) join(a, b int) {
	a, b = s.root(a), s.root(b)
	if a != b {
		s[max(a, b)] = min(a, b)
	}
}
