package imprint

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/geometry"
	"sitspan/imprint/geometry/bundle"
	"sitspan/imprint/geometry/dots"
	"sitspan/imprint/geometry/raster"
	"sitspan/imprint/geometry/surface"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/relief"
	"sitspan/imprint/scale"
	"sitspan/imprint/spacing"
)

// Relief is the pad's surface as several photos show it, without any net.
type Relief struct {
	Grid      *surface.Grid // mm below the frame's plane, nominal mm, with its standard uncertainty
	By        geometry.By   // what was recognised from photo to photo
	Points    int           // how many of them
	Between   int           // of these, places between a pad's dots
	Photos    int           // that it rests on
	Angle     float64       // degrees between the lines of sight, mean
	Length    float64       // mm over which the surface is alike
	Roughness float64       // mm, of each point beside its own uncertainty
	PadMM     float64       // mm below the frame's plane, where the undented pad is taken to lie
	Deepest   [2][2]float64 // mm, nominal, of the grid: left and right
	Radius    [2]float64    // mm, of curvature of the left and right bottom
	Near      [2]int        // points within surface.NearRadius of either
	Around    [2]int        // of six sectors about either, those that hold one
	// 1/mm, of the left and right bottom over CurvatureReach mm, with its standard uncertainty
	Curvature, CurvatureU [2]float64
	CurvatureReach        float64
	MarkFactor            float64 // by which the marks' edges lie farther off the adjustment than they claim
	Checks                geometry.Checks
}

// The frame's window less what its card hides and shades, mm.
var reliefBounds = surface.Bounds{HalfWidth: 104, HalfHeight: 66}

const gridStep = 2.0 // mm

// geometryPhoto is a photo as package geometry takes it, its dots found once; false where its frame does not
// say where it was taken from, and where an earlier photo shows the same.
func (v *sight) geometryPhoto() (geometry.Photo, bool) {
	v.findDots()
	if v.again || v.shown == nil {
		return geometry.Photo{}, false
	}
	return *v.shown, true
}

// findDots puts into shown what package geometry takes of the photo, nil where it can take nothing.
func (v *sight) findDots() {
	if v.searched {
		return
	}
	v.searched = true
	if v.m.Plane == nil || v.m.Plane.Camera == nil || v.m.Medium == calibration.Paper {
		return
	}
	pl, p := v.m.Plane, v.photo
	c := pl.Camera
	focal, _ := scale.FocalOf(p)
	out := geometry.Photo{
		Width:    p.Width,
		Height:   p.Height,
		Rotation: c.Rotation,
		Position: bundle.Vec{c.Position.X, c.Position.Y, -c.Height},
		Focal:    focal.Pixels,
		FocalU:   focal.U / focal.Pixels,
	}
	if p.Cropped() {
		out.PrincipalU = scale.CroppedPrincipalU
	} else if p.Model != "" && p.Focal35 > 0 {
		out.Lens = fmt.Sprintf("%s %g %d", p.Model, p.Focal35, p.Width*p.Height)
	}
	for _, k := range pl.Marks {
		for i, q := range calibration.ControlFrame.Marks[k.ID].Corners() {
			out.Corners = append(
				out.Corners,
				geometry.Corner{
					Mark:  k.ID,
					Index: i,
					X:     q.X,
					Y:     q.Y,
					At:    dots.Pixel(k.Corners[i]),
					U:     k.U[i],
				},
			)
		}
	}
	half := calibration.ControlFrame.Window
	out.Raster = raster.Of(v.grey, raster.Window{HalfWidth: half.Width / 2, HalfHeight: half.Height / 2,
		Sample: v.m.GroundSample, Place: func(x, y float64) raster.Pixel {
			return raster.Pixel(pl.Fit.ImageFromPlane(homography.PlanePoint{X: x, Y: y}))
		}})
	if out.Raster != nil {
		out.Dots = dots.Find(v.grey, out.Raster)
		v.shown = &out
	}
}

