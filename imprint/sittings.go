package imprint

import (
	"context"
	"errors"
	"fmt"
	"math"

	"sitspan/calibration/gum"
	"sitspan/imprint/photo"
)

// MeasureSittings measures repeated sittings, each by one photo or several together, and gives their mean with the
// repeatability of sitting itself as a Type A line.
func (t *Meter) MeasureSittings(ctx context.Context, sittings [][]*photo.Photo, s Settings) (*Measurement, error) {
	if len(sittings) < 2 {
		return nil, errors.New("at least two sittings are needed")
	}
	m := &Measurement{Status: Measured, OfSittings: true}
	var values []float64
	var good []*Measurement
	for _, photos := range sittings {
		one, err := t.MeasureTogether(ctx, photos, s)
		if err != nil {
			return nil, err
		}
		part := Part{Measurement: one, Used: one.Status == Measured && one.Spacing != nil}
		if part.Used {
			values = append(values, one.Spacing.Value)
			good = append(good, one)
		} else if len(one.Reasons) > 0 {
			part.Why = one.Reasons[0].Message
		}
		m.Parts = append(m.Parts, part)
	}
	if len(good) < 2 {
		m.refuse(Reason{"few_sittings", fmt.Sprintf("%d of %d sittings could be measured; two are needed", len(good), len(sittings)), "let the rider sit again and measure each sitting's photo alone to see what is wrong"})
		return m, nil
	}
	m.meanOf(good, values)
	return m, nil
}

// meanOf is the sittings' mean: the readings' own errors are in the scatter, what all sittings share is the largest of
// theirs, line by line.
func (m *Measurement) meanOf(good []*Measurement, values []float64) {
	mean, u, dof := gum.MeanOf(values)
	first := good[0]
	m.Medium, m.Plane, m.ScaleSource, m.GroundSample, m.Marks, m.PxPerMM = first.Medium, first.Plane, first.ScaleSource, first.GroundSample, first.Marks, first.PxPerMM
	m.Reference, m.Masked = first.Reference, first.Masked
	m.Left, m.Right, m.UncorrectedMM, m.Yaw, m.DepthContrast = first.Left, first.Right, first.UncorrectedMM, first.Yaw, first.DepthContrast
	lines := gum.Budget{{Source: "repeatability of sitting (Type A)", Std: u, Unit: "mm", Sensitivity: 1, DoF: dof,
		Basis: fmt.Sprintf("%d sittings, standard deviation %.2f mm", len(values), u*math.Sqrt(float64(len(values))))}}
	lines = append(lines, sharedLines(good)...)
	m.Spacing = &gum.Estimate{Value: mean, Budget: lines.Sorted()}
	for i := range m.Parts {
		if p := &m.Parts[i]; p.Used {
			p.Difference = p.Measurement.Spacing.Value - mean
			e, _ := p.Measurement.Expanded()
			p.Agreement = math.Abs(p.Difference) / e
		}
	}
	for _, g := range good {
		for _, w := range g.Warnings {
			m.warnOnce(w)
		}
	}
	if ue, _ := m.Expanded(); ue > widestInterval {
		m.review(wideInterval(ue, widestInterval, "let the rider sit once more, the same way each time"))
	}
}

// sharedLines are the influences that repeating a sitting does not average: each source's largest contribution.
func sharedLines(good []*Measurement) (lines gum.Budget) {
	at := map[string]int{}
	for _, g := range good {
		for _, c := range g.Spacing.Budget {
			if !sharedBySittings[c.Source] {
				continue
			}
			i, seen := at[c.Source]
			if !seen {
				at[c.Source] = len(lines)
				lines = append(lines, c)
			} else if c.Contribution() > lines[i].Contribution() {
				lines[i] = c
			}
		}
	}
	return lines
}

var sharedBySittings = map[string]bool{
	"scale of the print": true, "stated resolution of the scan": true, "depth of the dents (parallax)": true,
	"place of the camera (parallax)": true, "thickness of the card": true, "lens": true, "flatness of the frame": true,
	"size of the card": true, "edges of the card": true, "graduation of the rule": true, "thickness of the reference": true, "focal length": true,
}
