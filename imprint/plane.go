package imprint

import (
	"image"
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/internal/cv"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
)

// Mark is a coded mark as found: its corners in pixels of the upright picture, in the mark's own order.
type Mark struct {
	ID      int
	Corners [4]homography.Pixel
	U       [4]float64 // standard uncertainty of either coordinate of each, px
}

// Plane is the frame's plane in the picture, and where the camera stood.
type Plane struct {
	Fit    *homography.PlaneFit
	Camera *homography.Camera // nil for a flat scan
	Marks  []Mark             // all that were found
	BlurPx float64
	Flat   homography.Flatness
}

// findPlane finds the frame in the picture and judges it. It returns nil with the measurement refused where there is none;
// a plane that is only in doubt is returned, with the measurement sent to review.
func findPlane(m *Measurement, p *photo.Photo, grey *image.Gray) *Plane {
	marks, seen, err := cv.FindMarks(grey)
	if err != nil || len(marks) == 0 || isClutter(marks, p) {
		refuseFrame(m, seen)
		return nil
	}
	m.Marks = len(marks)
	blur, module := sharpness(marks)
	if blur > judge.Blur.Value*module {
		m.refuse(codes.Blurred.With(blur, blur/module, judge.Blur.Value))
		return nil
	}
	if len(marks) < int(judge.LeastMarks.Value) {
		m.refuse(orBlur(codes.FewMarks.With(len(marks), judge.WantedMarks.Value), blur, module))
		return nil
	}
	plane := &Plane{BlurPx: blur}
	for _, k := range marks {
		plane.Marks = append(plane.Marks, Mark{k.ID, k.Corners, k.U})
	}
	scan := isScan(p)
	options := homography.ForPhoto(p.Width, p.Height)
	if scan {
		options = homography.ForScan(p.Width, p.Height)
	}
	if plane.Fit, err = homography.Fit(correspondences(marks), options); err != nil {
		m.refuse(codes.MarksOffPlane.With(len(marks), judge.WantedMarks.Value, err.Error()))
		return nil
	}
	m.Marks = len(marks) - len(plane.Fit.Outliers)
	m.ScaleSource = ByFrame
	m.GroundSample = plane.Fit.GroundSample(homography.PlanePoint{})
	if !scan {
		plane.place(m, p)
	}
	plane.judge(m, marks)
	return plane
}

// refuseFrame says why no frame was found. no_frame means that none is there, so that another scale may be looked for; a frame
// that is there and cannot be read is refused for it, and never passed over for another scale.
func refuseFrame(m *Measurement, seen cv.Diagnostics) {
	switch {
	case seen.Blur > 4 && seen.Alike >= int(judge.LeastAlike.Value):
		m.refuse(codes.BlurredSquares.With(seen.Alike))
	case seen.Unrefined >= 2:
		m.refuse(codes.FewMarksSoft.With(0, judge.WantedMarks.Value, seen.Unrefined))
	default:
		m.refuse(noFrame(seen.Undecoded))
	}
}

// isClutter tells a lone mark that something else in a scan looks like. Marks are believed that agree in place (FindMarks
// reports no others where there are two or more), or a lone one whose modules are all right: of clutter one square in a million
// is (12 marks x 4 turns / 2^25). With a module put right it is one in 40,000, and then the scan's stated resolution has to
// confirm the mark's size: 20 mm within a quarter, for a print that was fitted to its page.
func isClutter(marks []cv.Mark, p *photo.Photo) bool {
	if len(marks) != 1 || marks[0].BitsCorrected == 0 || !isScan(p) {
		return false
	}
	size := marks[0].Side() / math.Sqrt(p.Density.X*p.Density.Y) / calibration.MarkSide
	return size < 0.8 || size > 1.25
}

// isScan tells a flatbed scan: it states a resolution that can be believed, and no camera.
func isScan(p *photo.Photo) bool { return p.Density != nil && !p.HasCamera }

// sharpness is the median blur of the marks' edges and the side of a module, px.
func sharpness(marks []cv.Mark) (blur, module float64) {
	var b, s []float64
	for _, k := range marks {
		b = append(b, k.Blur)
		s = append(s, k.Side()/calibration.MarkModules)
	}
	return median(b), median(s)
}

