package evidence

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"
)

// Row is one line of a table: what results of one kind come to. Lengths are in mm, over those accepted; all
// but N are 0 where none is.
type Row struct {
	Reading  string  `json:"reading"`
	Pad      string  `json:"pad"`
	Shape    string  `json:"shape"`
	N        int     `json:"n"`
	Accepted int     `json:"accepted"`
	Bias     float64 `json:"bias_mm"` // mean error, read less true
	RMS      float64 `json:"rms_mm"`
	Worst    float64 `json:"worst_mm"` // largest error by amount, with its sign
	Inside   int     `json:"inside_u"` // of those accepted
	MedianU  float64 `json:"median_u_mm"`
	// Heights is the surfaces' rms error, a plane taken off, where a set holds the true one.
	Heights float64 `json:"heights_rms_mm,omitempty"`
}

// all stands for every pad and every shape.
const all = "all"

// Tabulate gives a row for each reading, pad and shape in the order in which they come, and one for each
// reading as a whole before them.
func Tabulate(results []Result) []Row {
	groups := map[Row][]Result{}
	var order []Row
	put := func(key Row, r Result) {
		if _, known := groups[key]; !known {
			order = append(order, key)
		}
		groups[key] = append(groups[key], r)
	}
	for _, r := range results {
		put(Row{Reading: r.Reading, Pad: all, Shape: all}, r)
		put(Row{Reading: r.Reading, Pad: r.Pad, Shape: r.Shape}, r)
	}
	rows := make([]Row, len(order))
	for i, key := range order {
		rows[i] = key.over(groups[key])
	}
	slices.SortStableFunc(rows, func(a, b Row) int { return strings.Compare(a.Reading, b.Reading) })
	return rows
}

// over fills the row in.
func (row Row) over(results []Result) Row {
	row.N = len(results)
	var us, heights []float64
	var sum, squares float64
	for _, r := range results {
		if !r.Accepted() {
			continue
		}
		row.Accepted++
		sum, squares = sum+r.Error, squares+r.Error*r.Error
		us = append(us, r.U)
		if math.Abs(r.Error) > math.Abs(row.Worst) {
			row.Worst = r.Error
		}
		if r.Inside() {
			row.Inside++
		}
		if !math.IsNaN(r.Heights) {
			heights = append(heights, r.Heights)
		}
	}
	if row.Accepted > 0 {
		n := float64(row.Accepted)
		row.Bias, row.RMS, row.MedianU = sum/n, math.Sqrt(squares/n), median(us)
	}
	if n := float64(len(heights)); n > 0 {
		row.Heights = floats.Norm(heights, 2) / math.Sqrt(n)
	}
	return row
}

// median of one value or more.
func median(values []float64) float64 {
	slices.Sort(values)
	n := len(values)
	return (values[(n-1)/2] + values[n/2]) / 2
}

// Markdown writes the rows as a table, and below it what was accepted with the truth outside U: no table may
// hide it.
func Markdown(w io.Writer, results []Result) error {
	var b strings.Builder
	b.WriteString("| reading | pad | shape | n | accepted | bias | rms | worst | inside U | median U | ")
	b.WriteString("heights |\n")
	b.WriteString("|---|---|---|---|---|---|---|---|---|---|---|\n")
	for _, r := range Tabulate(results) {
		fmt.Fprintf(&b, "| %s | %s | %s | %d | %d |", r.Reading, r.Pad, r.Shape, r.N, r.Accepted)
		if r.Accepted == 0 {
			b.WriteString(" | | | | | |\n")
			continue
		}
		fmt.Fprintf(&b, " %+.2f | %.2f | %+.2f | %d | %.2f |", r.Bias, r.RMS, r.Worst, r.Inside, r.MedianU)
		if r.Heights > 0 {
			fmt.Fprintf(&b, " %.3f", r.Heights)
		}
		b.WriteString(" |\n")
	}
	var outside, crashed []string
	for _, r := range results {
		switch {
		case r.Accepted() && !r.Inside():
			outside = append(outside, fmt.Sprintf("%s (%s): %+.2f at U = %.2f", r.Photo, r.Reading, r.Error, r.U))
		case r.Status == "crashed":
			crashed = append(crashed, fmt.Sprintf("%s (%s)", r.Photo, r.Reading))
		}
	}
	list(&b, "Accepted with the truth outside U", outside)
	list(&b, "Not answered by the program", crashed)
	_, err := io.WriteString(w, b.String())
	return err
}

func list(b *strings.Builder, title string, items []string) {
	if len(items) > 0 {
		fmt.Fprintf(b, "\n%s, mm:\n\n- %s\n", title, strings.Join(items, "\n- "))
	}
}
