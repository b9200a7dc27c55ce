package spacing

import (
	"errors"
	"fmt"
	"math"

	"sitspan/imprint/homography"
)

// ErrBadDepth says that a depth is not a number or lies at or above the camera.
var ErrBadDepth = errors.New("depth out of range")

// Gain is what a length on the plane grows to that far below it: (H + d)/H, of equation (1).
func Gain(height, depth float64) float64 { return (height + depth) / height }

// Shrink is what a length that far below the plane is seen as on it: H/(H + d).
func Shrink(height, depth float64) float64 { return height / (height + depth) }

// ParallaxSensitivity holds the derivatives of the corrected point, mm/mm.
type ParallaxSensitivity struct {
	ByPoint    float64               // of either coordinate by the same one of the point seen
	ByPosition float64               // of either coordinate by the same one of the camera
	ByHeight   homography.PlanePoint // by the camera's height
	ByDepth    homography.PlanePoint // by the depth
}

// Parallax returns the point, in mm, straight above the bottom of a dent that
// lies depth mm below the frame's plane and is seen at the point seen of the
// plane. It is equation (1):
//
//	X = C + (X' - C) (H + d) / H
//
// with X' the point seen, C the point under the camera, H its height, d the
// depth: the camera, X' and the bottom lie on one line.
func Parallax(
	camera *homography.Camera,
	seen homography.PlanePoint,
	depth float64,
) (homography.PlanePoint, ParallaxSensitivity, error) {
	h := camera.Height
	if !(h > 0) || !(depth > -h) || math.IsInf(depth, 1) {
		return homography.PlanePoint{}, ParallaxSensitivity{}, fmt.Errorf(
			"%w: %v mm below the plane, with the camera %v mm above",
			ErrBadDepth,
			depth,
			h,
		)
	}
	dx, dy := seen.X-camera.Position.X, seen.Y-camera.Position.Y
	gain := Gain(h, depth)
	return homography.PlanePoint{X: camera.Position.X + dx*gain, Y: camera.Position.Y + dy*gain},
		ParallaxSensitivity{
			ByPoint:    gain,
			ByPosition: -depth / h,
			ByHeight:   homography.PlanePoint{X: -dx * depth / (h * h), Y: -dy * depth / (h * h)},
			ByDepth:    homography.PlanePoint{X: dx / h, Y: dy / h},
		}, nil
}

// SeenAt inverts [Parallax]: where on the plane a point depth mm below it, at
// x and y, is seen.
func SeenAt(
	camera *homography.Camera,
	at homography.PlanePoint,
	depth float64,
) (homography.PlanePoint, error) {
	h := camera.Height
	if !(h > 0) || !(depth > -h) || math.IsInf(depth, 1) {
		return homography.PlanePoint{}, fmt.Errorf(
			"%w: %v mm below the plane, with the camera %v mm above",
			ErrBadDepth,
			depth,
			h,
		)
	}
	shrink := Shrink(h, depth)
	return homography.PlanePoint{
		X: camera.Position.X + (at.X-camera.Position.X)*shrink,
		Y: camera.Position.Y + (at.Y-camera.Position.Y)*shrink,
	}, nil
}

// Below is the distance between two points below the plane, corrected
// for parallax, with its sensitivities in mm/mm: one per influence, so that
// each becomes a line of the budget.
type Below struct {
	Millimetres     float64
	Left, Right     homography.PlanePoint // the points themselves
	ByLeft, ByRight homography.PlanePoint // by the points seen on the plane
	ByDepthLeft     float64
	ByDepthRight    float64
	ByPosition      homography.PlanePoint // by the point under the camera
	ByHeight        float64
	camera          *homography.Camera
}

// Corrected corrects both points for parallax and returns the distance
// between them in the plane's direction.
func Corrected(
	camera *homography.Camera,
	left, right homography.PlanePoint,
	depthLeft, depthRight float64,
) (Below, error) {
	l, sl, err := Parallax(camera, left, depthLeft)
	if err != nil {
		return Below{}, err
	}
	r, sr, err := Parallax(camera, right, depthRight)
	if err != nil {
		return Below{}, err
	}
	s := Below{Millimetres: l.Distance(r), Left: l, Right: r, camera: camera}
	if s.Millimetres == 0 {
		return s, fmt.Errorf("spacing: both points lie at (%.1f, %.1f) mm", l.X, l.Y)
	}
	ex, ey := (r.X-l.X)/s.Millimetres, (r.Y-l.Y)/s.Millimetres
	s.ByLeft = homography.PlanePoint{X: -ex * sl.ByPoint, Y: -ey * sl.ByPoint}
	s.ByRight = homography.PlanePoint{X: ex * sr.ByPoint, Y: ey * sr.ByPoint}
	s.ByDepthLeft = -(ex*sl.ByDepth.X + ey*sl.ByDepth.Y)
	s.ByDepthRight = ex*sr.ByDepth.X + ey*sr.ByDepth.Y
	turn := sr.ByPosition - sl.ByPosition
	s.ByPosition = homography.PlanePoint{X: ex * turn, Y: ey * turn}
	s.ByHeight = ex*(sr.ByHeight.X-sl.ByHeight.X) + ey*(sr.ByHeight.Y-sl.ByHeight.Y)
	return s, nil
}

// UCamera is the standard uncertainty in mm that the camera's position gives
// the spacing; both points share it.
func (s Below) UCamera() float64 {
	g := [3]float64{s.ByPosition.X, s.ByPosition.Y, s.ByHeight}
	sum := 0.0
	for i := range g {
		for j := range g {
			sum += g[i] * s.camera.Covariance[i][j] * g[j]
		}
	}
	return math.Sqrt(sum)
}
