package audit

import (
	"fmt"

	"sitspan/cmd/sitspan/internal/advice"
	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/report"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/fit"
)

// chooseWidth gives a row that has a number and a posture its width, and compares
// it with what was sold or would have been.
func (v Review) chooseWidth(r archive.Results, row *report.Row) error {
	posture := v.postureOf(row)
	if posture == nil || row.Spacing == nil || row.Status == archive.Duplicate {
		return nil
	}
	rec, err := record.Load(r.Path(row.Record))
	if err != nil {
		return err
	}
	m, _ := rec.Current()
	if err := v.choose(row, m, *posture); err != nil {
		row.AddNote("no width was chosen: " + err.Error())
	}
	return nil
}

// postureOf is the reading's posture, or the one for all; nil where there is
// none.
func (v Review) postureOf(row *report.Row) *fit.Posture {
	if r := row.Read; r != nil {
		switch {
		case r.TrunkDeg != nil:
			p := fit.TrunkAngle(*r.TrunkDeg, v.TrunkU)
			return &p
		case r.AllowanceMM != nil:
			p := fit.AllowanceByHand(*r.AllowanceMM, 0)
			return &p
		}
	}
	return v.Posture
}

func (v Review) choose(row *report.Row, m record.Measurement, p fit.Posture) error {
	spacing, err := advice.Spacing(m)
	if err != nil {
		return err
	}
	q, now, err := v.Advisor.Width(spacing, p)
	if err != nil {
		return err
	}
	row.Allowance, row.Required, row.RequiredU = report.Number(
		now.AllowanceMM,
	), report.Number(
		now.RequiredMM,
	), report.Number(
		now.RequiredU,
	)
	row.New, row.NewAlso = report.RoundedOrNil(now.WidthMM), report.RoundedOrNil(now.AlternativeMM)
	if now.WidthMM == nil {
		row.New, row.NewAlso = report.RoundedOrNil(now.AlternativeMM), nil
		row.AddNote(
			fmt.Sprintf(
				"the stock has no width for it: %s mm would have to be ordered",
				millimetres(now.AlternativeMM),
			),
		)
	}
	if row.Reading != nil {
		if row.Rounded, err = v.roundedUp(*row.Reading, p); err != nil {
			return err
		}
	}
	compareWidths(row, q)
	return nil
}

// roundedUp is the width that the old way chose: the reading and the allowance,
// taken as exact, rounded up to the next width in stock.
func (v Review) roundedUp(reading float64, p fit.Posture) (*float64, error) {
	exact := p
	if deg, _, ok := p.TrunkDeg(); ok {
		exact = fit.TrunkAngle(deg, 0)
	}
	_, c, err := v.Advisor.Width(fit.StatedSpacing(reading, 0), exact)
	if err != nil {
		return nil, err
	}
	if c.WidthMM == nil {
		return report.RoundedOrNil(c.AlternativeMM), nil
	}
	return report.RoundedOrNil(c.WidthMM), nil
}

// compareWidths says whether and where the width would change, and by how much
// what was sold is too narrow.
func compareWidths(r *report.Row, q fit.Requirement) {
	old := r.Sold
	if old == nil {
		old = r.Rounded
	}
	if old != nil && r.New != nil {
		r.Change = changeOf(*old, *r.New, r.NewAlso)
	}
	if r.Sold == nil {
		return
	}
	r.Holds = report.Number(q.ProbabilityWithin(*r.Sold))
	if short := *r.Required - *r.Sold; short > 0 {
		r.Shortfall = report.Number(short)
	}
}

// changeOf compares an old width with the one chosen now and, where the
// measurement leaves it open, the narrower one that may do.
func changeOf(old, now float64, also *float64) string {
	low := now
	if also != nil {
		low = min(low, *also)
	}
	switch {
	case old < low:
		return report.Wider
	case old > now:
		return report.Narrower
	case old == now:
		return report.Same
	}
	return report.Open
}

func millimetres(v *float64) string {
	if v == nil {
		return "another"
	}
	return fmt.Sprintf("%g", *v)
}
