package imprint

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/relief"
	"sitspan/imprint/spacing"
)

// report fills the measurement from the joint solution: values, budget, agreement of the parts.
func (j joint) report(m *Measurement, all []*sight, s Settings) {
	first := j.used[0].m
	m.Plane, m.ScaleSource, m.GroundSample, m.Marks, m.PxPerMM = first.Plane, first.ScaleSource, first.GroundSample, first.Marks, first.PxPerMM
	m.Left, m.Right = j.depression(0), j.depression(1)
	m.UncorrectedMM, m.Reference, m.Masked = first.UncorrectedMM, first.Reference, first.Masked
	m.Spacing = &spacing.Estimate{Value: j.spacing, Budget: j.lines().Sorted()}
	for i, v := range all {
		if v.read && v.m.Left != nil {
			m.Parts[i].Difference = j.difference(v)
			m.Parts[i].Agreement = j.agreement(v)
		}
	}
	if !j.consistent() {
		m.review(codes.PhotosDisagree.With())
	}
	if r := doubted(j.used); r != nil {
		m.review(*r)
	}
	for _, v := range j.used {
		for _, w := range v.m.Warnings {
			m.warnOnce(w)
		}
	}
	if j.used[0].m.Medium == calibration.Foam {
		m.DepthContrast = &Quantity{j.ends[1].Depth - j.ends[0].Depth, math.Hypot(j.ends[0].UDepth(), j.ends[1].UDepth())}
	}
	m.finish()
	m.judgeCentres()
}

// doubted is the first reason why most of the photos, each by itself, are not taken to show two dents, or nil: more photos of
// what is not there do not make it surer.
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

func (m *Measurement) warnOnce(w codes.Said) {
	for _, x := range m.Warnings {
		if x.Code == w.Code && x.Kind == w.Kind {
			return
		}
	}
	m.Warnings = append(m.Warnings, w)
}

// depression is one solved bottom, drawn on the first photo.
func (j joint) depression(side int) *Depression {
	v, e := j.used[0], j.ends[side]
	of := []*Depression{v.m.Left, v.m.Right}[side]
	d := *of
	d.Point = j.true_(e)
	common := 1 + float64(len(j.used)-1)*j.shared() // the triangulation takes the readings' errors for independent
	for i := range 2 {
		for k := range 2 {
			d.Covariance[i][k] = common * e.Covariance[i][k]
		}
	}
	if v.m.Medium == calibration.Foam {
		d.Depth, d.DepthU = e.Depth-j.pad.CardThickness, math.Hypot(e.UDepth(), j.pad.CardThicknessU)
		d.FlatRadius = bottomed(j.flat(side))
		d.DepthBasis = codes.ViewsOf.With(len(j.used), j.depths().basis)
	}
	return &d
}

// lines are the budget by finite differences of the joint solution: each input is moved by its standard uncertainty, and
// what the spacing does is its contribution (JCGM 100, 5.1.3, note 2).
func (j joint) lines() (lines spacing.Budget) {
	moved := func(d shift) float64 {
		v, _, err := j.at(d)
		if err != nil {
			return 0
		}
		return v - j.spacing
	}
	line := func(of *codes.Line, u float64, basis codes.Said) { lines = append(lines, spacing.Of(of, u, 1, basis)) }
	for side, of := range []*codes.Line{codes.LeftCentre, codes.RightCentre} {
		own, shared := 0.0, 0.0
		for i, v := range j.used {
			c := moved(shift{sight: i, side: side, dx: v.spacingShare(side)})
			own += (1 - j.shared()) * c * c
			shared += math.Sqrt(j.shared()) * math.Abs(c)
		}
		line(of, math.Sqrt(own+shared*shared), j.centreBasis())
	}
	if j.used[0].camera() != nil && j.used[0].m.Medium == calibration.Foam {
		lines = append(lines, flatLines([2]float64{j.flat(0), j.flat(1)}, 1)...)
		line(codes.DentDepth, j.depthCommon(moved), codes.LinesOfSight.With(j.depths().basis))
		line(codes.DepthOfSides, j.depthDifference(moved), codes.LinesOfSight.With(j.depths().basis))
		line(codes.CameraPlace, math.Abs(moved(shift{sight: -1, focal: j.focalU()})), codes.FocalShared.With())
	}
	if j.used[0].m.Plane != nil {
		best := j.used[0].m
		lines = append(lines, best.fitLines(j.spacing/best.UncorrectedMM)...)
		lines = append(lines, printLine(j.print, j.ends[0].Point, j.ends[1].Point))
	} else {
		lines = append(lines, j.used[0].scaleLines(j.spacing, j.spacing/j.used[0].m.UncorrectedMM)...)
	}
	return lines
}

func (j joint) centreBasis() codes.Said {
	if j.used[0].together {
		return codes.ReadTogether.With(len(j.used), j.used[0].centreBasis())
	}
	return codes.OfReadings.With(len(j.used), 100*j.shared())
}

// shared is the share of the readings' variance that they have in common.
func (j joint) shared() float64 {
	if j.used[0].together {
		return 1
	}
	return sharedError
}

// flat is the radius in mm of one side's bottom within 0.3 mm of the deepest, as the photos have it on average: one imprint
// has one flat, and no lamp makes it smaller.
func (j joint) flat(side int) (radius float64) {
	for _, v := range j.used {
		radius += []relief.Side{v.reading.Left, v.reading.Right}[side].Flat / float64(len(j.used))
	}
	return radius
}

// depthCommon is the effect of the prior depths' common error, mm.
func (j joint) depthCommon(moved func(shift) float64) float64 {
	d := j.depths()
	u := math.Sqrt(math.Max(0, (d.cov[0][0]+2*d.cov[0][1]+d.cov[1][1])/4) + j.pad.CardThicknessU*j.pad.CardThicknessU)
	return math.Abs(moved(shift{sight: -1, depth: [2]float64{u, u}}))
}

func (j joint) depthDifference(moved func(shift) float64) float64 {
	d := j.depths()
	u := math.Sqrt(math.Max(0, d.cov[0][0]-2*d.cov[0][1]+d.cov[1][1])) / 2
	return math.Abs(moved(shift{sight: -1, depth: [2]float64{u, -u}}))
}

// focalU is the largest relative standard uncertainty of the cameras' focal lengths.
func (j joint) focalU() (u float64) {
	for _, v := range j.used {
		if c := v.camera(); c != nil {
			u = math.Max(u, c.Focal.U/c.Focal.Pixels)
		}
	}
	return u
}

// spacingShare is one side's part, along x, of the reading's standard uncertainty of the distance, mm.
func (v *sight) spacingShare(side int) float64 {
	for i, c := range v.centreLines(1) {
		if i == side {
			return c.Std
		}
	}
	return 0
}
