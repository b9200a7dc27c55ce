package scale

import (
	"slices"

	"image"
	"math"

	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
	"sitspan/imprint/reference"
	"sitspan/imprint/spacing"
)

// Reference is a card or a rule that gives a picture without the frame its scale, with the plane that it lies
// on. The plane's axes are the measurement's: origin between the centres, x from left to right in the
// picture.
type Reference struct {
	Outline [4]homography.Pixel // of what it covers, px, in order round it
	Camera  *homography.Camera  // in the measurement's axes; good for no more than its covariance says
	Tilt    Angle               // of the camera across a rule, deg; for a card the whole tilt

	source Source
	pose   *reference.Pose
	origin homography.PlanePoint // of the measurement's axes, in the reference's own
	turn   float64               // of the measurement's x from the reference's own, rad
}

// Angle is an angle with its standard uncertainty, degrees.
type Angle struct{ Value, U float64 }

// Source is card or rule.
func (r *Reference) Source() Source { return r.source }

// ImageFromPlane is the pixel that shows a point of the plane, mm in the measurement's axes.
func (r *Reference) ImageFromPlane(q homography.PlanePoint) homography.Pixel {
	c, s := math.Cos(r.turn), math.Sin(r.turn)
	return r.pose.ImageFromPlane(
		homography.PlanePoint{X: r.origin.X + c*q.X - s*q.Y, Y: r.origin.Y + s*q.X + c*q.Y},
	)
}

// PlaneFromImage is the point of the plane that a pixel shows. The error says that the pixel does not see the
// plane.
func (r *Reference) PlaneFromImage(p homography.Pixel) (homography.PlanePoint, error) {
	q, err := r.pose.PlaneFromImage(p)
	return r.own(q), err
}

// KeptCard is a card as numbers: what is needed to measure again where its face was painted over.
type KeptCard = reference.Kept

// Card is the card as numbers; false where the scale is none of a card.
func (r *Reference) Card() (KeptCard, bool) { return r.pose.Keep() }

// CardIn is the outline of a card in a picture, to be painted over; false where there is none.
func CardIn(p *photo.Photo) (outline [4]homography.Pixel, found bool) {
	focal, _ := FocalOf(p)
	c, err := reference.NewSearch(p.Grey()).Card(focal)
	if err != nil {
		return outline, false
	}
	return c.Outline, true
}

// own carries a point of the reference's axes to the measurement's.
func (r *Reference) own(q homography.PlanePoint) homography.PlanePoint {
	c, s := math.Cos(r.turn), math.Sin(r.turn)
	x, y := q.X-r.origin.X, q.Y-r.origin.Y
	return homography.PlanePoint{X: c*x + s*y, Y: -s*x + c*y}
}

// Move lays the measurement's origin and x axis to a place and a turn of its present axes.
func (r *Reference) Move(to homography.PlanePoint, turn float64) {
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

// Lines are the budget lines of the reference: what its pose gives the distance between the two centres.
func (r *Reference) Lines(left, right homography.Pixel, _, magnification float64) (lines spacing.Budget) {
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
	reference.Graduation: {codes.RuleGraduation, codes.Graduation.With(100 * reference.GraduationHalfWidth)},
	reference.Thickness: {
		codes.ReferenceThickness,
		codes.RulesThickness.With(reference.RuleThickness, reference.RuleThicknessU),
	},
	reference.Lens:        {codes.Lens, codes.LensOfRule.With()},
	reference.FocalLength: {codes.FocalLength, codes.FocalStated.With()},
	reference.Scatter:     {codes.RuleFit, codes.RulesFit.With()},
}

// FocalOf is what is known of the picture's focal length.
func FocalOf(p *photo.Photo) (f homography.Focal, known bool) {
	f, err := homography.FocalFrom35mm(p.Focal35, p.Width, p.Height)
	if err != nil || doubtful(p) {
		return homography.FocalUnknown(p.Width, p.Height), false
	}
	if unchecked(p) {
		f.U = homography.FocalUUnchecked(p.Focal35) * f.Pixels
	}
	return f, true
}

// unchecked tells that the stated focal length may be another's: the picture may have been cropped to its own
// shape, and nothing in the file tells.
func unchecked(p *photo.Photo) bool {
	return slices.ContainsFunc(p.FocalDoubts, func(d photo.FocalDoubt) bool {
		return d == photo.FocalUnchecked || d == photo.FocalResaved || d == photo.FocalNoCamera
	})
}

// FindReference takes the card that is known of the picture; else it looks for a card, then for a
// rule.
func FindReference(p *photo.Photo, grey *image.Gray, known map[[32]byte]KeptCard) *Reference {
	focal, _ := FocalOf(p)
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
	r.Move(homography.PlanePoint{}, -math.Atan2(x.Y-o.Y, x.X-o.X))
	return r
}

// Extent is the part of the plane that the picture shows, mm, at most so much on a side about the picture's
// middle.
func (r *Reference) Extent(width, height int, side float64) (x0, y0, x1, y1 float64) {
	w, h := float64(width-1), float64(height-1)
	mid, err := r.PlaneFromImage(homography.Pixel{X: w / 2, Y: h / 2})
	if err != nil {
		return 0, 0, 0, 0
	}
	x0, y0, x1, y1 = mid.X, mid.Y, mid.X, mid.Y
	for _, c := range []homography.Pixel{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: 0, Y: h}} {
		q, err := r.PlaneFromImage(c)
		if err != nil {
			q = mid
		}
		x0, y0, x1, y1 = math.Min(x0, q.X), math.Min(y0, q.Y), math.Max(x1, q.X), math.Max(y1, q.Y)
	}
	half := side / 2
	return math.Max(
			x0,
			mid.X-half,
		), math.Max(
			y0,
			mid.Y-half,
		), math.Min(
			x1,
			mid.X+half,
		), math.Min(
			y1,
			mid.Y+half,
		)
}
