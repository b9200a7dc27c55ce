package geometry

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/stat"

	"sitspan/imprint/geometry/bundle"
	"sitspan/imprint/geometry/surface"
)

// What is taken of a frame and a phone beforehand (assumptions, no source; the lens as package homography has
// it).
const (
	bowU       = 0.4   // mm, standard uncertainty of the card's heights
	bowLength  = 70.0  // mm over which they are alike
	stretchU   = 0.002 // of a print's scale along x over that along y
	skewU      = 0.001 // rad
	radialU    = 0.01  // of k1 at the picture's corner
	radial4U   = 0.005 // of k2
	principalU = 0.02  // half diagonals
	focalOwnU  = 0.01  // relative: a lens moves to focus (an assumption)
	// mm: a dot is no point, and ink has a rim; with it u matched the errors of 34 rendered pads
	leastHeightU = 0.025
	leastDotU    = 0.02 // px: what a dot's place is off beside its fit's own uncertainty (its rim is not round)
	leastCornerU = 0.03 // px, likewise of a mark's corner
	// mm: a printer sets an edge to the next of its dots, 600 an inch, anywhere within one (an assumption)
	printedU = 25.4 / 600 / 3.4641
	// mm along any line: what a deepest point is off beside the draws. Over 35 rendered pads the errors were
	// 1.14 of the drawn u, and all that were more than 2 u off had a drawn u below 0.13 mm a point.
	leastBottomU = 0.1
)

// Needs are the numbers below which there is no relief to speak of.
const (
	LeastPoints = 60  // in two photos at least
	LeastAngle  = 8.0 // degrees between the lines of sight, in the mean
)

// Errors that say what is missing.
var (
	ErrFewPoints = errors.New("too few points of the pad can be recognised")
	ErrOnePlace  = errors.New("the photos were taken from one place")
)

// scene is what is adjusted, and which dot each tie point is.
type scene struct {
	bundle.Scene
	photos []Photo
	tracks []track
	marks  []int // of each control point

	patches  []float64 // of each track, the radius of its patch in mm; 0 for a dot
	held     []track   // that check
	withheld []int     // marks, likewise
	adjusted *bundle.Adjusted
}

// newScene puts the photos and the tracks together. Marks in withheld take no part.
func newScene(photos []Photo, tracks []track, withheld []int) *scene {
	s := &scene{photos: photos, tracks: tracks, patches: make([]float64, len(tracks))}
	s.Frame = bundle.Frame{BowU: bowU, BowLength: bowLength, StretchU: stretchU, SkewU: skewU}
	controls := map[[2]int]int{}
	for v, p := range photos {
		principal := p.PrincipalU
		if principal == 0 {
			principal = principalU
		}
		s.Views = append(s.Views, bundle.View{Width: p.Width, Height: p.Height, Rotation: p.Rotation,
			Position: p.Position,
			Camera: bundle.Camera{Lens: p.Lens, Focal: p.Focal, FocalU: p.FocalU, FocalOwnU: focalOwnU, K1U: radialU,
				K2U: radial4U, PrincipalU: principal}})
		perMM := p.Focal / -p.Position[2] // px
		for _, c := range p.Corners {
			if slices.Contains(withheld, c.Mark) {
				continue
			}
			at, known := controls[[2]int{c.Mark, c.Index}]
			if !known {
				at = len(s.Controls)
				controls[[2]int{c.Mark, c.Index}] = at
				s.Controls, s.marks = append(s.Controls, bundle.Control{X: c.X, Y: c.Y}), append(s.marks, c.Mark)
			}
			s.ControlSeen = append(s.ControlSeen, bundle.Seen{View: v, Point: at, At: bundle.Pixel{c.At.X, c.At.Y},
				U: math.Hypot(math.Hypot(c.U, leastCornerU), printedU*perMM)})
		}
	}
	s.addTies()
	return s
}