// reliefOf reconstructs the pad from the photos that can serve, two at least. from are the sights it rests
// on.
func reliefOf(all []*sight) (r *geometry.Relief, from []*sight, err error) {
	var use []geometry.Photo
	var sights []*sight
	for _, v := range all {
		if p, ok := v.geometryPhoto(); ok {
			use, sights = append(use, p), append(sights, v)
		}
	}
	if len(use) < 2 {
		return nil, nil, geometry.ErrFewPoints
	}
	if r, err = geometry.Reconstruct(use, reliefBounds); err != nil {
		return nil, nil, err
	}
	for _, k := range r.Used {
		from = append(from, sights[k])
	}
	return r, from, nil
}

// surfaceSeen is the pad as several photos show it, with what it leaves open.
type surfaceSeen struct {
	relief *geometry.Relief
	from   []*sight // that it rests on
	u      geometry.Uncertainty
	grid   *surface.Grid
	err    error
}

// surfaceOf works it out; it reads and writes nothing of a sight that the nets and what follows them write.
func surfaceOf(all []*sight) (o surfaceSeen) {
	if o.relief, o.from, o.err = reliefOf(all); o.err != nil {
		return o
	}
	var failed error
	var group sync.WaitGroup
	group.Go(func() { o.u, failed = o.relief.Uncertainty() })
	o.grid, o.err = o.relief.Surface.WithU(
		surface.Bounds{HalfWidth: 106, HalfHeight: 68}, gridStep, o.relief.Shared)
	group.Wait()
	o.err = errors.Join(failed, o.err)
	return o
}

// measure measures several photos by their geometry: false where the pad shows too little that can be
// recognised from photo to photo. What the nets make of dots is then no reading, and the photos of dotted
// pads say so.
func (o surfaceSeen) measure(all []*sight, s Settings) (*Measurement, bool, error) {
	r, from, u, grid, err := o.relief, o.from, o.u, o.grid, o.err
	if errors.Is(err, geometry.ErrFewPoints) || errors.Is(err, geometry.ErrOnePlace) ||
		errors.Is(err, surface.ErrTooFew) ||
		errors.Is(err, surface.ErrNoTwo) ||
		errors.Is(err, bundle.ErrTooLittle) {
		leaveDotted(all, err)
		return nil, false, nil
	}
	if err != nil {
		return nil, false, err
	}
	first := from[0].m
	m := &Measurement{
		Verdict:      judge.Verdict{Status: Measured},
		Medium:       calibration.Foam,
		Plane:        first.Plane,
		ScaleSource:  first.ScaleSource,
		GroundSample: first.GroundSample,
		Marks:        first.Marks,
	}
	m.Relief = &Relief{
		Grid:      grid,
		By:        r.By,
		Points:    r.Points,
		Between:   r.Between,
		Photos:    len(from),
		Angle:     r.Angle,
		Length:    r.Surface.Length,
		Roughness: r.Surface.Roughness,
		Radius:    [2]float64{r.Left.Radius, r.Right.Radius},
		Near:      [2]int{r.Left.Near, r.Right.Near},
		Around:    [2]int{r.Left.Around, r.Right.Around},
		Checks:    r.Checks,

		Curvature: u.Curvature, CurvatureU: u.CurvatureU, CurvatureReach: surface.BallReach,
		MarkFactor: r.Adjusted.ControlFactor,
	}
	print, pad := first.printOf(s), s.pad(calibration.Foam)
	m.Relief.PadMM = pad.CardThickness
	left, right := r.Expected(u)
	m.Relief.Deepest = [2][2]float64{{left.X, left.Y}, {right.X, right.Y}}
	m.Left = from[0].surfaceBottom(left, u.Left, print, pad, m.Relief)
	m.Right = from[0].surfaceBottom(right, u.Right, print, pad, m.Relief)
	value := m.Left.Point.Distance(m.Right.Point)
	m.UncorrectedMM = m.Left.OnPlane.Distance(m.Right.OnPlane)
	m.Spacing = &spacing.Estimate{Value: value, Budget: reliefLines(r, u, print, m).Sorted()}
	m.DepthContrast = &Quantity{m.Right.Depth - m.Left.Depth, math.Hypot(m.Left.DepthU, m.Right.DepthU)}
	for _, v := range all {
		m.Parts = append(m.Parts, partOfRelief(v, from, r))
	}
	for _, v := range from {
		v.warnPrint(print, s)
	}
	m.warnAsAll(from)
	m.finish()
	m.judgeRelief(u)
	m.judgeLens(from, r.Adjusted.Stretch-(print.ScaleX/print.ScaleY-1))
	return m, true, nil
}

