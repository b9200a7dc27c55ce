package intake

import (
	"math"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/imprint"
	"sitspan/imprint/homography"
	"sitspan/imprint/overlay"
	"sitspan/imprint/spacing"
)

// reliefRecord is the surface as a record keeps it; nil where there is none.
func reliefRecord(m *imprint.Measurement) *record.Relief {
	r := m.Relief
	if r == nil {
		return nil
	}
	out := &record.Relief{
		StepMM: r.Grid.Step, Columns: r.Grid.Columns, Rows: r.Grid.Rows,
		Z: record.Hundredths(r.Grid.Z), U: record.Hundredths(r.Grid.U), SurfaceMM: &r.PadMM,
		LeftRadius: finite(r.Radius[0]), RightRadius: finite(r.Radius[1]), Length: r.Length, Roughness: r.Roughness,
		By: string(r.By), Dots: r.Points, Between: r.Between, LinesOfSight: r.Angle, WithheldMarks: r.Checks.Marks,
		WithheldDots: r.Checks.Dots, Curvature: r.Curvature[:], CurvatureU: r.CurvatureU[:],
		CurvatureReach: r.CurvatureReach, MarkFactor: r.MarkFactor,
	}
	for i, p := range m.Parts {
		if p.Used {
			out.PhotosUsed = append(out.PhotosUsed, i+1)
		}
	}
	if len(r.Checks.Marks) > 0 {
		out.WithheldMarksRMS = &r.Checks.MarkRMS
	}
	if r.Checks.Dots > 0 {
		out.WithheldDotsRMS, out.WithheldDotsRatio = &r.Checks.DotRMS, &r.Checks.DotRatio
	}
	if m.Net != nil {
		out.NetSpacing, out.NetU, out.NormalisedError = &m.Net.Value, &m.Net.U, &m.NormalisedError
	}
	return out
}

// finite is a number, or nil for what is none.
func finite(v float64) *float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	return &v
}

// reliefDrawn is the surface as the overlay draws it on the first photo that it rests on; nil where there is
// none.
func reliefDrawn(m *imprint.Measurement) *overlay.Relief {
	if m.Relief == nil || m.Plane == nil || m.Plane.Camera == nil || m.Left == nil || m.Right == nil {
		return nil
	}
	g := m.Relief.Grid
	return &overlay.Relief{
		Step: g.Step, Columns: g.Columns, Rows: g.Rows, Z: g.Z, U: g.U, Surface: &m.Relief.PadMM,
		Deepest: m.Relief.Deepest,
		Show: func(mm [3]float64) [2]float64 {
			at := homography.PlanePoint{X: mm[0], Y: mm[1]}
			if seen, err := spacing.SeenAt(m.Plane.Camera, at, mm[2]); err == nil {
				at = seen
			}
			px := m.Plane.Fit.ImageFromPlane(at)
			return [2]float64{px.X, px.Y}
		},
	}
}
