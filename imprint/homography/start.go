package homography

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/combin"
)

// mark is the points of one group, by their indices.
type mark struct {
	id      int
	members []int
}

// marksOf gathers the points by group, in the order of their ids.
func marksOf(points []Correspondence) []mark {
	byID := map[int][]int{}
	for i, p := range points {
		byID[p.Group] = append(byID[p.Group], i)
	}
	marks := make([]mark, 0, len(byID))
	for id, members := range byID {
		marks = append(marks, mark{id, members})
	}
	slices.SortFunc(marks, func(a, b mark) int { return a.id - b.id })
	return marks
}

const (
	// sampleLimit bounds the trial fits. All triples of 12 marks are 220.
	// Drawn at random, six points without an outlier turn up among 500 samples
	// with probability 1 - (1 - 2^-6)^500 > 0.999 even where half are outliers.
	sampleLimit = 500
	// samplePoints is what a trial fit needs at least: four make a homography,
	// two more keep the noise of four from ruling the choice.
	samplePoints = 6
	// gateFactor times the median error of the marks under the best trial fit
	// lets a mark into the first refinement. It is wide on purpose: the trial
	// fit knows no lens and extrapolates; marks are judged properly later.
	gateFactor = 8
	// gateFloor is the least gate, as a fraction of half the diagonal: 0.5 %
	// is 6 px in a picture of 2016 x 1512.
	gateFloor = 0.005
)

// robustStart returns a homography and the marks that agree with it: the
// trial fit with the least median error over the marks (least median of
// squares; Rousseeuw 1984; the year from memory), refitted to those within its gate.
// Where all marks fit one homography within the least gate there is nothing
// to choose.
func robustStart(pairs []pair, marks []mark, seed uint64) (matrix3, []mark, error) {
	if m, err := directLinear(pairs); err == nil && len(within(m, pairs, marks, gateFloor)) == len(marks) {
		return m, marks, nil
	}
	best, bestMedian := matrix3{}, math.Inf(1)
	for _, sample := range samples(marks, seed) {
		m, err := directLinear(gather(pairs, sample))
		if err != nil {
			continue
		}
		if median := medianError(m, pairs, marks); median < bestMedian {
			best, bestMedian = m, median
		}
	}
	if math.IsInf(bestMedian, 1) {
		return matrix3{}, nil, fmt.Errorf("%w: every choice of marks lies on one line or coincides", ErrDegenerate)
	}
	agreeing := within(best, pairs, marks, math.Max(gateFactor*bestMedian, gateFloor))
	m, err := directLinear(gather(pairs, agreeing))
	return m, agreeing, err
}

// within lists the marks that m fits within a gate.
func within(m matrix3, pairs []pair, marks []mark, gate float64) []mark {
	var agreeing []mark
	for _, k := range marks {
		if markError(m, pairs, k) <= gate {
			agreeing = append(agreeing, k)
		}
	}
	return agreeing
}

// samples lists the choices of marks to try: all of them where few enough.
func samples(marks []mark, seed uint64) [][]mark {
	fewest := len(marks[0].members)
	for _, k := range marks {
		fewest = min(fewest, len(k.members))
	}
	size := min(len(marks), max(3, (samplePoints+fewest-1)/fewest))
	choices := make([][]mark, 0, sampleLimit)
	if count := combin.GeneralizedBinomial(float64(len(marks)), float64(size)); count <= sampleLimit {
		for _, indices := range combin.Combinations(len(marks), size) {
			choices = append(choices, pick(marks, indices))
		}
		return choices
	}
	random := rand.New(rand.NewPCG(seed, 0))
	for range sampleLimit {
		choices = append(choices, pick(marks, random.Perm(len(marks))[:size]))
	}
	return choices
}

func pick(marks []mark, indices []int) []mark {
	chosen := make([]mark, len(indices))
	for i, index := range indices {
		chosen[i] = marks[index]
	}
	return chosen
}

func gather(pairs []pair, marks []mark) []pair {
	var out []pair
	for _, k := range marks {
		for _, i := range k.members {
			out = append(out, pairs[i])
		}
	}
	return out
}

// markError is the rms distance of a mark's points from where m puts them.
func markError(m matrix3, pairs []pair, k mark) float64 {
	sum := 0.0
	for _, i := range k.members {
		x, y := m.apply(pairs[i].px, pairs[i].py)
		sum += math.Pow(x-pairs[i].x, 2) + math.Pow(y-pairs[i].y, 2)
	}
	return math.Sqrt(sum / float64(len(k.members)))
}

func medianError(m matrix3, pairs []pair, marks []mark) float64 {
	errors := make([]float64, len(marks))
	for i, k := range marks {
		errors[i] = markError(m, pairs, k)
		if math.IsNaN(errors[i]) {
			return math.Inf(1)
		}
	}
	slices.Sort(errors)
	return errors[len(errors)/2]
}
