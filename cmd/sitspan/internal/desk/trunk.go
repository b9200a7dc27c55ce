package desk

import (
	"errors"
	"math"
)

// sidePhoto is what was clicked on a photo of the rider on the bike, from the
// side, in px, y down.
type sidePhoto struct {
	Rear, Front [2]float64 // the wheels' axles: the level line
	Hip         [2]float64 // greater trochanter
	Shoulder    [2]float64 // acromion
}

// What is assumed of a side photo (no source): how exactly joints are found
// under clothing and axles clicked, what a wheelbase is, how far the camera was
// from square to the bike, and how steadily a rider sits.
const (
	wheelbaseMM = 1010.0 // between the axles; bicycles lie within some 5 %
	jointU      = 20.0   // mm, standard uncertainty of hip and shoulder
	axleU       = 5.0    // mm
	squareHalf  = 15.0   // deg, half-width of the camera's turn, rectangular
	steadyU     = 1.5    // deg, between one minute and the next
)

// What may be wrong with the four points. The page says it in its language.
var (
	errTrunkNear     = errors.New("trunk.near")
	errTrunkBackward = errors.New("trunk.backward")
)

// trunk is the trunk's angle above the horizontal in degrees, with its standard
// uncertainty: the line from hip to shoulder against the line of the axles,
// which is level where the wheels are of one size.
func (s sidePhoto) trunk() (deg, u float64, err error) {
	base := math.Hypot(s.Front[0]-s.Rear[0], s.Front[1]-s.Rear[1])
	length := math.Hypot(s.Shoulder[0]-s.Hip[0], s.Shoulder[1]-s.Hip[1])
	if !(base > 50) || !(length > 20) || math.IsInf(base+length, 0) {
		return 0, 0, errTrunkNear
	}
	forward := math.Copysign(1, s.Front[0]-s.Rear[0]) // the rider looks this way
	level := math.Atan2(-(s.Front[1] - s.Rear[1]), forward*(s.Front[0]-s.Rear[0]))
	deg = (math.Atan2(-(s.Shoulder[1]-s.Hip[1]), forward*(s.Shoulder[0]-s.Hip[0])) - level) * 180 / math.Pi
	if deg < -20 || deg > 120 {
		return 0, 0, errTrunkBackward
	}
	perPx := wheelbaseMM / base
	joints := math.Sqrt2 * jointU / (length * perPx)
	axles := math.Sqrt2 * axleU / wheelbaseMM
	// A camera turned by b shortens what is level to cos b: tan(angle) grows by
	// 1 / cos b, so the angle by sin(2 angle) / 2 (1 / cos b - 1).
	b := squareHalf * math.Pi / 180
	square := math.Abs(math.Sin(2*deg*math.Pi/180)) / 2 * (1/math.Cos(b) - 1) / math.Sqrt(3)
	rad := math.Sqrt(joints*joints + axles*axles + square*square)
	return deg, math.Hypot(rad*180/math.Pi, steadyU), nil
}
