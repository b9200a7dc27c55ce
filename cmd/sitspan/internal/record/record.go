// Package record keeps one measurement as versioned JSON, so that it can be explained, compared and printed
// years later.
//
// The package's opinion: a record is what was seen and decided, never edited in place. A reviewer's
// correction is another Measurement with the reviewer named, beside the automatic one. Records name no
// person: an alias at the most.
//
// What it holds are plain numbers with their units in the field names (mm, px, deg). What a measurement says
// stands as codes with parameters (package codes); the English sentences beside them are for who reads the
// JSON, and nothing is decided by them. Coordinates are the control frame's (origin at the window's centre, x
// right, y down, front edge up) or pixels of the upright picture, the centre of the top-left pixel being (0,
// 0).
package record

import (
	"encoding/json"
	"time"

	"sitspan/imprint/codes"
)

// Schema is the version of the JSON layout. Older versions must still load; see Load.
//
// Schema 2 says by codes with parameters what schema 1 said in English only.
const Schema = 2

// The four outcomes of a measurement.
const (
	Measured = "measured" // the number can be used
	Review   = "review"   // there is a number, but somebody has to look at it first
	Refused  = "refused"  // no number: the picture does not allow one
	Failed   = "failed"   // the file could not be read at all
)

// Reason says why a measurement is not, or not yet, to be used: what was seen and needed, and what to do
// about it.
type Reason struct {
	Code    string       `json:"code"`
	Form    string       `json:"form,omitempty"` // which of the code's sentences
	Params  codes.Params `json:"params,omitempty"`
	Message string       `json:"message"`
	Hint    string       `json:"hint"`
}

// Said is the reason as a code with its parameters.
func (r Reason) Said() codes.Said {
	return codes.Said{Kind: codes.Reason, Code: r.Code, Form: r.Form, Params: r.Params}
}

// Warning is a footnote: what weakens the result, and what would remove it.
type Warning struct {
	Code    string       `json:"code"`
	Form    string       `json:"form,omitempty"`
	Params  codes.Params `json:"params,omitempty"`
	Message string       `json:"message"`
	Remedy  string       `json:"remedy"`
}

// Said is the warning as a code with its parameters.
func (w Warning) Said() codes.Said {
	return codes.Said{Kind: codes.Warning, Code: w.Code, Form: w.Form, Params: w.Params}
}

// BudgetLine is one influence on the spacing (JCGM 100, 8.1): its contribution in mm and how it was obtained.
type BudgetLine struct {
	// of the influence; none where an old record's is not known
	Code        string     `json:"code,omitempty"`
	Source      string     `json:"source"`
	U           float64    `json:"u_mm"`  // |c| u, the contribution to the spacing
	Basis       string     `json:"basis"` // how u was obtained
	BasisSaid   codes.Said `json:"basis_said,omitzero"`
	Std         float64    `json:"u_input,omitempty"`     // the influence's own standard uncertainty
	Unit        string     `json:"unit,omitempty"`        // its unit
	Sensitivity float64    `json:"sensitivity,omitempty"` // mm per unit
	DoF         *float64   `json:"dof,omitempty"`         // degrees of freedom; absent: infinitely many
}

// Dent is one of the two depressions as found.
type Dent struct {
	MM        [2]float64 `json:"mm"`          // the deepest point, parallax corrected, frame axes
	PlaneMM   [2]float64 `json:"plane_mm"`    // the same as seen on the frame's plane, before the correction
	Px        [2]float64 `json:"px"`          // on the upright picture
	Cov       [3]float64 `json:"cov_mm2"`     // xx, xy, yy of MM
	Depth     float64    `json:"depth_mm"`    // below the pad's flat surface; 0 on paper
	DepthU    float64    `json:"depth_u_mm"`  //
	Basis     string     `json:"depth_basis"` // gauge, views, shading and pad profile, pad profile, paper
	BasisSaid codes.Said `json:"depth_basis_said,omitzero"`
	Oblong    float64    `json:"oblong,omitempty"` // long axis / short axis
	OblongU   float64    `json:"oblong_u,omitempty"`
	// direction of the long axis from the x axis, degrees, y down
	AxisDeg float64 `json:"axis_deg,omitempty"`
	FlatMM  float64 `json:"flat_mm,omitempty"` // radius of a bottomed-out flat; 0 where it is not flat
}

// Measured value with its standard uncertainty, for what a fitter may want to look at beside the spacing.
type Quantity struct {
	Value float64 `json:"value"`
	U     float64 `json:"u"` // standard uncertainty, same unit
	Unit  string  `json:"unit"`
}

// Part is one photo's share in a measurement of several photos, or one sitting's in a set of sittings.
type Part struct {
	Photo   string     `json:"photo"`
	SHA256  string     `json:"sha256"`
	Status  string     `json:"status"`
	Used    bool       `json:"used"`
	Why     string     `json:"why,omitempty"` // why it was dropped
	WhySaid codes.Said `json:"why_said,omitzero"`
	Spacing *float64   `json:"spacing_mm"`
	U       *float64   `json:"expanded_uncertainty_mm"`
	// of the pad that this photo shows, where the relief is by geometry
	Points     *int     `json:"points,omitempty"`
	Difference *float64 `json:"difference_mm,omitempty"` // from the joint result
	// |difference| / its expanded uncertainty; above 1 disagrees
	Agreement *float64 `json:"agreement,omitempty"`
	Reasons   []Reason `json:"reasons,omitempty"`
}

