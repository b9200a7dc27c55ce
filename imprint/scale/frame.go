package scale

import (
	"image"
	"math"
	"slices"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/internal/cv"
	"sitspan/imprint/internal/rank"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/spacing"
)

// Mark is a coded mark as found: its corners in pixels of the upright picture, in the mark's own order.
type Mark struct {
	ID      int
	Corners [4]homography.Pixel
	U       [4]float64 // standard uncertainty of either coordinate of each, px
}

// Frame is the frame's plane in the picture, and where the camera stood.
type Frame struct {
	Fit    *homography.PlaneFit
	Camera *homography.Camera // nil for a flat scan
	Marks  []Mark             // all that were found
	BlurPx float64
	Flat   homography.Flatness
	Used   int // marks that the fit rests on
}

// FindFrame finds the frame in the picture and judges it, and tells how many marks were found. It returns nil
// with the picture refused where there is none; a frame that is only in doubt is returned, with the picture
// sent to review.
func FindFrame(v *judge.Verdict, p *photo.Photo, grey *image.Gray) (frame *Frame, found int) {
	marks, seen, err := cv.FindMarks(grey)
	if n := mirroredMarks(grey, marks, seen); n > 0 {
		v.Refuse(codes.Mirrored.With(n))
		return nil, 0
	}
	if err != nil || len(marks) == 0 || isClutter(marks, p) {
		refuseFrame(v, seen)
		return nil, 0
	}
	blur, module := sharpness(marks)
	if blur > judge.Blur.Value*module {
		v.Refuse(codes.Blurred.With(blur, blur/module, judge.Blur.Value))
		return nil, len(marks)
	}
	if len(marks) < int(judge.LeastMarks.Value) {
		v.Refuse(orBlur(codes.FewMarks.With(len(marks), judge.WantedMarks.Value), blur, module))
		return nil, len(marks)
	}
	frame = &Frame{BlurPx: blur}
	for _, k := range marks {
		frame.Marks = append(frame.Marks, Mark{k.ID, k.Corners, k.U})
	}
	scan := isScan(p)
	options := homography.ForPhoto(p.Width, p.Height)
	if p.Cropped() {
		options.Lens.UPrincipal = CroppedPrincipalU
	}
	if scan {
		options = homography.ForScan(p.Width, p.Height)
	}
	if frame.Fit, err = homography.Fit(correspondences(marks), options); err != nil {
		v.Refuse(codes.MarksOffPlane.With(len(marks), judge.WantedMarks.Value, err.Error()))
		return nil, len(marks)
	}
	frame.Used = len(marks) - len(frame.Fit.Outliers)
	if !scan {
		frame.place(v, p)
	}
	frame.judge(v, marks, p)
	return frame, frame.Used
}

// mirroredMarks is how many marks a picture's mirror image holds, where the picture itself holds fewer than a
// plane needs, and enough that look like marks; else 0. The mirror image is searched only where two marks
// were read as a mirror shows them: with fewer none could be believed there.
func mirroredMarks(grey *image.Gray, found []cv.Mark, seen cv.Diagnostics) int {
	least := int(judge.LeastMarks.Value)
	if len(found) >= least || seen.Undecoded < least || seen.Mirrored < 2 {
		return 0
	}
	b := grey.Bounds()
	flipped := image.NewGray(image.Rect(0, 0, b.Dx(), b.Dy()))
	for y := range b.Dy() {
		row := grey.Pix[y*grey.Stride : y*grey.Stride+b.Dx()]
		copy(flipped.Pix[y*flipped.Stride:], row)
		slices.Reverse(flipped.Pix[y*flipped.Stride : y*flipped.Stride+b.Dx()])
	}
	marks, _, err := cv.FindMarks(flipped)
	if err != nil || len(marks) < least || len(marks) <= len(found) {
		return 0
	}
	return len(marks)
}

