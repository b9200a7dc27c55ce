package homography

import (
	"errors"
	"fmt"
	"math"
)

// ErrBadDepth says that a depth is not a number or lies at or above the camera.
var ErrBadDepth = errors.New("depth out of range")

// ParallaxSensitivity holds the derivatives of the corrected point, mm/mm.
type ParallaxSensitivity struct {
	ByPoint    float64    // of either coordinate by the same one of the point seen
	ByPosition float64    // of either coordinate by the same one of the camera
	ByHeight   PlanePoint // by the camera's height
	ByDepth    PlanePoint // by the depth
}

// Parallax returns the point, in mm, straight above the bottom of a dent that
// lies depth mm below the frame's plane and is seen at the point seen of the
// plane. It is equation (1):
//
//	X = C + (X' - C) (H + d) / H
//
// with X' the point seen, C the point under the camera, H its height, d the
// depth: the camera, X' and the bottom lie on one line.
func Parallax(camera *Camera, seen PlanePoint, depth float64) (PlanePoint, ParallaxSensitivity, error) {
	h := camera.Height
	if !(h > 0) || !(depth > -h) || math.IsInf(depth, 1) {
		return PlanePoint{}, ParallaxSensitivity{}, fmt.Errorf("%w: %v mm below the plane, with the camera %v mm above", ErrBadDepth, depth, h)
	}
	dx, dy := seen.X-camera.Position.X, seen.Y-camera.Position.Y
	gain := (h + depth) / h
	return PlanePoint{camera.Position.X + dx*gain, camera.Position.Y + dy*gain},
		ParallaxSensitivity{
			ByPoint:    gain,
			ByPosition: -depth / h,
			ByHeight:   PlanePoint{-dx * depth / (h * h), -dy * depth / (h * h)},
			ByDepth:    PlanePoint{dx / h, dy / h},
		}, nil
}

// SeenAt inverts [Parallax]: where on the plane a point depth mm below it, at
// x and y, is seen.
func SeenAt(camera *Camera, at PlanePoint, depth float64) (PlanePoint, error) {
	h := camera.Height
	if !(h > 0) || !(depth > -h) || math.IsInf(depth, 1) {
		return PlanePoint{}, fmt.Errorf("%w: %v mm below the plane, with the camera %v mm above", ErrBadDepth, depth, h)
	}
	shrink := h / (h + depth)
	return PlanePoint{
		camera.Position.X + (at.X-camera.Position.X)*shrink,
		camera.Position.Y + (at.Y-camera.Position.Y)*shrink,
	}, nil
}

// SpacingBelow is the distance between two points below the plane, corrected
// for parallax, with its sensitivities in mm/mm: one per influence, so that
// each becomes a line of the budget.
type SpacingBelow struct {
	Millimetres     float64
	Left, Right     PlanePoint // the points themselves
	ByLeft, ByRight PlanePoint // by the points seen on the plane
	ByDepthLeft     float64
	ByDepthRight    float64
	ByPosition      PlanePoint // by the point under the camera
	ByHeight        float64
	camera          *Camera
}

// SpacingCorrected corrects both points for parallax and returns the distance
// between them in the plane's direction.
func SpacingCorrected(camera *Camera, left, right PlanePoint, depthLeft, depthRight float64) (SpacingBelow, error) {
	l, sl, err := Parallax(camera, left, depthLeft)
	if err != nil {
		return SpacingBelow{}, err
	}
	r, sr, err := Parallax(camera, right, depthRight)
	if err != nil {
		return SpacingBelow{}, err
	}
	s := SpacingBelow{Millimetres: l.Distance(r), Left: l, Right: r, camera: camera}
	if s.Millimetres == 0 {
		return s, fmt.Errorf("spacing: both points lie at (%.1f, %.1f) mm", l.X, l.Y)
	}
	ex, ey := (r.X-l.X)/s.Millimetres, (r.Y-l.Y)/s.Millimetres
	s.ByLeft = PlanePoint{-ex * sl.ByPoint, -ey * sl.ByPoint}
	s.ByRight = PlanePoint{ex * sr.ByPoint, ey * sr.ByPoint}
	s.ByDepthLeft = -(ex*sl.ByDepth.X + ey*sl.ByDepth.Y)
	s.ByDepthRight = ex*sr.ByDepth.X + ey*sr.ByDepth.Y
	turn := sr.ByPosition - sl.ByPosition
	s.ByPosition = PlanePoint{ex * turn, ey * turn}
	s.ByHeight = ex*(sr.ByHeight.X-sl.ByHeight.X) + ey*(sr.ByHeight.Y-sl.ByHeight.Y)
	return s, nil
}

// UCamera is the standard uncertainty in mm that the camera's position gives
// the spacing; both points share it.
func (s SpacingBelow) UCamera() float64 {
	g := [3]float64{s.ByPosition.X, s.ByPosition.Y, s.ByHeight}
	sum := 0.0
	for i := range g {
		for j := range g {
			sum += g[i] * s.camera.Covariance[i][j] * g[j]
		}
	}
	return math.Sqrt(sum)
}

// UDepth is the standard uncertainty in mm that the depths give the spacing:
// common is what both share (a gauge's zero, the card's thickness, a profile),
// single what each has for itself.
func (s SpacingBelow) UDepth(common, single float64) float64 {
	shared := (s.ByDepthLeft + s.ByDepthRight) * common
	return math.Sqrt(shared*shared + single*single*(s.ByDepthLeft*s.ByDepthLeft+s.ByDepthRight*s.ByDepthRight))
}
