package record

import (
	"math"

	"sitspan/cmd/sitspan/internal/words"
)

// Relief is the surface that several photos of a dotted pad show, kept so that
// it can be drawn again without them. Depths are mm below the frame's plane, or
// hundredths of them, positive downward.
type Relief struct {
	// The grid lies about the frame's origin: Columns along x, Rows along y, a
	// step apart. Values go row by row from the front (the smallest y) and from
	// the left: column i of row j, both from 0, stands at i + j Columns, at
	// x = (i - (Columns-1)/2) StepMM and y = (j - (Rows-1)/2) StepMM.
	StepMM  float64 `json:"step_mm"`
	Columns int     `json:"columns"`
	Rows    int     `json:"rows"`
	// Z are the depths and U their standard uncertainties in hundredths of a mm,
	// Unknown or no list at all where these are not known.
	Z []int `json:"z_hundredths"`
	U []int `json:"u_hundredths"`

	// SurfaceMM is the pad's undented surface. A radius is that of the curvature
	// at a deepest point, absent where it is flat.
	SurfaceMM   *float64 `json:"surface_mm,omitempty"`
	LeftRadius  *float64 `json:"left_radius_mm,omitempty"`
	RightRadius *float64 `json:"right_radius_mm,omitempty"`
	// The curvature of either bottom over CurvatureReach mm about it, by which balls are told, with its standard
	// uncertainty, 1/mm: left and right.
	Curvature      []float64 `json:"curvature_per_mm,omitempty"`
	CurvatureU     []float64 `json:"curvature_u_per_mm,omitempty"`
	CurvatureReach float64   `json:"curvature_reach_mm,omitempty"`
	// MarkFactor is by how much the marks' edges lie farther off the adjustment than their own uncertainty says.
	MarkFactor float64 `json:"mark_factor,omitempty"`
	// Length is over how many mm the surface's heights are alike, Roughness the
	// standard deviation of a dot about it beside the dot's own uncertainty, mm.
	Length    float64 `json:"length_mm"`
	Roughness float64 `json:"roughness_mm"`

	// By is what was recognised from photo to photo, "dots" or the pad's "grain".
	// Dots is how many of either were matched in two photos at least, Between how many of these
	// lie between a pad's dots, PhotosUsed the photos' places in the record, counted from 1, and LinesOfSight
	// the angle between a dot's lines of sight, the mean over the dots.
	By           string  `json:"by,omitempty"`
	Dots         int     `json:"dots"`
	Between      int     `json:"between_dots,omitempty"`
	PhotosUsed   []int   `json:"photos_used"`
	LinesOfSight float64 `json:"lines_of_sight_deg"`

	// What took no part in the adjustment and checks it: the residuals' root mean
	// square, and for the dots the same in standard uncertainties, about 1 where
	// these are honest.
	WithheldMarks     []int    `json:"withheld_marks,omitempty"` // their numbers
	WithheldMarksRMS  *float64 `json:"withheld_marks_rms_mm,omitempty"`
	WithheldDots      int      `json:"withheld_dots,omitempty"`
	WithheldDotsRMS   *float64 `json:"withheld_dots_rms_mm,omitempty"`
	WithheldDotsRatio *float64 `json:"withheld_dots_ratio,omitempty"`

	// The net's reading of the same photos, where there is one: its spacing and
	// standard uncertainty, and E_n, the magnitude of their difference over the
	// root of both expanded uncertainties' squares (the E_n of ISO/IEC 17043; the
	// clause not looked up, the standard settles it).
	// Beyond 1 they disagree.
	NetSpacing      *float64 `json:"net_spacing_mm,omitempty"`
	NetU            *float64 `json:"net_u_mm,omitempty"`
	NormalisedError *float64 `json:"normalised_error,omitempty"`
}

// What a relief may rest on.
const (
	ByDots  = "dots"
	ByGrain = "grain"
)

// Unknown stands among a relief's uncertainties where none is known.
const Unknown = -1

// Bounds of a relief: no pad is a fifth of a metre deep, none is two metres
// wide, and a grid of the frame's window at 1 mm has 30 000 values.
const (
	deepestHundredths = 20000
	widestMM          = 2000
	mostGridPoints    = 50_000
)

