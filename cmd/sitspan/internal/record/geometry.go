package record

// Geometry is what a reviewer's measurement needs of the picture: how its
// pixels lie on the frame's plane, where the camera stood, and how deep the
// dents are taken to be. With it a centre can be moved years later, without the
// photo.
type Geometry struct {
	// ImageFromPlane is the homography from mm of the frame's plane to px of the
	// upright picture, row by row. Over the window it leaves the lens's bending
	// out by less than a pixel; a move is reckoned from the centre that was
	// measured, where that cancels.
	ImageFromPlane [9]float64 `json:"image_from_plane"`
	// x, y under the camera, and its height; absent for a scan
	Camera  *[3]float64 `json:"camera_mm,omitempty"`
	CameraU *[3]float64 `json:"camera_u_mm,omitempty"`
	// xx, xy, xz, yy, yz, zz; CameraU alone in schema 1
	CameraCov   *[6]float64 `json:"camera_cov_mm2,omitempty"`
	PrintScale  [2]float64  `json:"print_scale"`
	PrintScaleU float64     `json:"print_scale_u"`
	PrintU      *[2]float64 `json:"print_u,omitempty"` // of either scale
	// PrintCorrelation is that of the two scales' errors.
	PrintCorrelation float64     `json:"print_correlation,omitempty"`
	CardMM           float64     `json:"card_mm"` // of the frame's plane above the pad
	CardU            float64     `json:"card_u_mm,omitempty"`
	DepthMM          float64     `json:"depth_mm"`                // where no dent was found; 0 on paper
	DepthU           float64     `json:"depth_u_mm"`              // common to both sides
	DepthsMM         *[2]float64 `json:"depths_mm,omitempty"`     // left, right, where no dent was found
	DepthCov         *[3]float64 `json:"depth_cov_mm2,omitempty"` // left, both, right

	Hand *HandScale `json:"hand,omitempty"` // where a person set the scale
}

// HandScale is a scale that a person set: points of the upright picture in px,
// and what they mean.
type HandScale struct {
	// "rule": two points MM apart; "card": four corners of ISO/IEC 7810 ID-1
	Source string       `json:"source"`
	Points [][2]float64 `json:"points_px"` // as they were set
	MM     float64      `json:"mm"`        // between two points; the long side of a card
}
