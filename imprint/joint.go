package imprint

import (
	"slices"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/spacing"
)

// joint is the solution of several sights, each as it was read last.
type joint struct {
	spacing.Joint
	used []*sight
}

// report fills the measurement from the joint solution: values, budget, agreement of the parts.
func (j joint) report(m *Measurement, all []*sight) {
	first := j.used[0].m
	m.scaledAs(first)
	m.Left, m.Right = j.depression(0), j.depression(1)
	m.UncorrectedMM = first.UncorrectedMM
	m.Spacing = &spacing.Estimate{Value: j.Value, Budget: j.lines().Sorted()}
	for i, v := range all {
		if v.read && v.m.Left != nil {
			m.Parts[i].Agreement = j.Agreement(v.view())
		}
		if v.m.Spacing != nil { // of the bottoms, as the joint one
			m.Parts[i].Difference = v.m.Spacing.Value - j.Value
		}
	}
	if !j.Consistent() {
		m.Review(codes.PhotosDisagree.With())
	}
	if gauge, seen, ok := j.AgainstGauge(); ok {
		m.judgeGauge(gauge, seen)
	}
	if r := doubted(j.used); r != nil {
		m.Review(*r)
	}
	m.warnAsAll(j.used)
	if first.Medium == calibration.Foam {
		deeper, u := j.Contrast()
		m.DepthContrast = &Quantity{deeper, u}
	}
	m.finish()
	m.judgeCentres()
}

// warnAsAll takes over what weakens one of several photos. A focal length that one view from above cannot
// confirm is confirmed by another from the side.
func (m *Measurement) warnAsAll(used []*sight) {
	confirmed := slices.ContainsFunc(used, func(v *sight) bool {
		return v.m.Plane != nil && v.m.Plane.Camera != nil && v.m.Plane.FocalConfirmed()
	})
	for _, v := range used {
		for _, w := range v.m.Warnings {
			if !confirmed || w.Key() != codes.FocalUnchecked.Key() {
				m.WarnOnce(w)
			}
		}
	}
}

// doubted is the first reason why most of the photos, each by itself, are not taken to show two dents, or
// nil: more photos of what is not there do not make it surer.
func doubted(used []*sight) (first *codes.Said) {
	n := 0
	for _, v := range used {
		for _, r := range v.m.Reasons {
			if codes.NoDent.Is(r) || codes.OneDent.Is(r) || codes.ManyDents.Is(r) {
				if n++; first == nil {
					first = &r
				}
				break
			}
		}
	}
	if 2*n <= len(used) {
		return nil
	}
	return first
}

// depression is one solved bottom, drawn on the first photo.
func (j joint) depression(side int) *Depression {
	first := j.used[0].m
	d := *[]*Depression{first.Left, first.Right}[side]
	seen, basis := d.OnPlane, d.DepthBasis
	d.Bottom = j.Bottom(side)
	d.OnPlane = seen
	if first.Medium == calibration.Foam {
		d.FlatRadius = spacing.Bottomed(j.Flat(side))
	} else {
		d.DepthBasis = basis
	}
	return &d
}

// lines are the budget: that of the solution, and the scale's.
func (j joint) lines() spacing.Budget {
	best, lines := j.used[0].m, j.Lines()
	magnification := j.Value / best.UncorrectedMM
	lines = append(
		lines,
		j.used[0].scale().Lines(best.Left.Pixel, best.Right.Pixel, j.Value, magnification)...)
	if best.Plane != nil {
		lines = append(lines, j.PrintLine())
	}
	return lines
}