func (s *scene) addTies() {
	lines := linesOf(s.photos)
	for k, t := range s.tracks {
		for v, i := range t {
			if i >= 0 {
				d := s.photos[v].Dots[i]
				s.TieSeen = append(s.TieSeen, bundle.Seen{View: v, Point: k, At: bundle.Pixel{d.Pixel.X, d.Pixel.Y},
					U: math.Hypot(d.U, leastDotU)})
			}
		}
		x, _, _ := bundle.Meet(rays(lines, t))
		s.Ties = append(s.Ties, x)
	}
}

// By is what was recognised from photo to photo.
type By string

// The kinds.
const (
	Dots  By = "dots"
	Grain By = "grain"
)

// Relief is what several photos of one pad show.
type Relief struct {
	Surface     *surface.Surface
	Left, Right surface.Bottom
	Heights     []surface.Height
	Shared      *surface.Shared
	Adjusted    *bundle.Adjusted
	By          By      // what was recognised
	Points      int     // that were, in two photos at least
	Between     int     // of them, places between dots
	Angle       float64 // degrees between the lines of sight, mean over the points
	Used        []int   // the photos that it rests on
	Shown       []int   // of the points, how many each of these shows
	Checks      Checks
}

// leastShare is the share of its dots that a photo must have in common with the others, against what the
// others have among themselves: one of another imprint, or taken after the frame was moved, has fewer.
const leastShare = 0.5

// Reconstruct matches the photos' dots, or, where there are too few, whatever else the pad shows, adjusts
// all, and lays the surface. Of three photos or more it leaves out one that shows another imprint than the
// rest.
func Reconstruct(photos []Photo, bounds surface.Bounds) (*Relief, error) {
	if len(photos) < 2 {
		return nil, fmt.Errorf("%w: one photo", ErrOnePlace)
	}
	by := Dots
	s, used, err := byDots(photos)
	var r *Relief
	if err == nil {
		r, err = s.relief(s.adjusted, bounds, nil)
	}
	if errors.Is(err, ErrFewPoints) {
		if t, u, failed := byGrain(photos); failed == nil {
			s, used, by = t, u, Grain
			r, err = s.relief(s.adjusted, bounds, nil)
		}
	}
	if err != nil {
		return nil, err
	}
	if finer := s.withGrain(r, bounds); finer != nil {
		r = finer
	}
	r.Used, r.By = used, by
	return r, nil
}

// byDots adjusts what dots there are.
func byDots(photos []Photo) (*scene, []int, error) {
	lines := linesOf(photos)
	first, err := adjust(photos, lines, tracks(lines))
	if err != nil {
		return nil, nil, err
	}
	used := make([]int, len(photos))
	for v := range photos {
		used[v] = v
	}
	if odd := first.odd(); odd >= 0 && len(photos) > 2 {
		used = slices.Delete(used, odd, odd+1)
		photos = slices.Delete(slices.Clone(photos), odd, odd+1)
		lines = linesOf(photos)
		if first, err = adjust(photos, lines, tracks(lines)); err != nil {
			return nil, nil, err
		}
	}
	// Once more with the lines of sight as the adjusted cameras have them: they miss each other by less, and
	// dots that were doubtful are so no more.
	lines = first.seen(first.adjusted)
	second, err := adjust(photos, lines, tracks(lines))
	return second, used, err
}

func linesOf(photos []Photo) (lines [][]sightline) {
	for _, p := range photos {
		lines = append(lines, p.sightlines())
	}
	return lines
}

// adjust adjusts what was matched, some marks and points withheld.
func adjust(photos []Photo, lines [][]sightline, all []track) (*scene, error) {
	if len(all) < LeastPoints {
		return nil, fmt.Errorf("%w: %d of %d", ErrFewPoints, len(all), LeastPoints)
	}
	used, held := withheldTracks(lines, all)
	marks := withheldMarks(photos)
	s := newScene(photos, used, marks)
	s.held, s.withheld = held, marks
	var err error
	s.adjusted, err = bundle.Adjust(&s.Scene)
	return s, err
}

