package reading

import (
	"math"

	"sitspan/imprint/internal/rank"
)

// patches are the connected pieces of ink on a map.
type patches struct {
	label []int     // of each cell: the piece that it belongs to, from 1; 0 for none
	mass  []float64 // of each piece: the sum of its cells' ink
}

// patches finds them: where the mean ink of the cells around is at least leastOfInk.
func (s *Sheet) patches() patches {
	smooth := s.smoothed()
	p := patches{label: make([]int, len(smooth))}
	for i := range smooth {
		if p.label[i] != 0 || smooth[i] < leastOfInk {
			continue
		}
		p.mass = append(p.mass, 0)
		n := len(p.mass)
		queue := []int{i}
		p.label[i] = n
		for len(queue) > 0 {
			k := queue[len(queue)-1]
			queue = queue[:len(queue)-1]
			p.mass[n-1] += s.ink[k]
			s.neighbours(k, func(j int) {
				if p.label[j] == 0 && smooth[j] >= leastOfInk {
					p.label[j] = n
					queue = append(queue, j)
				}
			})
		}
	}
	return p
}

// counts tells whether a cell belongs to a piece that is not small against the largest.
func (p patches) counts() (cell []bool, pieces int) {
	most := 0.0
	for _, m := range p.mass {
		most = math.Max(most, m)
	}
	for _, m := range p.mass {
		if m >= strayShare*most {
			pieces++
		}
	}
	cell = make([]bool, len(p.label))
	for i, n := range p.label {
		cell[i] = n > 0 && p.mass[n-1] >= strayShare*most
	}
	return cell, pieces
}

// steepest is how much of the full ink comes or goes within two cells, 4 mm, where that is quickest: skin and
// cloth spread a seat's pressure, so an imprint's ink fades over a centimetre; print and things have edges.
// 0 where there is no ink.
func (s *Sheet) steepest() float64 {
	const apart = 2
	cell, _ := s.patches().counts()
	var ink, step []float64
	for i, on := range cell {
		x, y := i%s.w, i/s.w
		if !on || x+apart >= s.w || y+apart >= s.h {
			continue
		}
		across, down := s.ink[i]-s.ink[i+apart], s.ink[i]-s.ink[i+apart*s.w]
		ink = append(ink, s.ink[i])
		step = append(step, math.Max(math.Abs(across), math.Abs(down)))
	}
	if len(ink) == 0 {
		return 0
	}
	return rank.Quantile(step, 0.98) / math.Max(rank.Quantile(ink, 0.95), 1e-9)
}

// neighbours are the cells beside one, at its four sides.
func (s *Sheet) neighbours(i int, f func(int)) {
	x, y := i%s.w, i/s.w
	if x > 0 {
		f(i - 1)
	}
	if x+1 < s.w {
		f(i + 1)
	}
	if y > 0 {
		f(i - s.w)
	}
	if y+1 < s.h {
		f(i + s.w)
	}
}

// smoothed is the mean ink over 5 x 5 cells.
func (s *Sheet) smoothed() []float64 {
	out := make([]float64, len(s.ink))
	for y := range s.h {
		for x := range s.w {
			sum, n := 0.0, 0.0
			for j := max(0, y-2); j <= min(s.h-1, y+2); j++ {
				for i := max(0, x-2); i <= min(s.w-1, x+2); i++ {
					sum += s.ink[j*s.w+i]
					n++
				}
			}
			out[y*s.w+x] = sum / n
		}
	}
	return out
}
