package imprint

import (
	"context"
	"image"
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/reference"
	"sitspan/imprint/relief"
	"sitspan/imprint/spacing"
)

// The sources of scale that old pictures have instead of the frame.
const (
	ByCard ScaleSource = "card" // a card of ISO/IEC 7810 ID-1 size
	ByRule ScaleSource = "rule" // a millimetre rule or a printed millimetre scale
)

// Reference is a card or a rule that gives a picture without the frame its scale, with the plane that it lies on. The
// plane's axes are the measurement's: origin between the centres, x from left to right in the picture.
type Reference struct {
	Outline [4]homography.Pixel // of what it covers, px, in order round it
	Camera  *homography.Camera  // in the measurement's axes; good for no more than its covariance says
	Tilt    Quantity            // of the camera across a rule, deg; for a card the whole tilt

	source ScaleSource
	pose   *reference.Pose
	origin homography.PlanePoint // of the measurement's axes, in the reference's own
	turn   float64               // of the measurement's x from the reference's own, rad
}

// ImageFromPlane is the pixel that shows a point of the plane, mm in the measurement's axes.
func (r *Reference) ImageFromPlane(q homography.PlanePoint) homography.Pixel {
	c, s := math.Cos(r.turn), math.Sin(r.turn)
	return r.pose.ImageFromPlane(homography.PlanePoint{X: r.origin.X + c*q.X - s*q.Y, Y: r.origin.Y + s*q.X + c*q.Y})
}

// PlaneFromImage is the point of the plane that a pixel shows. The error says that the pixel does not see the plane.
func (r *Reference) PlaneFromImage(p homography.Pixel) (homography.PlanePoint, error) {
	q, err := r.pose.PlaneFromImage(p)
	return r.own(q), err
}

// Card is the card as numbers, for Settings.Cards; false where the scale is none of a card.
func (r *Reference) Card() (reference.Kept, bool) { return r.pose.Keep() }

// own carries a point of the reference's axes to the measurement's.
func (r *Reference) own(q homography.PlanePoint) homography.PlanePoint {
	c, s := math.Cos(r.turn), math.Sin(r.turn)
	x, y := q.X-r.origin.X, q.Y-r.origin.Y
	return homography.PlanePoint{X: c*x + s*y, Y: -s*x + c*y}
}

// moved lays the measurement's origin and x axis to a place and a turn of its present axes.
func (r *Reference) moved(to relief.Point, turn float64) {
	c, s := math.Cos(r.turn), math.Sin(r.turn)
	r.origin.X, r.origin.Y = r.origin.X+c*to.X-s*to.Y, r.origin.Y+s*to.X+c*to.Y
	r.turn += turn
	r.Camera = turnedCamera(r.pose.Camera(), r)
}

// turnedCamera is the camera in the measurement's axes.
func turnedCamera(c *homography.Camera, r *Reference) *homography.Camera {
	if c == nil {
		return nil
	}
	out := *c
	out.Position = r.own(c.Position)
	cos, sin := math.Cos(r.turn), math.Sin(r.turn)
	m := [3][3]float64{{cos, sin, 0}, {-sin, cos, 0}, {0, 0, 1}}
	out.Covariance = [3][3]float64{}
	for i := range 3 {
		out.ByFocal[i] = 0
		for k := range 3 {
			out.ByFocal[i] += m[i][k] * c.ByFocal[k]
			out.Rotation[3*k+i] = 0 // the camera's axes stay, the plane's turn: Rotation m^T
			for a := range 3 {
				out.Rotation[3*k+i] += c.Rotation[3*k+a] * m[i][a]
				for b := range 3 {
					out.Covariance[i][k] += m[i][a] * c.Covariance[a][b] * m[k][b]
				}
			}
		}
	}
	return &out
}

// lines are the budget lines of the reference: what its pose gives the distance between the two centres.
func (r *Reference) lines(left, right homography.Pixel, magnification float64) (lines spacing.Budget) {
	of := cardLines
	if r.source == ByRule {
		of = ruleLines
	}
	for _, s := range r.pose.SpacingUncertainty(left, right) {
		l := of[s.Of]
		lines = append(lines, spacing.Of(l.line, s.U, magnification, l.basis))
	}
	return lines
}

// referenceLine is what an influence on a reference's pose is in the budget.
type referenceLine struct {
	line  *codes.Line
	basis codes.Said
}

var cardLines = map[reference.Influence]referenceLine{
	reference.Size:        {codes.CardSize, codes.CardsSize.With()},
	reference.Edges:       {codes.CardEdges, codes.CardsEdges.With()},
	reference.Thickness:   {codes.ReferenceThickness, codes.CardsThickness.With()},
	reference.Lens:        {codes.Lens, codes.LensOfCard.With()},
	reference.FocalLength: {codes.FocalLength, codes.FocalStated.With()},
	reference.Scatter:     {codes.CardFit, codes.CardsFit.With()},
}

var ruleLines = map[reference.Influence]referenceLine{
	reference.Graduation:  {codes.RuleGraduation, codes.Graduation.With(100 * reference.GraduationHalfWidth)},
	reference.Thickness:   {codes.ReferenceThickness, codes.RulesThickness.With(reference.RuleThickness, reference.RuleThicknessU)},
	reference.Lens:        {codes.Lens, codes.LensOfRule.With()},
	reference.FocalLength: {codes.FocalLength, codes.FocalStated.With()},
	reference.Scatter:     {codes.RuleFit, codes.RulesFit.With()},
}