// odd is the photo that has too few dots in common with the others, or -1.
func (s *scene) odd() int {
	share := make([]float64, len(s.photos))
	for v, p := range s.photos {
		n := 0
		for k, o := range s.TieSeen {
			if o.View == v && s.adjusted.TieWeights[k] > 0 {
				n++
			}
		}
		share[v] = float64(n) / math.Max(1, float64(len(p.Dots)))
	}
	worst := 0
	for v := range share {
		if share[v] < share[worst] {
			worst = v
		}
	}
	rest := slices.Delete(slices.Clone(share), worst, worst+1)
	if share[worst] < leastShare*slices.Min(rest) {
		return worst
	}
	return -1
}

// seen are the photos' lines of sight by the adjusted cameras.
func (s *scene) seen(a *bundle.Adjusted) [][]sightline {
	out := make([][]sightline, len(s.photos))
	for v, p := range s.photos {
		for i, l := range p.sightlines() {
			if r, ok := a.Ray(&s.Scene, v, bundle.Pixel{p.Dots[i].Pixel.X, p.Dots[i].Pixel.Y}); ok {
				l.at, l.slope = r.At, r.Slope
			}
			out[v] = append(out[v], l)
		}
	}
	return out
}

// relief lays the surface through the tie points; like is one of the same pad, or nil.
func (s *scene) relief(a *bundle.Adjusted, bounds surface.Bounds, like *surface.Surface) (*Relief, error) {
	r := &Relief{Adjusted: a, Shared: &surface.Shared{Covariance: a.Shared}}
	angles := 0.0
	sights := make([]int, len(s.Ties))
	r.Shown = make([]int, len(s.photos))
	for k, o := range s.TieSeen {
		if a.TieWeights[k] > 0 {
			sights[o.Point]++
			r.Shown[o.View]++
		}
	}
	for k, x := range a.Ties {
		if sights[k] < 2 {
			continue
		}
		own := a.Own[k]
		h := surface.Height{X: x[0], Y: x[1], Z: x[2], U: math.Hypot(math.Sqrt(own[2][2]), leastHeightU),
			UX: math.Sqrt(own[0][0]), UY: math.Sqrt(own[1][1]), Patch: s.patches[k]}
		if h.Patch > 0 && s.dotted() {
			r.Between++
		}
		r.Heights = append(r.Heights, h)
		r.Shared.By = append(r.Shared.By, a.Share[k])
		angles += s.angle(a, s.tracks[k], x)
	}
	r.Points = len(r.Heights)
	if r.Points < LeastPoints {
		return nil, fmt.Errorf("%w: %d of %d", ErrFewPoints, r.Points, LeastPoints)
	}
	r.Angle = angles / float64(r.Points)
	if r.Angle < LeastAngle {
		return nil, fmt.Errorf("%w: their lines of sight meet at %.0f degrees, %.0f are needed", ErrOnePlace,
			r.Angle, LeastAngle)
	}
	var err error
	if r.Surface, err = surface.Fit(r.Heights, like); err != nil {
		return nil, err
	}
	if r.Surface.Unrelated() {
		return nil, fmt.Errorf("%w: the %d that seem to be the same lie as if at random", ErrFewPoints, r.Points)
	}
	if r.Left, r.Right, err = r.Surface.Deepest(bounds); err != nil {
		return nil, err
	}
	r.Checks = s.check(a, r, s.held, s.withheld)
	return r, nil
}

// angle is the largest between two lines of sight of a dot, degrees.
func (s *scene) angle(a *bundle.Adjusted, t track, x bundle.Vec) (most float64) {
	var to []bundle.Vec
	for v, i := range t {
		if i < 0 {
			continue
		}
		p := a.Poses[v].Position
		d := bundle.Vec{x[0] - p[0], x[1] - p[1], x[2] - p[2]}
		n := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
		for _, e := range to {
			most = math.Max(most, math.Acos(math.Min(1, (d[0]*e[0]+d[1]*e[1]+d[2]*e[2])/n))*180/math.Pi)
		}
		to = append(to, bundle.Vec{d[0] / n, d[1] / n, d[2] / n})
	}
	return most
}