// leaveDotted takes the photos of dotted pads out of what follows, where their dots gave no surface, and says
// why.
func leaveDotted(all []*sight, because error) {
	dotted := slices.DeleteFunc(slices.Clone(all), func(v *sight) bool { return !v.dotted() })
	reason := codes.UnmatchedDots.With()
	switch {
	case len(dotted) == 1:
		reason = codes.OnePhotoOfDots.With()
	case errors.Is(because, geometry.ErrOnePlace):
		reason = codes.OnePlace.With(geometry.LeastAngle)
	case errors.Is(because, surface.ErrNoTwo):
		reason = codes.NoDent.With()
	}
	for _, v := range dotted {
		v.m.Reasons, v.read, v.leftOut = nil, false, true
		v.m.refuse(reason)
	}
}

// partOfRelief is one photo's share: how many of the points it shows, or why it was left out.
func partOfRelief(v *sight, from []*sight, r *geometry.Relief) Part {
	p := Part{Measurement: v.m}
	for k, w := range from {
		if w == v {
			p.Used, p.Points = true, r.Shown[k]
		}
	}
	switch {
	case p.Used:
	case v.again, v.m.Plane == nil || v.m.Plane.Camera == nil:
		p.Why = whyNot(v, from)
	case v.m.Medium == calibration.Paper:
		p.Why = codes.OtherMedium.With()
	default:
		p.Why = codes.OtherDots.With()
	}
	return p
}

// surfaceBottom is one of the two deepest points of the surface, drawn on the sight's photo.
func (v *sight) surfaceBottom(
	b surface.Bottom,
	cov [2][2]float64,
	print calibration.Print,
	pad calibration.Pad,
	r *Relief,
) *Depression {
	at := homography.PlanePoint{X: b.X, Y: b.Y}
	seen, err := spacing.SeenAt(v.m.Plane.Camera, at, b.Z)
	if err != nil {
		seen = at // a depth that no camera above the pad has; Reconstruct gives none
	}
	u := r.Grid.UAt(b.X, b.Y)
	return &Depression{Pixel: v.m.Plane.Fit.ImageFromPlane(seen), Oblong: 1, Bottom: spacing.Bottom{
		Point: homography.PlanePoint(
			print.True(nominal(at)),
		), OnPlane: seen, Covariance: homography.Covariance2(cov),
		Depth: b.Z - pad.CardThickness, DepthU: math.Hypot(u, pad.CardThicknessU),
		DepthBasis: codes.SurfaceOf.With(r.Points, r.Photos),
	}}
}

// reliefLines are the budget: what the surface leaves open on either side, what the cameras and the frame do
// to both, and the print. Where drawing all at once gives more than the lines together, the sides' lines
// carry the rest.
func reliefLines(
	r *geometry.Relief,
	u geometry.Uncertainty,
	print calibration.Print,
	m *Measurement,
) spacing.Budget {
	l, q := u.LeftAlong, u.RightAlong
	if rest := u.Whole*u.Whole - u.Cameras*u.Cameras - l*l - q*q; rest > 0 {
		grow := math.Sqrt(1 + rest/(l*l+q*q))
		l, q = l*grow, q*grow
	}
	from := codes.SurfaceOf.With(r.Points, m.Relief.Photos)
	return spacing.Budget{
		spacing.Of(codes.LeftCentre, l, 1, from), spacing.Of(codes.RightCentre, q, 1, from),
		spacing.Of(codes.CamerasAndFrame, u.Cameras, 1, codes.Adjustment.With(m.Relief.Photos)),
		spacing.PrintLine(
			print,
			homography.PlanePoint{X: m.Relief.Deepest[0][0], Y: m.Relief.Deepest[0][1]},
			homography.PlanePoint{X: m.Relief.Deepest[1][0], Y: m.Relief.Deepest[1][1]},
		),
	}
}

