package intake

import (
	"encoding/hex"
	"encoding/json"
	"errors"
	"path/filepath"
	"strings"

	"sitspan/cmd/sitspan/internal/advice"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
)

// failed is the outcome of a file that could not be read or measured at all.
func (s *Station) failed(name string, err error) Outcome {
	reason := sentence.Reason(codes.Failed.With(err.Error()))
	var r *photo.ReadError
	if errors.As(err, &r) {
		reason = sentence.Reason(codes.OfFile(string(r.Code), r.Form).With(r.Seen, r.Needed, r.Hint))
		name = filepath.Base(r.Name)
	}
	rec := s.record(nil)
	rec.Measurement = record.Measurement{
		Photo:    name,
		Status:   record.Failed,
		Reasons:  []record.Reason{reason},
		Coverage: imprint.Coverage,
		Budget:   []record.BudgetLine{},
	}
	return Outcome{Record: rec}
}

// record is the frame of a record of these photos.
func (s *Station) record(photos []*photo.Photo) record.Record {
	rec := record.Record{
		Schema: record.Schema, Tool: "sitspan", Version: Version, Model: imprint.ModelSHA256(),
		MadeAt: now().UTC().Truncate(1e9),
		Photos: []record.Photo{}, Settings: s.recordSettings(),
	}
	for _, p := range photos {
		rec.Photos = append(
			rec.Photos,
			record.Photo{
				Name:    filepath.Base(p.Name),
				SHA256:  hex.EncodeToString(p.SHA256[:]),
				Width:   p.Width,
				Height:  p.Height,
				Focal35: p.Focal35,
				Camera:  strings.TrimSpace(p.Model),
			},
		)
	}
	return rec
}

func (s *Station) recordSettings() record.Settings {
	o := s.options
	r := record.Settings{
		Medium:  o.Medium,
		Pad:     o.Pad,
		DepthMM: o.DepthMM,
		DepthU:  o.DepthU,
		Shop:    o.Shop.Name,
		Stock:   filepath.Base(o.Shop.StockFile),
		Level:   o.Shop.Rule.Level,
	}
	if o.Shop.StockFile == "" {
		r.Stock = ""
	}
	if o.Posture != nil {
		if deg, u, ok := o.Posture.TrunkDeg(); ok {
			r.TrunkDeg, r.TrunkU = &deg, &u
		} else if a, err := o.Posture.Allowance(s.advisor.Allowances); err == nil {
			r.AllowanceMM = &a.MM
		}
	}
	return r
}

// outcome turns a measurement into a record, with the width where a posture is known.
func (s *Station) outcome(m *imprint.Measurement, photos ...*photo.Photo) Outcome {
	rec := s.record(photos)
	takenOff := s.checked(m)
	rec.Measurement = measurement(m, photos)
	rec.Measurement.TakenOffMM = takenOff
	at := shown(m, photos)
	rec.Measurement.Shown = at
	if !m.OfSittings {
		rec.Photos[at].Card = cardOf(m)
	}
	rec.Measurement.Geometry = s.geometry(Outcome{photo: photos[at], made: m})
	if p := s.printUsed(m); p != nil {
		rec.Measurement.Print = p
		if p.Verified {
			rec.Settings.PrintScale, rec.Settings.PrintScaleU = p.Scale[:], p.ScaleU[:]
		}
	}
	if s.options.Posture != nil && rec.Measurement.Spacing != nil {
		if c, err := advice.Width(rec.Measurement, s.advisor, *s.options.Posture); err != nil {
			rec.Measurement.Warnings = append(
				rec.Measurement.Warnings,
				sentence.Warning(codes.NoWidth.With(err.Error())),
			)
		} else if data, err := json.Marshal(c); err == nil {
			rec.Measurement.Width = data
		}
	}
	return Outcome{Record: rec, photo: photos[at], made: m}
}

