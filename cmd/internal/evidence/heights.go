package evidence

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/mat"
)

// grid holds heights or depths in mm, row by row from the smallest y, about the frame's origin. Its points
// lie step mm apart.
type grid struct {
	step          float64
	columns, rows int
	mm            []float64
}

// trueStep is the step in mm of the grids in heights-NNN.csv (testdata/make/README.md).
const trueStep = 2

// loadHeights reads the true surface beside an imprint's first photo, nil where the set has none: depths in
// mm below the pad's undented surface.
func loadHeights(photo string) (*grid, error) {
	name := strings.TrimSuffix(filepath.Base(photo), filepath.Ext(photo))
	path := filepath.Join(filepath.Dir(photo), "heights-"+name+".csv")
	file, err := os.Open(path)
	if os.IsNotExist(err) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll() // as many values in each, or an error
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if len(lines) == 0 {
		return nil, fmt.Errorf("%s is empty", path)
	}
	g := &grid{step: trueStep, columns: len(lines[0]), rows: len(lines)}
	for _, line := range lines {
		for _, value := range line {
			v, err := strconv.ParseFloat(value, 64)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", path, err)
			}
			g.mm = append(g.mm, v)
		}
	}
	return g, nil
}

// sound says whether there is a value for each point.
func (g *grid) sound() bool {
	return g.step > 0 && g.columns > 1 && g.rows > 1 && len(g.mm) == g.columns*g.rows
}

// rmsAbout is the root mean square in mm of what is left of g less read, over the points of g that read has,
// too, once a plane is taken off: the frame's own height and tilt on the pad. NaN where that is fewer than
// half of g.
func (g *grid) rmsAbout(read *grid) float64 {
	var rows, left []float64
	n := 0
	for j := range g.rows {
		y := g.step * (float64(j) - float64(g.rows-1)/2)
		for i := range g.columns {
			x := g.step * (float64(i) - float64(g.columns-1)/2)
			if v, there := read.at(x, y); there {
				rows, left = append(rows, 1, x, y), append(left, v-g.mm[i+j*g.columns])
				n++
			}
		}
	}
	if n < len(g.mm)/2 || n < 3 {
		return math.NaN()
	}
	design, differences := mat.NewDense(n, 3, rows), mat.NewVecDense(n, left)
	var plane, rest mat.VecDense
	if plane.SolveVec(design, differences) != nil {
		return math.NaN()
	}
	rest.MulVec(design, &plane)
	rest.SubVec(differences, &rest)
	return mat.Norm(&rest, 2) / math.Sqrt(float64(n))
}

// at is the value at a point (mm) that the grid has.
func (g *grid) at(x, y float64) (float64, bool) {
	i, j := x/g.step+float64(g.columns-1)/2, y/g.step+float64(g.rows-1)/2
	column, row := math.Round(i), math.Round(j)
	between := math.Hypot(i-column, j-row) > 1e-6
	if between || min(column, row) < 0 || int(column) >= g.columns || int(row) >= g.rows {
		return 0, false
	}
	return g.mm[int(column)+int(row)*g.columns], true
}
