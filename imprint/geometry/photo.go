package geometry

import (
	"sitspan/imprint/geometry/bundle"
	"sitspan/imprint/geometry/dots"
	"sitspan/imprint/geometry/raster"
)

// Corner is a corner of one of the frame's marks as a photo shows it.
type Corner struct {
	Mark, Index int     // the mark's number, and which of its four corners
	X, Y        float64 // on the frame, mm
	At          dots.Pixel
	U           float64 // standard uncertainty of either coordinate, px
}

// Photo is what one photo shows.
type Photo struct {
	Width, Height int // px
	// a first idea of the pose, from the frame alone: frame's axes to camera's, row by row
	Rotation      [9]float64
	Position      bundle.Vec // of the camera, mm, z negative
	Focal, FocalU float64    // px; relative
	PrincipalU    float64    // of the principal point about the middle, in half diagonals; 0: as a phone's
	Lens          string     // photos that name the same lens share one; "" shares with none
	Corners       []Corner
	Dots          []dots.Dot
	Raster        *raster.Raster // of the window, for what else the pad shows; may be nil
}

// sightline is where a dot's line of sight runs: at depth z it passes through at + z slope, mm (equation
// (1)).
type sightline struct {
	at, slope [2]float64
	radius    float64 // of the dot as seen on the frame's plane, mm
	contrast  float64
}

func (p Photo) sightlines() (lines []sightline) {
	h := -p.Position[2]
	for _, d := range p.Dots {
		lines = append(lines, sightline{
			at:     [2]float64{d.Point.X, d.Point.Y},
			slope:  [2]float64{(d.Point.X - p.Position[0]) / h, (d.Point.Y - p.Position[1]) / h},
			radius: d.RadiusMM, contrast: d.Contrast,
		})
	}
	return lines
}
