package imprint

import (
	"context"
	"math"

	"sitspan/calibration"
	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
	"sitspan/imprint/relief"
	"sitspan/imprint/spacing"
	"sitspan/imprint/stages"
)

// conclude works the spacing and its budget out of what one photo shows.
func (v *sight) conclude(s Settings) {
	if !v.read {
		return
	}
	m := v.m
	if v.camera() != nil && m.Medium == calibration.Foam {
		v.concludeFoam(s)
	} else {
		v.concludeFlat(s)
	}
	m.finish()
	m.judgeCentres()
	v.judgeUnframed()
}

// judgeUnframed refuses a picture without the frame in which two centres can be placed nowhere: nothing else
// tells that it shows an imprint at all. Of ink its density tells, whether or not the net agrees.
func (v *sight) judgeUnframed() {
	m := v.m
	u, k := m.Expanded()
	if v.byInk {
		u = k * v.inkU
	}
	if m.Plane == nil && m.Status != Refused && u > judge.WidestInterval.Value {
		m.Reasons = nil
		m.refuse(codes.NoImprint.With(gum.Stated(u), judge.WidestInterval.Value))
	}
}

// concludeAlone does so for a photo that no other of its imprint is measured with.
func (v *sight) concludeAlone(ctx context.Context, s Settings) {
	end := stages.Begin(ctx, stages.Conclude)
	v.conclude(s)
	end()
	defer stages.Begin(ctx, stages.Geometry)()
	v.askForAnother()
}

// judgeCentres sends to review whose relief or ink places the centres too loosely, though the interval is
// narrow enough: the next picture says more. Of centres set by hand the interval is judged alone.
func (m *Measurement) judgeCentres() {
	if m.Reference != nil || m.Status == Refused {
		return
	}
	u, k := m.Expanded()
	switch centres := k * m.centresU(); {
	case u > judge.WidestInterval.Value: // judged so by finish
	case m.Medium == calibration.Foam && centres > judge.WidestReading.Value:
		m.Review(codes.FaintRelief.With(gum.Stated(centres), judge.WidestReading.Value))
	case m.Medium == calibration.Paper && centres > judge.WidestInk.Value:
		m.Review(codes.VagueInk.With(gum.Stated(centres), judge.WidestInk.Value))
	}
}

// finish adds what a fitter may want beside the spacing, and refuses what no one should use.
func (m *Measurement) finish() {
	yaw, yawU := spacing.Yaw(m.Left.Bottom, m.Right.Bottom)
	m.Yaw = &Quantity{yaw, yawU}
	if !spacing.Plausible(m.Spacing.Value) {
		m.refuse(implausible(m.Spacing.Value))
		return
	}
	limit := judge.WidestInterval.Value
	if m.Reference != nil {
		limit = judge.WidestBeside.Value
	}
	u, k := m.Expanded()
	switch centres := k * m.centresU(); {
	case u <= limit:
	case m.Medium == calibration.Foam && centres > limit:
		m.Review(codes.FaintRelief.With(gum.Stated(centres), limit))
	case m.Left.FlatRadius > 0 || m.Right.FlatRadius > 0:
		m.Review(codes.BottomedOut.With(gum.Stated(u), limit))
	default:
		m.Review(m.wideInterval(u, limit))
	}
}

// centresU is what the two readings alone add to the spacing's standard uncertainty, mm.
func (m *Measurement) centresU() float64 {
	return m.Spacing.Budget.Part(codes.LeftCentre, codes.RightCentre)
}

func degrees(rad float64) float64 { return rad * 180 / math.Pi }

// along is the variance of either side's place along the line of centres, mm^2, by the reading's own word.
func (v *sight) along() (left, right float64) { return v.seenByNow().Along() }

// seenByNow is the reading as package spacing takes it.
func (v *sight) seenByNow() spacing.Reading {
	side := func(s relief.Side) spacing.Seen {
		return spacing.Seen{
			At:       onPlane(s.At),
			VarX:     s.VarX,
			VarY:     s.VarY,
			Depth:    s.Depth,
			VarDepth: s.VarDepth,
			Flat:     s.Flat,
		}
	}
	r := v.reading
	return spacing.Reading{
		Left:       side(r.Left),
		Right:      side(r.Right),
		VarSpacing: r.VarSpacing,
		Temper:     v.temper(),
		Basis:      v.centreBasis(),
	}
}

// inkInPhotos is the factor on the density model's own standard uncertainties in a photo: under a camera's
// light its errors were larger than it says (1.08 times over 26 photos that served for tuning).
const inkInPhotos = 1.15

// inkInScans likewise for net and density together in a scan: on the 80 scans of bodies that served for
// choosing either erred by 1.1 to 1.2 times what it says.
const inkInScans = 1.1

// temper is the factor on the reading's standard uncertainties. The net's own stand as it gives them: on no
// set of ours is every family covered by less.
func (v *sight) temper() float64 {
	switch {
	case v.byInk && v.camera() != nil:
		return inkInPhotos
	case v.byInk:
		return inkInScans
	}
	return 1
}