// focalOf is what is known of the picture's focal length.
func focalOf(p *photo.Photo) (f homography.Focal, known bool) {
	f, err := homography.FocalFrom35mm(p.Focal35, p.Width, p.Height)
	if err != nil || doubtful(p) {
		return homography.FocalUnknown(p.Width, p.Height), false
	}
	return f, true
}

// findReference takes the card that is known of the picture; else it looks for a card, then for a rule.
func findReference(p *photo.Photo, grey *image.Gray, known map[[32]byte]reference.Kept) *Reference {
	focal, _ := focalOf(p)
	search := reference.NewSearch(grey)
	r := &Reference{}
	card, err := known[p.SHA256].Card(p.Width, p.Height)
	if err != nil { // none is known of this picture
		card, err = search.Card(focal)
	}
	if c := card; err == nil {
		r.source, r.pose, r.Outline = ByCard, &c.Pose, c.Outline
	} else if c, err := search.Rule(focal); err == nil {
		r.source, r.pose, r.Outline = ByRule, &c.Pose, c.Outline
		r.Tilt.U = c.TiltAcrossU
	} else {
		return nil
	}
	camera := r.pose.Camera()
	if camera == nil {
		return nil
	}
	r.Tilt.Value = camera.TiltDegrees
	// The measurement's x runs to the picture's right, whichever way the reference lies.
	o := r.pose.ImageFromPlane(homography.PlanePoint{})
	x := r.pose.ImageFromPlane(homography.PlanePoint{X: 1})
	r.moved(relief.Point{}, -math.Atan2(x.Y-o.Y, x.X-o.X))
	return r
}

// lookAtReference reads a picture that has a card or a rule instead of the frame. It reports false, with the measurement as
// it was, where there is neither.
func (t *Meter) lookAtReference(ctx context.Context, v *sight, grey *image.Gray, s Settings) (bool, error) {
	r := findReference(v.photo, grey, s.Cards)
	if r == nil {
		return false, nil
	}
	m := v.m
	m.Anew()
	m.ScaleSource, m.Reference = r.source, r
	if r.source == ByCard {
		m.Masked = append(m.Masked, r.Outline)
	} else {
		m.Warn(codes.RuleTilt.With(r.Tilt.U))
	}
	if err := ctx.Err(); err != nil {
		return true, err
	}
	sheet, err := newRefSheet(v.photo, grey, r)
	if err != nil {
		return true, err
	}
	if m.Medium == calibration.Foam {
		return true, t.readFoamBeside(ctx, v, grey, sheet)
	}
	return true, t.readPaperBeside(v, grey, sheet)
}

// readPaperBeside finds the two marks on the sheet, lays the window round them, and once more where the first reading says.
func (t *Meter) readPaperBeside(v *sight, grey *image.Gray, sheet *refSheet) error {
	m, r := v.m, v.m.Reference
	at, turn, reason := sheet.locate()
	if reason != nil {
		m.refuse(*reason)
		return nil
	}
	if m.Medium == "" && !sheet.inked() {
		m.refuse(codes.MediumUnclear.With())
		return nil
	}
	m.Medium = calibration.Paper
	r.moved(at, turn)
	v.toPixel = func(q relief.Point) homography.Pixel { return r.ImageFromPlane(homography.PlanePoint(q)) }
	first, err := t.peek(v, grey, sheet)
	if err != nil {
		return err
	}
	if first != nil {
		r.moved(between(*first))
	}
	m.GroundSample = groundSample(v.toPixel)
	w, err := sheet.window(grey, v.toPixel)
	if err != nil {
		return err
	}
	if err := t.readWindow(v, w); err != nil || !v.read {
		return err
	}
	sheet.judgeCover(v)
	return nil
}

// peek reads the window without a judgement; nil where there are no two centres.
func (t *Meter) peek(v *sight, grey *image.Gray, sheet *refSheet) (*relief.Reading, error) {
	w, err := sheet.window(grey, v.toPixel)
	if err != nil {
		return nil, err
	}
	trial := &sight{m: &Measurement{Verdict: judge.Verdict{Status: Measured}, Medium: v.m.Medium}, photo: v.photo, toPixel: v.toPixel}
	if err := t.readWindow(trial, w); err != nil || !trial.read {
		return nil, err
	}
	return &trial.reading, nil
}

// between is the middle of a reading's centres and the turn that lays them level.
func between(r relief.Reading) (relief.Point, float64) {
	a, b := r.Left.At, r.Right.At
	return relief.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}, math.Atan2(b.Y-a.Y, b.X-a.X)
}

// groundSample is the ground sample distance at the origin, mm/px.
func groundSample(place func(relief.Point) homography.Pixel) float64 {
	o, x, y := place(relief.Point{}), place(relief.Point{X: 1}), place(relief.Point{Y: 1})
	return 1 / math.Sqrt(math.Abs((x.X-o.X)*(y.Y-o.Y)-(x.Y-o.Y)*(y.X-o.X)))
}

// scaleLines are the budget lines of a scale that is not the frame's, for a distance on the plane in mm.
func (v *sight) scaleLines(mm, magnification float64) spacing.Budget {
	if r := v.m.Reference; r != nil {
		return r.lines(v.m.Left.Pixel, v.m.Right.Pixel, magnification)
	}
	return spacing.Budget{resolutionLine(v.photo, mm)}
}

// printOf is the frame's print, or, where no frame gave the scale, true millimetres.
func (m *Measurement) printOf(s Settings) calibration.Print {
	if m.Plane == nil {
		return calibration.Print{ScaleX: 1, ScaleY: 1, Verified: true}
	}
	return s.print()
}
