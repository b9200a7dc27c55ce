package intake

import (
	"fmt"
	"image"
	"math"
	"strings"

	"sitspan/calibration"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint"
	"sitspan/imprint/homography"
	"sitspan/imprint/overlay"
)

// drawing is how a measurement is drawn: in which words, and who speaks of its reasons.
type drawing struct {
	drawnWords
	speak func(record.Reason) string
}

// drawnWords are the words that are drawn beside the overlay's own.
type drawnWords struct {
	lang              overlay.Lang
	words             words.Lang
	none, left, right string
	deep              string // side, depth in mm
	decimal           string
}

var overlayWords = map[overlay.Lang]drawnWords{
	overlay.English: {overlay.English, words.English, "no distance", "left", "right", "%s, %.0f mm deep", "."},
	overlay.German:  {overlay.German, words.German, "kein Abstand", "links", "rechts", "%s, %.0f mm tief", ","},
}

// draw lays the measurement over its photo.
func (w drawing) draw(o Outcome, maxSide int) (image.Image, error) {
	p, m := o.photo, o.made
	picture := o.colour(maxSide)
	s := overlay.Scene{
		Photo: picture, Scale: float64(picture.Bounds().Dx()) / float64(p.Width), Status: string(m.Status),
		Plane: planeOf(o), Headline: []string{w.headline(m)}, Lang: w.lang,
	}
	if m.Plane != nil {
		size := calibration.ControlFrame.Window
		s.Window = [2]float64{size.Width, size.Height}
		for _, k := range m.Plane.Marks {
			var q [4][2]float64
			for i, c := range k.Corners {
				q[i] = [2]float64{c.X, c.Y}
			}
			s.Marks, s.MarkIDs = append(s.Marks, q), append(s.MarkIDs, k.ID)
		}
	}
	if m.Spacing != nil {
		s.Spacing = w.headline(m)
		s.Left, s.Right = w.centreOf(w.left, m.Left), w.centreOf(w.right, m.Right)
	}
	s.Relief = reliefDrawn(m)
	for _, r := range m.Rejected {
		s.Rejected = append(s.Rejected, overlay.Rejected{Px: [2]float64{r.Pixel.X, r.Pixel.Y}, Why: sentence.Of(w.words, r.Why)})
	}
	for _, r := range m.Reasons {
		s.Footer = append(s.Footer, w.speak(sentence.Reason(r)))
	}
	return overlay.Draw(s, maxSide)
}

func (w drawnWords) headline(m *imprint.Measurement) string {
	if m.Spacing == nil {
		return w.none
	}
	u, _ := m.Expanded()
	return strings.ReplaceAll(fmt.Sprintf("%.1f ± %.1f mm", m.Spacing.Value, u), ".", w.decimal)
}

// planeOf maps millimetres of the plane to pixels of the upright picture: the frame's, a card's or a
// rule's, or a bare scan's by its resolution.
func planeOf(o Outcome) func([2]float64) [2]float64 {
	m := o.made
	switch {
	case m.Plane != nil && m.Plane.Fit != nil:
		return func(mm [2]float64) [2]float64 {
			q := m.Plane.Fit.ImageFromPlane(homography.PlanePoint{X: mm[0], Y: mm[1]})
			return [2]float64{q.X, q.Y}
		}
	case m.Reference != nil:
		return func(mm [2]float64) [2]float64 {
			q := m.Reference.ImageFromPlane(homography.PlanePoint{X: mm[0], Y: mm[1]})
			return [2]float64{q.X, q.Y}
		}
	case m.Left != nil && m.PxPerMM[0] > 0:
		a, b := m.Left, m.Right
		c, s := turn(a, b, m.PxPerMM)
		return func(mm [2]float64) [2]float64 {
			dx, dy := mm[0]-a.OnPlane.X, mm[1]-a.OnPlane.Y
			return [2]float64{a.Pixel.X + (c*dx-s*dy)*m.PxPerMM[0], a.Pixel.Y + (s*dx+c*dy)*m.PxPerMM[1]}
		}
	}
	return nil
}

// turn is the direction of the scan's own axes in the picture, from the two centres in both.
func turn(a, b *imprint.Depression, density [2]float64) (c, s float64) {
	in := math.Atan2((b.Pixel.Y-a.Pixel.Y)/density[1], (b.Pixel.X-a.Pixel.X)/density[0])
	of := math.Atan2(b.OnPlane.Y-a.OnPlane.Y, b.OnPlane.X-a.OnPlane.X)
	return math.Cos(in - of), math.Sin(in - of)
}

// ellipse95 scales standard uncertainties to the region that holds a point with 95 %: the root of chi-square's quantile with
// two degrees of freedom, -2 ln 0.05.
var ellipse95 = math.Sqrt(-2 * math.Log(0.05))

func (w drawnWords) centreOf(side string, d *imprint.Depression) *overlay.Centre {
	major, minor, direction := d.Covariance.Ellipse()
	label := side
	if d.Depth > 0 {
		label = fmt.Sprintf(w.deep, side, d.Depth)
	}
	return &overlay.Centre{
		Px: [2]float64{d.Pixel.X, d.Pixel.Y}, PlaneMM: [2]float64{d.OnPlane.X, d.OnPlane.Y},
		Semi: [2]float64{major * ellipse95, minor * ellipse95}, DirectionDeg: direction, Label: label,
	}
}