// refuseFrame says why no frame was found. no_frame means that none is there, so that another scale may be
// looked for; a frame that is there and cannot be read is refused for it, and never passed over for another
// scale.
func refuseFrame(v *judge.Verdict, seen cv.Diagnostics) {
	switch {
	case seen.Blur > 4 && seen.Alike >= int(judge.LeastAlike.Value):
		v.Refuse(codes.BlurredSquares.With(seen.Alike))
	case seen.Unrefined >= 2:
		v.Refuse(codes.FewMarksSoft.With(0, judge.WantedMarks.Value, seen.Unrefined))
	default:
		v.Refuse(noFrame(seen.Undecoded))
	}
}

// isClutter tells a lone mark that something else in a scan looks like. Marks are believed that agree in
// place (FindMarks reports no others where there are two or more), or a lone one whose modules are all right:
// of clutter one square in a million is (12 marks x 4 turns / 2^25). With a module put right it is one in
// 40,000, and then the scan's stated resolution has to confirm the mark's size: 20 mm within a quarter, for a
// print that was fitted to its page.
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
	return rank.Median(b), rank.Median(s)
}

// leastCornerU is the standard uncertainty in px that a corner has at the least: whole grey levels move an
// edge of one pixel between black and white by 1/(255 sqrt(12)), and a JPEG's rounding is several levels. A
// drawn picture's straight edges claim less, down to nothing, which no fit can weigh.
const leastCornerU = 0.005

func correspondences(marks []cv.Mark) (c []homography.Correspondence) {
	for _, k := range marks {
		for i, q := range calibration.ControlFrame.Marks[k.ID].Corners() {
			c = append(
				c,
				homography.Correspondence{
					Pixel: k.Corners[i],
					Plane: homography.PlanePoint(q),
					Group: k.ID,
					U:     math.Max(leastCornerU, k.U[i]),
				},
			)
		}
	}
	return c
}

// CroppedPrincipalU is the standard uncertainty of the principal point about the middle of a picture that was
// cropped by hand, in half diagonals: a fifth of its width cut off at one side moves the middle by 0.16 (an
// assumption about what people cut off; docs/evidence.md, Guards and refusals).
const CroppedPrincipalU = 0.2

// place finds the camera, from the focal length that the file states or, without one, from what most phones
// have.
func (f *Frame) place(v *judge.Verdict, p *photo.Photo) {
	focal, known := FocalOf(p)
	if !known {
		v.Warn(codes.FocalUnknown.With(p.FocalBasis()))
	}
	camera, err := f.camera(p, focal, known)
	if err != nil {
		v.Refuse(codes.MarksPlaceless.With(f.Used, judge.WantedMarks.Value, err.Error()))
		return
	}
	f.Camera = camera
	f.Flat = f.Fit.Flatness(camera)
	if known && unchecked(p) && !f.FocalConfirmed() {
		v.Warn(codes.FocalUnchecked.With(p.Focal35))
	}
	if camera.FocalVerdict == homography.FocalInDoubt {
		v.Review(codes.FocalInDoubt.With(camera.FocalError))
	}
}

// confirmedU is the relative standard uncertainty up to which a focal length counts as confirmed by the
// frame's own perspective: some twice what a stated one has.
const confirmedU = 0.1

// FocalConfirmed tells whether the focal length is known well enough, be it by the frame's own perspective.
func (f *Frame) FocalConfirmed() bool { return f.Camera.Focal.U <= confirmedU*f.Camera.Focal.Pixels }

