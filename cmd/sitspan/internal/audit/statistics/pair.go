package statistics

import (
	"maps"
	"math"
	"slices"
)

// Pair is an old reading and the new measurement that it is compared with.
type Pair struct {
	*Reading
	N          int    // the file's place among the rows
	File       string // its name
	Old, Now   float64
	U          float64 // expanded, of Now
	Difference float64 // Old - Now
}

func differencesOf(pairs []*Pair) []float64 {
	d := make([]float64, len(pairs))
	for i, p := range pairs {
		d[i] = p.Difference
	}
	return d
}

// PartsOf are the pairs by a name; those without are left out.
func PartsOf(pairs []*Pair, name func(*Pair) string) map[string][]*Pair {
	parts := make(map[string][]*Pair)
	for _, p := range pairs {
		if n := name(p); n != "" {
			parts[n] = append(parts[n], p)
		}
	}
	return parts
}

// SortedNames are the names of parts in their order.
func SortedNames(parts map[string][]*Pair) []string { return slices.Sorted(maps.Keys(parts)) }

// ridersOf are the pairs' riders as numbers; who has no name is another one each time.
func ridersOf(pairs []*Pair) []int {
	numbers, out := make(map[string]int), make([]int, len(pairs))
	for i, p := range pairs {
		out[i] = i
		if p.Rider == "" {
			continue
		}
		if first, there := numbers[p.Rider]; there {
			out[i] = first
		} else {
			numbers[p.Rider] = i
		}
	}
	return out
}

func fitterOf(p *Pair) string { return p.Fitter }

func yearOf(p *Pair) string {
	if len(p.Date.Text) < 4 {
		return ""
	}
	return p.Date.Text[:4]
}

const yearHours = 365.25 * 24

// Years is when the pair's reading was taken, in years since 1970; NaN where it is
// not dated.
func (p *Pair) Years() float64 {
	if p.Date.Middle.IsZero() {
		return math.NaN()
	}
	return float64(p.Date.Middle.Unix()) / 3600 / yearHours
}

// Dated are the pairs whose reading has a date.
func Dated(pairs []*Pair) []*Pair {
	return slices.DeleteFunc(slices.Clone(pairs), func(p *Pair) bool { return p.Date.Middle.IsZero() })
}