// Uncertainty is what the two deepest points leave open.
type Uncertainty struct {
	LeftAlong, RightAlong float64       // mm, of either along the line between both, the surface's own share
	Cameras               float64       // mm, of the distance: poses, lens and frame together
	Whole                 float64       // mm, of the distance, all drawn at once
	Left, Right           [2][2]float64 // covariance of either point, mm^2, all drawn at once
	Mean                  [2][2]float64 // mm, the left and the right point, mean over all draws
	Open                  [2]float64    // share of draws without a bottom
	// Curvature of either bottom over surface.BallReach, 1/mm: the mean over all draws, and their spread.
	Curvature, CurvatureU [2]float64
}

const (
	draws = 600
	seed  = 20090
)

// Uncertainty draws surfaces (JCGM 101:2008, 7) as the heights and the cameras leave them open.
func (r *Relief) Uncertainty() (u Uncertainty, err error) {
	open, err := r.Surface.Leeway(r.Left, r.Right, r.Shared)
	if err != nil {
		return u, err
	}
	var own, cameras, both surface.Draws
	var group sync.WaitGroup
	group.Go(func() { own = open.Draw(draws, true, false, seed) })
	group.Go(func() { cameras = open.Draw(draws, false, true, seed+1) })
	group.Go(func() { both = open.Draw(draws, true, true, seed+2) })
	group.Wait()
	d := math.Hypot(r.Right.X-r.Left.X, r.Right.Y-r.Left.Y)
	e := [2]float64{(r.Right.X - r.Left.X) / d, (r.Right.Y - r.Left.Y) / d}
	along := func(list [][2]float64) float64 {
		c := covariance(list)
		return math.Sqrt(e[0]*e[0]*c[0][0] + 2*e[0]*e[1]*c[0][1] + e[1]*e[1]*c[1][1])
	}
	u.LeftAlong = math.Hypot(along(own.Left), leastBottomU)
	u.RightAlong = math.Hypot(along(own.Right), leastBottomU)
	u.Cameras, u.Whole = distanceSD(cameras), math.Hypot(distanceSD(both), leastBottomU*math.Sqrt2)
	u.Mean = [2][2]float64{mean(both.Left), mean(both.Right)}
	u.Left, u.Right, u.Open = covariance(both.Left), covariance(both.Right), both.Open
	for side, list := range both.Curvature {
		u.Curvature[side], u.CurvatureU[side] = stat.MeanStdDev(list, nil)
	}
	for i := range 2 {
		u.Left[i][i] += leastBottomU * leastBottomU
		u.Right[i][i] += leastBottomU * leastBottomU
	}
	return u, nil
}

// Expected are the two bottoms where the draws have them on average: the estimate that goes with their
// uncertainty (JCGM 101:2008, 7.6). On a gentle bottom it errs less than the bottom of the likeliest surface,
// which may jump between two lows of nearly one depth.
func (r *Relief) Expected(u Uncertainty) (left, right surface.Bottom) {
	left, right = r.Left, r.Right
	for side, b := range []*surface.Bottom{&left, &right} {
		b.X, b.Y = u.Mean[side][0], u.Mean[side][1]
		b.Z = r.Surface.At(b.X, b.Y)
	}
	return left, right
}

func mean(list [][2]float64) (m [2]float64) {
	n := float64(len(list))
	for _, p := range list {
		m[0], m[1] = m[0]+p[0]/n, m[1]+p[1]/n
	}
	return m
}

func covariance(list [][2]float64) (c [2][2]float64) {
	m, n := mean(list), float64(len(list))
	for _, p := range list {
		for i := range 2 {
			for j := range 2 {
				c[i][j] += (p[i] - m[i]) * (p[j] - m[j]) / (n - 1)
			}
		}
	}
	return c
}

func distanceSD(d surface.Draws) float64 {
	var list [][2]float64
	for k := range d.Left {
		list = append(list, [2]float64{math.Hypot(d.Right[k][0]-d.Left[k][0], d.Right[k][1]-d.Left[k][1])})
	}
	return math.Sqrt(covariance(list)[0][0])
}