// measurement is the JSON object of a measurement; photos are in the order that they were given.
func measurement(m *imprint.Measurement, photos []*photo.Photo) record.Measurement {
	r := record.Measurement{
		Photo: filepath.Base(photos[shown(m, photos)].Name), Status: string(m.Status),
		Reasons: sentence.Reasons(m.Reasons), Medium: string(m.Medium),
		Coverage: imprint.Coverage, Marks: m.Marks, ScaleSource: string(m.ScaleSource),
		Budget: []record.BudgetLine{},
		Advice: sentence.Of(words.English, m.Advice), AdviceSaid: m.Advice,
	}
	for _, w := range m.Warnings {
		r.Warnings = append(r.Warnings, sentence.Warning(w))
	}
	if m.GroundSample > 0 {
		r.GroundSample = &m.GroundSample
	}
	if m.Plane != nil && m.Plane.Camera != nil {
		r.CameraHeight, r.TiltDeg = &m.Plane.Camera.Height, &m.Plane.Camera.TiltDegrees
	}
	if m.Reference != nil && m.Reference.Camera != nil {
		r.CameraHeight, r.TiltDeg = &m.Reference.Camera.Height, &m.Reference.Camera.TiltDegrees
	}
	if m.Spacing != nil {
		addSpacing(&r, m)
	}
	for _, p := range m.Parts {
		part := partOf(p, photos)
		if m.OfSittings {
			r.Sittings = append(r.Sittings, part)
		} else {
			r.Photos = append(r.Photos, part)
		}
	}
	nameParts(&r, photos)
	r.Relief = reliefRecord(m)
	return r
}

func addSpacing(r *record.Measurement, m *imprint.Measurement) {
	u, k := m.Expanded()
	value := m.Spacing.Value
	r.Spacing, r.U, r.CoverageFactor, r.UncorrectedMM = &value, &u, &k, &m.UncorrectedMM
	for _, c := range m.Spacing.Budget.Sorted() {
		r.Budget = append(r.Budget, sentence.Line(c))
	}
	r.Left, r.Right = dent(m.Left), dent(m.Right)
	r.LeftMM, r.RightMM, r.LeftPx, r.RightPx = &r.Left.MM, &r.Right.MM, &r.Left.Px, &r.Right.Px
	if m.Yaw != nil {
		r.Yaw = &record.Quantity{Value: m.Yaw.Value, U: m.Yaw.U, Unit: "deg"}
	}
	if m.DepthContrast != nil {
		r.DepthContrast = &record.Quantity{Value: m.DepthContrast.Value, U: m.DepthContrast.U, Unit: "mm"}
	}
}

func dent(d *imprint.Depression) *record.Dent {
	xy := func(p homography.PlanePoint) [2]float64 { return [2]float64{p.X, p.Y} }
	return &record.Dent{
		MM: xy(d.Point), PlaneMM: xy(d.OnPlane), Px: [2]float64{d.Pixel.X, d.Pixel.Y},
		Cov:   [3]float64{d.Covariance[0][0], d.Covariance[0][1], d.Covariance[1][1]},
		Depth: d.Depth, DepthU: d.DepthU, Basis: sentence.Of(words.English, d.DepthBasis), BasisSaid: d.DepthBasis,
		Oblong: d.Oblong, OblongU: d.OblongU, AxisDeg: d.AxisDeg, FlatMM: d.FlatRadius,
	}
}

func partOf(p imprint.Part, photos []*photo.Photo) record.Part {
	r := record.Part{
		Status:  string(p.Measurement.Status),
		Used:    p.Used,
		Why:     sentence.Of(words.English, p.Why),
		WhySaid: p.Why,
		Reasons: sentence.Reasons(p.Measurement.Reasons),
	}
	if p.Points > 0 {
		r.Points = &p.Points
		return r
	}
	if p.Measurement.Spacing != nil {
		u, _ := p.Measurement.Expanded()
		value, difference, agreement := p.Measurement.Spacing.Value, p.Difference, p.Agreement
		r.Spacing, r.U, r.Difference, r.Agreement = &value, &u, &difference, &agreement
	}
	return r
}

// nameParts names the photos of a joint measurement, and sittings of one photo each.
func nameParts(r *record.Measurement, photos []*photo.Photo) {
	for i := range r.Photos {
		if i < len(photos) {
			r.Photos[i].Photo, r.Photos[i].SHA256 = filepath.Base(
				photos[i].Name,
			), hex.EncodeToString(
				photos[i].SHA256[:],
			)
		}
	}
	if len(r.Sittings) == len(photos) {
		for i := range r.Sittings {
			r.Sittings[i].Photo, r.Sittings[i].SHA256 = filepath.Base(
				photos[i].Name,
			), hex.EncodeToString(
				photos[i].SHA256[:],
			)
		}
	}
}