// Measurement is the object that `measure --json` prints, one a line.
type Measurement struct {
	Photo          string       `json:"photo"`
	Status         string       `json:"status"`
	Reasons        []Reason     `json:"reasons"`
	Warnings       []Warning    `json:"warnings,omitempty"`
	Medium         string       `json:"medium"`
	Spacing        *float64     `json:"spacing_mm"`
	U              *float64     `json:"expanded_uncertainty_mm"`
	Coverage       float64      `json:"coverage"`
	CoverageFactor *float64     `json:"coverage_factor,omitempty"`
	LeftMM         *[2]float64  `json:"left_mm"`
	RightMM        *[2]float64  `json:"right_mm"`
	LeftPx         *[2]float64  `json:"left_px"`
	RightPx        *[2]float64  `json:"right_px"`
	CameraHeight   *float64     `json:"camera_height_mm"`
	GroundSample   *float64     `json:"ground_sample_mm"`
	Marks          int          `json:"marks"`
	ScaleSource    string       `json:"scale_source"`    // frame, resolution, rule, card, by hand
	Print          *Print       `json:"print,omitempty"` // of the frame that gave the scale
	Budget         []BudgetLine `json:"budget"`
	Left           *Dent        `json:"left,omitempty"`
	Right          *Dent        `json:"right,omitempty"`
	// on the frame's plane, before the parallax correction
	UncorrectedMM *float64 `json:"uncorrected_mm,omitempty"`
	// what was taken off the centres' distance, since the shop's checks with known distances have proved it
	TakenOffMM *float64 `json:"taken_off_mm,omitempty"`
	TiltDeg    *float64 `json:"tilt_deg,omitempty"` // of the camera from the vertical
	// of the line of centres against the frame's front, deg
	Yaw           *Quantity  `json:"yaw,omitempty"`
	DepthContrast *Quantity  `json:"depth_contrast,omitempty"` // right minus left, mm
	AdviceSaid    codes.Said `json:"advice_said,omitzero"`
	// what would shrink the largest line, with the number it would bring
	Advice   string `json:"advice,omitempty"`
	Photos   []Part `json:"photos,omitempty"`   // of a joint measurement
	Sittings []Part `json:"sittings,omitempty"` // of repeated sittings
	// place in the record's photos of the one that pixels are of
	Shown    int       `json:"shown,omitempty"`
	Geometry *Geometry `json:"geometry,omitempty"` // what a reviewer needs to move a centre
	// of a pad whose dots, or grain, several photos show, by geometry
	Relief *Relief `json:"relief,omitempty"`
	// what `size --json` prints, where a posture is given
	Width json.RawMessage `json:"width,omitempty"`
}

// Print is the print of the frame whose scale was applied.
type Print struct {
	Of       string     `json:"of"`       // card or paper: which of the shop's prints
	Verified bool       `json:"verified"` // its check bars were measured
	Date     string     `json:"date,omitempty"`
	Scale    [2]float64 `json:"scale"` // true mm per nominal mm, across and down
	ScaleU   [2]float64 `json:"scale_u"`
}

// Settings are the choices that a measurement was made under.
type Settings struct {
	Medium      string    `json:"medium,omitempty"`
	Pad         string    `json:"pad,omitempty"`
	DepthMM     []float64 `json:"depth_mm,omitempty"`
	DepthU      float64   `json:"depth_u_mm,omitempty"`
	PrintScale  []float64 `json:"print_scale,omitempty"`   // x, y
	PrintScaleU []float64 `json:"print_scale_u,omitempty"` // x, y
	TrunkDeg    *float64  `json:"trunk_deg,omitempty"`
	TrunkU      *float64  `json:"trunk_u_deg,omitempty"`
	AllowanceMM *float64  `json:"allowance_mm,omitempty"`
	Stock       string    `json:"stock,omitempty"`
	Shop        string    `json:"shop,omitempty"` // the shop's name
	Level       float64   `json:"level,omitempty"`
}

// Photo names the picture that a record speaks of, and nothing of its EXIF but what the measurement used.
type Photo struct {
	Name    string  `json:"name"`
	SHA256  string  `json:"sha256"`
	Width   int     `json:"width_px"`
	Height  int     `json:"height_px"`
	Focal35 float64 `json:"focal_35mm,omitempty"`
	Camera  string  `json:"camera,omitempty"` // the model that its file names
	Card    *Card   `json:"card,omitempty"`   // that gave the scale
}

// Card is a card as it was found in a picture, before its face was painted over in what is kept of the
// picture: with it the picture can be measured again.
type Card struct {
	Corners     [4][2]float64 `json:"corners_px"` // of the upright picture, clockwise, the roundings filled up
	Rotation    [9]float64    `json:"rotation"`
	Parameters  []float64     `json:"parameters"`  // of the pose, as package imprint/reference has them
	Information []float64     `json:"information"` // their inverse covariance, its upper triangle row by row
	RMSPixels   float64       `json:"rms_px"`
}

// Record is what is kept.
type Record struct {
	Schema          int             `json:"schema"`
	Tool            string          `json:"tool"`
	Version         string          `json:"version"`
	Model           string          `json:"model,omitempty"` // SHA-256 of the manifest of the nets' weights
	MadeAt          time.Time       `json:"made_at"`
	Alias           string          `json:"alias,omitempty"`
	Photos          []Photo         `json:"photos"`
	Settings        Settings        `json:"settings"`
	Measurement     Measurement     `json:"measurement"`
	Reviews         []Revision      `json:"reviews,omitempty"`
	Recommendations json.RawMessage `json:"recommendations,omitempty"` // fit's recommendations as JSON
}

// Revision is a reviewer's own measurement, beside the automatic one.
type Revision struct {
	Reviewer    string      `json:"reviewer"`
	MadeAt      time.Time   `json:"made_at"`
	Note        string      `json:"note,omitempty"`
	Measurement Measurement `json:"measurement"`
}