func (v *sight) centreBasis() codes.Said {
	switch {
	case v.byInk && v.camera() == nil:
		return codes.InkAndNet.With(inkInScans)
	case v.byInk:
		return codes.InkInPhoto.With(inkInPhotos)
	}
	if v.toned {
		return codes.WithoutTone.With(v.temper())
	}
	return codes.ReadingsOwn.With(v.temper())
}

// concludeFlat is the spacing on a plane without depth: paper, photographed or scanned.
func (v *sight) concludeFlat(s Settings) {
	p := v.m.printOf(s)
	solved := spacing.OnPlane(v.seenByNow(), p)
	v.take(solved)
	lines := solved.Lines
	lines = append(lines, v.scale().Lines(v.m.Left.Pixel, v.m.Right.Pixel, solved.Value, 1)...)
	if v.m.Plane != nil {
		lines = append(lines, solved.PrintLine(p))
		v.warnPrint(p, s)
	}
	v.m.Spacing = &spacing.Estimate{Value: solved.Value, Budget: lines.Sorted()}
	v.m.DepthContrast = nil
}

// concludeFoam is the spacing of two bottoms below the frame's plane.
func (v *sight) concludeFoam(s Settings) {
	m, p, pad, reading := v.m, v.m.printOf(s), s.pad(v.m.Medium), v.seenByNow()
	depths := spacing.DepthsFor(s.gauge(), pad, reading.Left, reading.Right)
	if m.Reference != nil {
		pad.CardThickness, pad.CardThicknessU = 0, 0 // no frame's card lies between
	}
	solved, err := spacing.BelowPlane(reading, v.camera(), depths, pad, p)
	if err != nil {
		m.refuse(implausible(reading.Distance()))
		return
	}
	v.take(solved)
	lines := solved.Lines
	lines = append(
		lines,
		v.scale().Lines(m.Left.Pixel, m.Right.Pixel, m.UncorrectedMM, solved.Magnification)...)
	if m.Plane != nil {
		lines = append(lines, solved.PrintLine(p))
		v.warnPrint(p, s)
	}
	m.Spacing = &spacing.Estimate{Value: solved.Value, Budget: lines.Sorted()}
	deeper, u := depths.Difference()
	m.DepthContrast = &Quantity{deeper, u}
	if len(s.DepthMM) > 0 {
		m.judgeGauge(depths, spacing.DepthsFor(spacing.Gauge{}, pad, reading.Left, reading.Right))
	}
	m.Advice = spacing.StepBack(m.Spacing.Budget, m.Left.Point, m.Right.Point, v.camera(), depths, pad)
	if solved.Flat {
		m.Warn(codes.DentBottomedOut.With())
	}
}

// judgeGauge sends to review what a gauge and the photos say otherwise of: a slip of the comma, the wrong
// rider's line, or a photo that is misread.
func (m *Measurement) judgeGauge(gauge, photos spacing.Depths) {
	if times, by, seen := gauge.Apart(photos); times > judge.GaugeApart.Value {
		m.Review(codes.GaugeContradicts.With(by, seen, times, judge.GaugeApart.Value))
	}
}

// take puts both solved bottoms into the measurement, with what else the reading says of them.
func (v *sight) take(s spacing.Solution) {
	v.m.Left, v.m.Right = v.depression(v.reading.Left, s.Left), v.depression(v.reading.Right, s.Right)
	v.m.UncorrectedMM = s.Seen
}

// depression is one side of a reading with its solved bottom.
func (v *sight) depression(s relief.Side, b spacing.Bottom) *Depression {
	d := &Depression{Bottom: b, Pixel: v.toPixel(s.At)}
	d.shape(s)
	return d
}

// shape notes how oblong the dent is, and whether it bottomed out.
func (d *Depression) shape(s relief.Side) {
	ln := math.Hypot(s.Oblong[0], s.Oblong[1])
	d.Oblong, d.OblongU = math.Exp(ln), math.Exp(ln)*math.Sqrt(s.VarOblong)
	d.AxisDeg = degrees(math.Atan2(s.Oblong[1], s.Oblong[0]) / 2)
	d.FlatRadius = spacing.Bottomed(s.Flat)
}

func (v *sight) warnPrint(p calibration.Print, s Settings) {
	for _, w := range p.Warnings {
		v.m.Warn(codes.OfPrint(string(w.Code)).With(w.Value))
	}
	if s.borrowed(v.m.Medium) {
		v.m.Warn(codes.PrintOfCard.With())
	}
}

func implausible(mm float64) codes.Said {
	return codes.Implausible.With(mm, judge.LeastSpacing.Value, judge.MostSpacing.Value)
}

// wideInterval says that an interval is too wide, with the best advice that there is.
func (m *Measurement) wideInterval(u, limit float64) codes.Said {
	switch {
	case !m.Advice.None():
		return codes.WideAdvised.With(gum.Stated(u), limit, m.Advice)
	case m.Medium == calibration.Paper:
		return codes.WideOnPaper.With(gum.Stated(u), limit)
	}
	return codes.WideInterval.With(gum.Stated(u), limit)
}
