package report

import (
	"encoding/json"
	"math"
	"time"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// reading is what a record says, made ready for showing: the measurement that
// counts, and the recommendations taken out of their JSON.
type reading struct {
	rec        record.Record
	m          record.Measurement
	reviewer   string    // empty for the automatic measurement
	reviewedAt time.Time // zero for the automatic measurement
	spacing    gum.Estimate
	advice     []fit.Recommendation // one a bike; none where no posture was given
}

// errNoNumber is the error of a record that has no spacing to show.
var errNoNumber = words.Fault("error.record.no_number", nil)

func readingOf(rec record.Record) (reading, error) {
	r := reading{rec: rec}
	r.m, r.reviewer = rec.Current()
	if n := len(rec.Reviews); n > 0 {
		r.reviewedAt = rec.Reviews[n-1].MadeAt
	}
	r.spacing = estimateOf(r.m)
	var err error
	r.advice, err = adviceOf(r)
	return r, err
}

// estimateOf is the spacing in mm with the budget that the record states: each
// line counts by its contribution. It is zero where there is no spacing.
func estimateOf(m record.Measurement) gum.Estimate {
	if m.Spacing == nil {
		return gum.Estimate{}
	}
	e := gum.Estimate{Value: *m.Spacing}
	for _, l := range m.Budget {
		c := gum.Component{Source: l.Source, Std: l.U, Unit: "mm", Sensitivity: 1, DoF: math.Inf(1), Basis: l.Basis}
		if l.DoF != nil && *l.DoF > 0 {
			c.DoF = *l.DoF
		}
		e.Budget = append(e.Budget, c)
	}
	return e
}

// adviceOf reads the recommendations. A record that holds a width only, as an
// object of `measure --json` does, gives one recommendation without models.
func adviceOf(r reading) ([]fit.Recommendation, error) {
	if len(r.rec.Recommendations) > 0 && string(r.rec.Recommendations) != "null" {
		var recs []fit.Recommendation
		if err := json.Unmarshal(r.rec.Recommendations, &recs); err != nil {
			return nil, words.Fault("error.record.recommendations", words.Values{"why": err})
		}
		return recs, nil
	}
	if len(r.m.Width) == 0 || string(r.m.Width) == "null" || r.m.Spacing == nil {
		return nil, nil
	}
	var c fit.Choice
	if err := json.Unmarshal(r.m.Width, &c); err != nil {
		return nil, words.Fault("error.record.width", words.Values{"why": err})
	}
	return widthOnly(r, c)
}

// widthOnly puts a recommendation round a choice. What the allowance is
// uncertain by is what the choice's u holds beyond the spacing's.
func widthOnly(r reading, c fit.Choice) ([]fit.Recommendation, error) {
	own := r.spacing.Budget.Combined()
	allowanceU := math.Sqrt(math.Max(0, c.RequiredU*c.RequiredU-own*own))
	byHand := fit.AllowanceByHand(c.AllowanceMM, allowanceU)
	q, err := fit.Require(r.spacing, byHand, fit.DefaultAllowanceTable())
	if err != nil {
		return nil, words.Fault("error.record.width_unusable", words.Values{"why": err})
	}
	bike := fit.Bike{Posture: byHand}
	if s := r.rec.Settings; s.TrunkDeg != nil {
		u := 0.0
		if s.TrunkU != nil {
			u = *s.TrunkU
		}
		bike.Posture = fit.TrunkAngle(*s.TrunkDeg, u)
	}
	return []fit.Recommendation{{
		Bike: bike, Requirement: q, Choice: c,
		Cautions: []fit.Note{{Code: "caution.limits"}, {Code: "caution.advice_only"}},
	}}, nil
}

// scanned says whether the picture is a flat scan: no camera, no parallax.
func (r reading) scanned() bool { return r.m.ScaleSource == "resolution" }

// aspect is the upright photo's width / height, 0 where it is not known.
func (r reading) aspect() float64 {
	if len(r.rec.Photos) == 0 || r.rec.Photos[0].Height <= 0 || r.rec.Photos[0].Width <= 0 {
		return 0
	}
	return float64(r.rec.Photos[0].Width) / float64(r.rec.Photos[0].Height)
}

// hash8 is the beginning of the first picture's hash, by which a sheet and its
// record are told to belong together.
func (r reading) hash8() string {
	if len(r.rec.Photos) == 0 {
		return "-"
	}
	h := r.rec.Photos[0].SHA256
	return h[:min(8, len(h))]
}

// shift is a dent's parallax correction in mm along the line of centres,
// outward positive.
func shift(d *record.Dent, towardRight [2]float64, outward float64) float64 {
	dx, dy := d.MM[0]-d.PlaneMM[0], d.MM[1]-d.PlaneMM[1]
	return outward * (dx*towardRight[0] + dy*towardRight[1])
}

// shifts are both sides' corrections; ok is false where the record does not
// hold both dents.
func (r reading) shifts() (left, right float64, ok bool) {
	if r.m.Left == nil || r.m.Right == nil {
		return 0, 0, false
	}
	dx, dy := r.m.Right.MM[0]-r.m.Left.MM[0], r.m.Right.MM[1]-r.m.Left.MM[1]
	length := math.Hypot(dx, dy)
	if length == 0 {
		return 0, 0, false
	}
	e := [2]float64{dx / length, dy / length}
	return shift(r.m.Left, e, -1), shift(r.m.Right, e, 1), true
}