// leastCornerU is the standard uncertainty in px that a corner has at the least: whole grey levels move an edge of one pixel
// between black and white by 1/(255 sqrt(12)), and a JPEG's rounding is several levels. A drawn picture's straight edges claim
// less, down to nothing, which no fit can weigh.
const leastCornerU = 0.005

func correspondences(marks []cv.Mark) (c []homography.Correspondence) {
	for _, k := range marks {
		for i, q := range calibration.ControlFrame.Marks[k.ID].Corners() {
			c = append(c, homography.Correspondence{Pixel: k.Corners[i], Plane: homography.PlanePoint(q), Group: k.ID, U: math.Max(leastCornerU, k.U[i])})
		}
	}
	return c
}

// place finds the camera, from the focal length that the file states or, without one, from what most phones have.
func (pl *Plane) place(m *Measurement, p *photo.Photo) {
	focal, err := homography.FocalFrom35mm(p.Focal35, p.Width, p.Height)
	if err != nil || doubtful(p) {
		focal = homography.FocalUnknown(p.Width, p.Height)
		m.Warn(codes.FocalUnknown.With(p.FocalBasis()))
	}
	camera, err := pl.Fit.CameraFrom(focal)
	if err != nil {
		m.refuse(codes.MarksPlaceless.With(m.Marks, judge.WantedMarks.Value, err.Error()))
		return
	}
	pl.Camera = camera
	pl.Flat = pl.Fit.Flatness(camera)
	if camera.FocalVerdict == homography.FocalInDoubt {
		m.Review(codes.FocalInDoubt.With(camera.FocalError))
	}
}

// doubtful tells whether the stated focal length may not describe this picture.
func doubtful(p *photo.Photo) bool {
	for _, d := range p.FocalDoubts {
		switch d {
		case photo.FocalMissing, photo.FocalCropped, photo.FocalZoomed:
			return true
		}
	}
	return false
}

// judge sends a frame to review that is bent or seen by too few marks.
func (pl *Plane) judge(m *Measurement, marks []cv.Mark) {
	blur, module := sharpness(marks)
	if side := missingSide(marks); side != nil {
		m.Review(orBlur(codes.FewMarksSide.With(m.Marks, judge.WantedMarks.Value, side.With()), blur, module))
	} else if m.Marks < int(judge.WantedMarks.Value) {
		m.Review(orBlur(codes.FewMarks.With(m.Marks, judge.WantedMarks.Value), blur, module))
	}
	w := pl.Fit.Withheld
	if w.Worst > judge.BentFrame.Value {
		m.Review(orBlur(codes.BentFrame.With(w.WorstMark, w.Worst), blur, module))
	} else if pl.Flat.Known && pl.Flat.U > judge.Buckle.Value {
		m.Review(orBlur(codes.BentFrame.With(w.WorstMark, pl.Flat.U), blur, module))
	}
	for _, id := range pl.Fit.Outliers {
		for _, k := range pl.Marks {
			if k.ID == id {
				m.Rejected = append(m.Rejected, Rejected{centre(k.Corners), codes.MarkMisfit.With()})
			}
		}
	}
}

// missingSide names a side of the frame on which fewer than two marks were found; nil: there is none.
func missingSide(marks []cv.Mark) *codes.Entry {
	var left, right, front, back int
	for _, k := range marks {
		c := calibration.ControlFrame.Marks[k.ID].Centre
		if c.X < -50 {
			left++
		} else if c.X > 50 {
			right++
		}
		if c.Y < -50 {
			front++
		} else if c.Y > 50 {
			back++
		}
	}
	for _, s := range []struct {
		n    int
		name *codes.Entry
	}{{left, codes.LeftSide}, {right, codes.RightSide}, {front, codes.FrontSide}, {back, codes.BackSide}} {
		if s.n < 2 {
			return s.name
		}
	}
	return nil
}

func centre(q [4]homography.Pixel) (c homography.Pixel) {
	for _, p := range q {
		c.X += p.X / 4
		c.Y += p.Y / 4
	}
	return c
}

// at is a point of the plane as the print's millimetres make it.
func nominal(p homography.PlanePoint) calibration.Point { return calibration.Point{X: p.X, Y: p.Y} }

func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := sorted(v)
	return s[len(s)/2]
}