// judgeRelief sends to review what the points do not pin down.
func (m *Measurement) judgeRelief(u geometry.Uncertainty) {
	r := m.Relief
	for side := range 2 {
		near, around := judge.LeastNear.Value, judge.LeastAround.Value
		if float64(r.Near[side]) < near || float64(r.Around[side]) < around {
			m.Review(codes.FewPoints.With(r.Near[side], r.Around[side], near, around))
		}
		if u.Open[side] > judge.MostOpen.Value {
			m.Review(codes.FlatBottomSeen.With())
		}
	}
}

// judgeLens says of a lens that bends lines more than a phone's own, and sends to review what no lens of the
// adjustment's kind explains. The frame looks that much wider against its height than its print is.
func (m *Measurement) judgeLens(from []*sight, wider float64) {
	unusual := 0
	for _, v := range from {
		if v.m.Plane.Fit.Lens.Unusual {
			unusual++
		}
	}
	switch {
	case m.Relief.MarkFactor > judge.MostMarkFactor.Value:
		m.Review(codes.LensBeyond.With(m.Relief.MarkFactor, judge.MostMarkFactor.Value))
	case math.Abs(wider) > judge.MostStretch.Value:
		m.Review(codes.LensSqueezes.With(100*wider, 100*judge.MostStretch.Value))
	case 2*unusual > len(from):
		m.Warn(codes.LensUnusual.With())
	}
}

// compareWithNet notes what the net reads of the same photos, each by itself and solved as one.
func (m *Measurement) compareWithNet(all []*sight, s Settings) {
	if m == nil {
		return
	}
	apart := func(used []*sight) ([]*sight, error) { return used, nil }
	net, err := combine(all, s, apart)
	if err != nil || net.Spacing == nil || net.Status != Measured {
		return
	}
	own, _ := m.Expanded()
	other, _ := net.Expanded()
	m.Net = &Quantity{net.Spacing.Value, net.Spacing.Budget.Combined()}
	m.NormalisedError = math.Abs(m.Spacing.Value-net.Spacing.Value) / math.Hypot(own, other)
	if m.NormalisedError > 1 {
		m.Warn(codes.NetDiffers.With(net.Spacing.Value, m.NormalisedError))
	}
}

// dotted tells a photo of a pad with dots, which only a second photo can read.
func (v *sight) dotted() bool {
	if v.m.Medium != calibration.Foam || v.m.Plane == nil || v.m.Plane.Camera == nil ||
		len(v.window.Light) != relief.Cells {
		return false
	}
	var off []float64
	at := func(j, i int) float64 { return math.Log(v.window.Light[j*relief.Columns+i] + 1e-3) }
	for j := 2; j < relief.Rows-2; j++ {
		for i := 2; i < relief.Columns-2; i++ {
			if d := at(j, i) - (at(j-2, i)+at(j+2, i)+at(j, i-2)+at(j, i+2))/4; !math.IsNaN(d) {
				off = append(off, math.Abs(d))
			}
		}
	}
	if len(off) < relief.Cells/2 {
		return false
	}
	slices.Sort(off)
	if off[3*len(off)/4] < judge.Speckled.Value {
		return false
	}
	p, ok := v.geometryPhoto()
	return ok && len(p.Dots) >= geometry.LeastPoints
}

// askForAnother sends a single photo of a dotted pad to review, whatever the net made of the dots: a second
// photo from the side is what it takes.
func (v *sight) askForAnother() {
	if !v.dotted() {
		return
	}
	r := codes.OnePhotoOfDots.With()
	v.m.Reasons = nil // what the net says of dots says nothing of dents
	if v.m.Status == Refused || v.m.Spacing == nil {
		v.m.refuse(r)
		return
	}
	v.m.Review(r)
}

// tellAlone says of the photos that a surface rests on what each would be worth by itself: one of dots asks
// for another, and one that no net was asked about says so.
func (o surfaceSeen) tellAlone() {
	for _, v := range o.from {
		v.askForAnother()
		if v.m.Spacing == nil && v.m.Status != Refused {
			v.m.refuse(codes.NotRead.With())
		}
	}
}