// camera is where the picture was taken from. A focal length that the file does not say, or that nothing in
// it confirms, is weighed among those that it may be. Of a picture cut by hand it is not even known that its
// middle is the lens's.
func (f *Frame) camera(p *photo.Photo, focal homography.Focal, known bool) (*homography.Camera, error) {
	switch {
	case !known:
		return f.Fit.CameraUnstated(p.Width, p.Height)
	case unchecked(p) && !p.Cropped():
		return f.Fit.CameraUnchecked(focal, p.Focal35)
	}
	return f.Fit.CameraFrom(focal)
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
func (f *Frame) judge(v *judge.Verdict, marks []cv.Mark, p *photo.Photo) {
	blur, module := sharpness(marks)
	if side, where := missingSide(marks); side != nil && f.beyond(where, p) {
		v.Review(codes.FewMarksBeyond.With(f.Used, judge.WantedMarks.Value, side.With()))
	} else if side != nil {
		v.Review(orBlur(codes.FewMarksSide.With(f.Used, judge.WantedMarks.Value, side.With()), blur, module))
	} else if f.Used < int(judge.WantedMarks.Value) {
		v.Review(orBlur(codes.FewMarks.With(f.Used, judge.WantedMarks.Value), blur, module))
	}
	w := f.Fit.Withheld
	if w.Worst > judge.BentFrame.Value {
		v.Review(orBlur(codes.BentFrame.With(w.WorstMark, w.Worst), blur, module))
	} else if f.Flat.Known && f.Flat.U > judge.Buckle.Value {
		v.Review(orBlur(codes.BentFrame.With(w.WorstMark, f.Flat.U), blur, module))
	}
}

// Misfits are the middles of the marks that do not fit the others, px.
func (f *Frame) Misfits() (at []homography.Pixel) {
	for _, id := range f.Fit.Outliers {
		for _, k := range f.Marks {
			if k.ID == id {
				at = append(at, centre(k.Corners))
			}
		}
	}
	return at
}

// beyond says whether a place of the frame, in nominal mm, lies outside the picture, as the marks that
// were found see it.
func (f *Frame) beyond(at calibration.Point, p *photo.Photo) bool {
	px := f.Fit.ImageFromPlane(homography.PlanePoint(at))
	return px.X < 0 || px.Y < 0 || px.X > float64(p.Width-1) || px.Y > float64(p.Height-1)
}

// missingSide names a side of the frame on which fewer than two marks were found, and its middle in nominal
// mm; nil: there is none.
func missingSide(marks []cv.Mark) (*codes.Entry, calibration.Point) {
	var left, right, front, back int
	outer, window := calibration.ControlFrame.Outer, calibration.ControlFrame.Window
	x, y := (outer.Width+window.Width)/4, (outer.Height+window.Height)/4 // the middle of the rim
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
		at   calibration.Point
	}{
		{left, codes.LeftSide, calibration.Point{X: -x}},
		{right, codes.RightSide, calibration.Point{X: x}},
		{front, codes.FrontSide, calibration.Point{Y: -y}},
		{back, codes.BackSide, calibration.Point{Y: y}},
	} {
		if s.n < 2 {
			return s.name, s.at
		}
	}
	return nil, calibration.Point{}
}

func centre(q [4]homography.Pixel) (c homography.Pixel) {
	for _, p := range q {
		c.X += p.X / 4
		c.Y += p.Y / 4
	}
	return c
}

func noFrame(undecoded int) codes.Said {
	switch {
	case undecoded == 1:
		return codes.NoFrameOne.With()
	case undecoded > 1:
		return codes.NoFrameSeveral.With(undecoded)
	}
	return codes.NoFrame.With()
}

// orBlur is a reason against a frame, or blur where the marks are blurred enough to be why.
func orBlur(r codes.Said, blur, module float64) codes.Said {
	if blur <= judge.BlurToBlame.Value*module {
		return r
	}
	return codes.BlurToBlame.With(blur, blur/module, r)
}

// Lines are the budget lines of the frame's fit, for the distance between what two pixels show: its corners,
// the lens, and how flat the frame is.
func (f *Frame) Lines(left, right homography.Pixel, _, magnification float64) (lines spacing.Budget) {
	s, err := f.Fit.SpacingUncertainty(left, right)
	if err != nil {
		return nil
	}
	lines = append(
		lines,
		spacing.Of(
			codes.MarkCorners,
			s.Corners,
			magnification,
			codes.FrameFit.With(f.Used),
		).WithDoF(
			f.Fit.DegreesOfFreedom,
		),
		spacing.Of(codes.Lens, s.Lens, magnification, codes.LensOfMarks.With()),
	)
	if c := f.Camera; c != nil {
		u, basis := f.Flat.U, codes.OffPlane
		if !f.Flat.Known {
			u, basis = flatnessU, codes.FlatAssumed
		}
		lines = append(lines, spacing.Of(codes.FrameFlatness, u, s.Millimetres/c.Height, basis.With()))
	}
	return lines
}

// flatnessU is the standard uncertainty in mm of the frame's height where too few marks tell it (assumed).
const flatnessU = 0.3
