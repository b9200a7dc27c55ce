package imprint

import (
	"context"
	"errors"
	"math"

	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/spacing"
)

// MeasureSittings measures repeated sittings, each by one photo or several together, and gives their mean
// with the repeatability of sitting itself as a Type A line.
func (t *Meter) MeasureSittings(
	ctx context.Context,
	sittings [][]*photo.Photo,
	s Settings,
) (*Measurement, error) {
	if len(sittings) < 2 {
		return nil, errors.New("at least two sittings are needed")
	}
	m := &Measurement{Verdict: judge.Verdict{Status: Measured}, OfSittings: true}
	var good []*Measurement
	for _, photos := range sittings {
		one, err := t.MeasureTogether(ctx, photos, s)
		if err != nil {
			return nil, err
		}
		part := Part{Measurement: one, Used: one.Status == Measured && one.Spacing != nil}
		if part.Used {
			good = append(good, one)
		} else if len(one.Reasons) > 0 {
			part.Why = codes.NotUsable.With(one.Reasons[0])
		}
		m.Parts = append(m.Parts, part)
	}
	if len(good) < 2 {
		m.refuse(codes.FewSittings.With(len(good), len(sittings)))
		return m, nil
	}
	m.meanOf(good)
	return m, nil
}

// meanOf is the sittings' mean: the readings' own errors are in the scatter, what all sittings share is the
// largest of theirs, line by line.
func (m *Measurement) meanOf(good []*Measurement) {
	first := good[0]
	m.Medium = first.Medium
	m.scaledAs(first)
	m.Left, m.Right, m.UncorrectedMM = first.Left, first.Right, first.UncorrectedMM
	m.Yaw, m.DepthContrast = first.Yaw, first.DepthContrast
	var each []spacing.Estimate
	for _, g := range good {
		each = append(each, *g.Spacing)
	}
	mean := spacing.OverSittings(each)
	m.Spacing = &mean
	for i := range m.Parts {
		if p := &m.Parts[i]; p.Used {
			p.Difference = p.Measurement.Spacing.Value - mean.Value
			e, _ := p.Measurement.Expanded()
			p.Agreement = math.Abs(p.Difference) / e
		}
	}
	for _, g := range good {
		for _, w := range g.Warnings {
			m.WarnOnce(w)
		}
	}
	if ue, _ := m.Expanded(); ue > judge.WidestInterval.Value {
		m.Review(codes.WideSittings.With(gum.Stated(ue), judge.WidestInterval.Value))
	}
}

// scaledAs takes over what gave another measurement its millimetres.
func (m *Measurement) scaledAs(of *Measurement) {
	m.Plane, m.Reference, m.Masked = of.Plane, of.Reference, of.Masked
	m.ScaleSource, m.GroundSample, m.Marks, m.PxPerMM = of.ScaleSource, of.GroundSample, of.Marks, of.PxPerMM
}
