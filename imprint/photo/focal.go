package photo

import (
	"math"
	"slices"
	"strings"
)

// FocalDoubt is a reason why Focal35 may not describe this picture. The pixel
// focal length follows from Focal35 and the picture's diagonal, so whatever
// changed the diagonal's share of the lens's image breaks it.
type FocalDoubt string

const (
	// FocalMissing: no 35 mm focal length is stated; messengers strip it.
	FocalMissing FocalDoubt = "focal_missing"
	// FocalCropped: EXIF's pixel dimensions have another shape than the picture.
	FocalCropped FocalDoubt = "cropped"
	// FocalResaved: they have the same shape but another size, so the picture was
	// reduced (harmless) or cropped to its own shape: it cannot be told.
	FocalResaved FocalDoubt = "resaved"
	// FocalUnchecked: the file does not say how many pixels the camera wrote, so
	// nothing tells that the picture is whole.
	FocalUnchecked FocalDoubt = "unchecked"
	// FocalOddShape: the sides are not as 4:3 or 3:2, the shapes of sensors, so
	// the picture is a part of what the lens threw. (A 16:9 picture cut from a
	// 4:3 sensor has a diagonal 8 % shorter.)
	FocalOddShape FocalDoubt = "odd_shape"
	// FocalNoCamera: the sides are as no camera writes pictures (4:3, 3:2, 16:9,
	// 1:1, or a phone's whole screen, 18:9 to 20:9): the picture was cropped by
	// hand, wherever its middle may be.
	FocalNoCamera FocalDoubt = "no_camera_shape"
	// FocalZoomed: a digital zoom was on; makers differ in whether the stated
	// focal length includes it.
	FocalZoomed FocalDoubt = "digital_zoom"
)

var doubtText = map[FocalDoubt]string{
	FocalMissing:   "the file states no 35 mm focal length",
	FocalCropped:   "the picture was cropped after it was taken",
	FocalResaved:   "the picture was reduced or cropped after it was taken",
	FocalUnchecked: "the file does not say how large the picture was when it was taken",
	FocalOddShape:  "the picture's shape is not a sensor's (4:3 or 3:2)",
	FocalNoCamera:  "the picture's shape is no camera's",
	FocalZoomed:    "a digital zoom was on",
}

// String says the doubt in a few words.
func (d FocalDoubt) String() string { return doubtText[d] }

// zoomTolerance: phones write ratios such as 1.0005 without any zoom; 1 % is
// within the 4 % that the stated focal length has anyway.
const zoomTolerance = 1.01

// focalDoubts judges the stated focal length for an upright picture of
// w x h px.
func focalDoubts(e exif, w, h int) []FocalDoubt {
	if e.focal35 == 0 {
		return []FocalDoubt{FocalMissing}
	}
	var doubts []FocalDoubt
	if d := compareShape(e, w, h); d != "" {
		doubts = append(doubts, d)
	}
	switch {
	case sensorShape(w, h):
	case cameraShape(w, h):
		doubts = append(doubts, FocalOddShape)
	default:
		doubts = append(doubts, FocalNoCamera)
	}
	if e.zoom > zoomTolerance {
		doubts = append(doubts, FocalZoomed)
	}
	return doubts
}

// compareShape compares the picture with EXIF's PixelXDimension and
// PixelYDimension, the longer side with the longer, since programs that turn a
// picture may or may not turn these. Reducing rounds each side by up to 1 px,
// which moves the cross product by up to the sum of the other sides.
func compareShape(e exif, w, h int) FocalDoubt {
	if e.width <= 0 || e.height <= 0 {
		return FocalUnchecked
	}
	long, short := float64(max(w, h)), float64(min(w, h))
	wasLong, wasShort := max(e.width, e.height), min(e.width, e.height)
	switch {
	case long == wasLong && short == wasShort:
		return ""
	case math.Abs(long*wasShort-short*wasLong) > wasLong+wasShort:
		return FocalCropped
	}
	return FocalResaved
}

// sensorShape is true for sides as 4:3 or 3:2, within 1 %: sensors have a few
// more or fewer pixels (common practice, no source).
func sensorShape(w, h int) bool { return shaped(w, h, 4./3, 3./2) }

// cameraShape is true for the other shapes that phones offer (common practice,
// no source). They are cut about the middle of what the lens threw.
func cameraShape(w, h int) bool {
	return shaped(w, h, 1, 16./9, 18./9, 18.5/9, 19./9, 19.5/9, 20./9)
}

func shaped(w, h int, ratios ...float64) bool {
	ratio := float64(max(w, h)) / float64(min(w, h))
	return slices.ContainsFunc(ratios, func(r float64) bool { return math.Abs(ratio/r-1) < 0.01 })
}

// Cropped tells that a part was cut from the picture by hand, so that the lens
// looked straight at another place than its middle.
func (p *Photo) Cropped() bool {
	return slices.ContainsFunc(p.FocalDoubts, func(d FocalDoubt) bool {
		return d == FocalCropped || d == FocalNoCamera
	})
}

// FocalBasis says in one line what Focal35 rests on.
func (p *Photo) FocalBasis() string {
	var doubts []string
	for _, d := range p.FocalDoubts {
		doubts = append(doubts, d.String())
	}
	said := strings.Join(doubts, ", ")
	switch {
	case p.Focal35 == 0:
		return said
	case said == "":
		return "EXIF FocalLengthIn35mmFilm"
	}
	return "EXIF FocalLengthIn35mmFilm: " + said
}
