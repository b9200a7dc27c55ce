package report

import (
	"io"
	"math"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
)

// simulatedTrials is how often the budget is drawn: JCGM 101:2008, 7.2.2 asks for
// 1e6 for two digits of the ends of a 95 % interval.
const simulatedTrials = 1_000_000

// simulationSeed starts the same random numbers each time.
const simulationSeed = 1

// shapes counts the lines of a budget by the distribution that they are drawn from.
type shapes struct{ rectangular, triangular, student, normal int }

// Simulate draws the budget that a record keeps, each line by the distribution that its
// basis states, and writes the interval so found beside that of the law of propagation.
// It draws from the record's own lines: their sensitivities are taken as they are.
func Simulate(w io.Writer, rec record.Record, lang words.Lang) error {
	r, err := readingOf(rec)
	if err != nil {
		return err
	}
	x := &explanation{reading: r, lang: lang}
	x.section(lang.Text("explain.simulation"))
	if len(r.spacing.Budget) == 0 || r.spacing.Budget.Combined() == 0 {
		x.line(lang.Text("explain.simulated_none"))
	} else {
		x.simulation()
	}
	_, err = io.WriteString(w, x.b.String())
	return err
}

func (x *explanation) simulation() {
	budget, coverage := x.spacing.Budget, x.m.Coverage
	inputs, drawnFrom := distributionsOf(x.m.Budget)
	sample := gum.MonteCarlo(simulatedTrials, simulationSeed, inputs, func(errors []float64) float64 {
		y := x.spacing.Value
		for _, e := range errors {
			y += e
		}
		return y
	})
	u := budget.Combined()
	low, high := x.spacing.Interval(coverage)
	drawnLow, drawnHigh := sample.Interval(coverage)
	tolerance := gum.NumericalTolerance(u, 2)
	x.line(x.lang.Say("explain.simulated", words.Values{"trials": len(sample)}))
	x.line(x.lang.Say("explain.simulated_shapes", words.Values{
		"rectangular": drawnFrom.rectangular, "triangular": drawnFrom.triangular,
		"student": drawnFrom.student, "normal": drawnFrom.normal,
	}))
	x.line(x.lang.Say("explain.simulated_u", words.Values{"u": u, "drawn": sample.Std()}))
	x.line(x.lang.Say("explain.simulated_interval", words.Values{
		"coverage": 100 * coverage, "low": low, "high": high, "drawn_low": drawnLow, "drawn_high": drawnHigh,
	}))
	if sample.Validates(low, high, coverage, tolerance) {
		x.line(x.lang.Say("explain.simulated_agrees", words.Values{"tolerance": tolerance}))
		return
	}
	apart := max(math.Abs(low-drawnLow), math.Abs(high-drawnHigh))
	x.line(x.lang.Say("explain.simulated_differs", words.Values{"apart": apart, "tolerance": tolerance}))
}

// distributionsOf gives each line's error of the spacing, in mm, as a distribution about
// zero (JCGM 101:2008, 6.4): Student's where the line has few degrees of freedom, bounds
// and triangles where its basis states them, else the normal one.
func distributionsOf(lines []record.BudgetLine) (inputs []gum.Distribution, n shapes) {
	for _, l := range lines {
		switch said := l.BasisSaid; {
		case l.DoF != nil && *l.DoF > 0 && *l.DoF < 1e6:
			inputs, n.student = append(inputs, gum.StudentAbout(0, l.U, *l.DoF)), n.student+1
		case isOneOf(said, codes.BarsUnread, codes.ScanStated, codes.Graduation):
			inputs, n.rectangular = append(inputs, gum.RectangularAbout(0, l.U*math.Sqrt(3))), n.rectangular+1
		case isOneOf(said, codes.FlatBottom):
			inputs, n.triangular = append(inputs, gum.TriangularAbout(0, l.U*math.Sqrt(6))), n.triangular+1
		default:
			inputs, n.normal = append(inputs, gum.NormalAbout(0, l.U)), n.normal+1
		}
	}
	return inputs, n
}

func isOneOf(said codes.Said, entries ...*codes.Entry) bool {
	for _, e := range entries {
		if said.Code == e.Code && said.Form == e.Form {
			return true
		}
	}
	return false
}