// Hundredths turns mm into whole hundredths; what is no finite number becomes
// Unknown, so it is for depths only where all are finite.
func Hundredths(mm []float64) []int {
	out := make([]int, len(mm))
	for i, v := range mm {
		if out[i] = Unknown; !math.IsNaN(v) && !math.IsInf(v, 0) {
			out[i] = int(math.Round(100 * v))
		}
	}
	return out
}

// Depths are the grid's depths in mm below the frame's plane.
func (r *Relief) Depths() []float64 {
	out := make([]float64, len(r.Z))
	for i, v := range r.Z {
		out[i] = float64(v) / 100
	}
	return out
}

// Uncertainties are the depths' standard uncertainties in mm, NaN where not
// known; as many as there are depths.
func (r *Relief) Uncertainties() []float64 {
	out := make([]float64, len(r.Z))
	for i := range out {
		if out[i] = math.NaN(); i < len(r.U) && r.U[i] != Unknown {
			out[i] = float64(r.U[i]) / 100
		}
	}
	return out
}

// Relief is the measurement's relief that counts: the current one's, or the
// automatic one's where a reviewer's has none.
func (r Record) Relief() *Relief {
	if m, _ := r.Current(); m.Relief != nil {
		return m.Relief
	}
	return r.Measurement.Relief
}

// Check says in one line what is wrong with a relief first.
func (r *Relief) Check() error {
	if !(r.StepMM > 0) {
		return words.Fault("error.relief.step", words.Values{"value": r.StepMM})
	}
	if r.Columns < 2 || r.Rows < 2 || r.Columns > mostGridPoints/r.Rows {
		return words.Fault("error.relief.grid", words.Values{
			"columns": r.Columns, "rows": r.Rows, "most": mostGridPoints,
		})
	}
	if wide := r.StepMM * float64(max(r.Columns, r.Rows)); !(wide <= widestMM) {
		return words.Fault("error.relief.wide", words.Values{"mm": wide, "most": widestMM})
	}
	n := r.Columns * r.Rows
	if len(r.Z) != n {
		return words.Fault("error.relief.z_count", words.Values{"n": len(r.Z), "want": n})
	}
	if len(r.U) != 0 && len(r.U) != n {
		return words.Fault("error.relief.u_count", words.Values{"n": len(r.U), "want": n})
	}
	for i, z := range r.Z {
		if z < -deepestHundredths || z > deepestHundredths {
			return words.Fault("error.relief.z", words.Values{"i": i, "z": z, "most": deepestHundredths})
		}
	}
	for i, u := range r.U {
		if u < Unknown || u > deepestHundredths {
			return words.Fault("error.relief.u", words.Values{
				"i": i, "u": u, "most": deepestHundredths, "unknown": Unknown,
			})
		}
	}
	return r.checkNumbers()
}

// checkNumbers: what cannot be negative is not.
func (r *Relief) checkNumbers() error {
	if r.By != "" && r.By != ByDots && r.By != ByGrain {
		return words.Fault("error.relief.by", words.Values{"by": r.By, "dots": ByDots, "grain": ByGrain})
	}
	if r.Dots < 0 || r.WithheldDots < 0 || r.Between < 0 || r.Between > r.Dots {
		return words.Fault("error.relief.dots", words.Values{"n": r.Dots, "between": r.Between,
			"withheld": r.WithheldDots})
	}
	for _, n := range r.PhotosUsed {
		if n < 1 {
			return words.Fault("error.relief.photo", words.Values{"n": n})
		}
	}
	if !(r.LinesOfSight >= 0 && r.LinesOfSight <= 180) {
		return words.Fault("error.relief.sight", words.Values{"deg": r.LinesOfSight})
	}
	for _, f := range []struct {
		name  string
		value *float64
	}{
		{"length_mm", &r.Length}, {"roughness_mm", &r.Roughness},
		{"left_radius_mm", r.LeftRadius}, {"right_radius_mm", r.RightRadius},
		{"withheld_marks_rms_mm", r.WithheldMarksRMS},
		{"withheld_dots_rms_mm", r.WithheldDotsRMS}, {"withheld_dots_ratio", r.WithheldDotsRatio},
		{"net_spacing_mm", r.NetSpacing}, {"net_u_mm", r.NetU}, {"normalised_error", r.NormalisedError},
	} {
		if f.value != nil && !(*f.value >= 0) {
			return words.Fault("error.relief.negative", words.Values{"what": f.name, "value": *f.value})
		}
	}
	return nil
}
