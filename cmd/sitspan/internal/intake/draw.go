package intake

import (
	"image"
	"math"
	"unicode"
	"unicode/utf8"

	"sitspan/calibration"
	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/overlay"
)

// drawing is how a measurement is drawn: in which language.
type drawing struct{ lang words.Lang }

// draw lays the measurement over its photo.
func (w drawing) draw(o Outcome, maxSide int) (image.Image, error) {
	p, m := o.photo, o.made
	picture := o.colour(maxSide)
	s := overlay.Scene{
		Photo: picture, Scale: float64(picture.Bounds().Dx()) / float64(p.Width), Status: string(m.Status),
		Plane: planeOf(o), Headline: []string{w.headline(m)}, Words: w.words(m),
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
		s.Left, s.Right = w.centreOf("side.left", m.Left), w.centreOf("side.right", m.Right)
	}
	s.Relief = reliefDrawn(m)
	for _, r := range m.Rejected {
		s.Rejected = append(s.Rejected, overlay.Rejected{Px: [2]float64{r.Pixel.X, r.Pixel.Y},
			Why: sentence.Of(w.lang, r.Why)})
	}
	for _, r := range m.Reasons {
		s.Footer = append(s.Footer, w.reason(r))
	}
	return overlay.Draw(s, maxSide)
}

// words are the drawing's own texts.
func (w drawing) words(m *imprint.Measurement) overlay.Words {
	l := w.lang
	out := overlay.Words{
		Status: l.Text("status." + string(m.Status)), Deepest: l.Text("overlay.deepest"),
		Region: l.Text("overlay.region"),
		Grid:   l.Text("overlay.grid"), LeftOut: l.Text("overlay.left_out"), Loupe: l.Text("overlay.loupe"),
		More: func(n int) string { return l.Say("overlay.more", words.Values{"n": n}) },

		Contours: l.Text("overlay.contours"), SectionEqual: l.Text("overlay.section_equal"), Number: l.Number,
		SectionTimes: func(times int) string {
			return l.Say("overlay.section_times",
				words.Values{"times": times})
		},
	}
	if m.Plane != nil {
		out.Marks = l.Say("overlay.marks", words.Values{"n": len(m.Plane.Marks)})
	}
	return out
}

// reason is what was seen and what to do, in two sentences.
func (w drawing) reason(r codes.Said) string {
	return capital(sentence.Of(w.lang, r)) + ". " + capital(sentence.Do(w.lang, r)) + "."
}

func capital(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

func (w drawing) headline(m *imprint.Measurement) string {
	if m.Spacing == nil {
		return w.lang.Text("overlay.no_distance")
	}
	u, _ := m.Expanded()
	stated := gum.Stated(u)
	return w.lang.Number(m.Spacing.Value, 1) + " ± " + w.lang.Number(stated, gum.Decimals(stated)) + " mm"
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

// ellipse95 scales standard uncertainties to the region that holds a point with 95 %: the root of
// chi-square's quantile with two degrees of freedom, -2 ln 0.05.
var ellipse95 = math.Sqrt(-2 * math.Log(0.05))

// centreOf is a centre with its side's name, side being the name's key.
func (w drawing) centreOf(side string, d *imprint.Depression) *overlay.Centre {
	major, minor, direction := d.Covariance.Ellipse()
	label := w.lang.Text(side)
	if d.Depth > 0 {
		label = w.lang.Say("overlay.deep", words.Values{"side": label, "depth": d.Depth})
	}
	return &overlay.Centre{
		Px: [2]float64{d.Pixel.X, d.Pixel.Y}, PlaneMM: [2]float64{d.OnPlane.X, d.OnPlane.Y},
		Semi: [2]float64{major * ellipse95, minor * ellipse95}, DirectionDeg: direction, Label: label,
	}
}
