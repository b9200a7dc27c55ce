package record

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"

	"sitspan/cmd/sitspan/internal/words"
)

// Statuses lists the outcomes of a measurement.
func Statuses() []string { return []string{Measured, Review, Refused, Failed} }

// Current is the measurement that counts: the last reviewer's where there is
// one, else the automatic one. reviewer is empty for the latter.
func (r Record) Current() (m Measurement, reviewer string) {
	if n := len(r.Reviews); n > 0 {
		return r.Reviews[n-1].Measurement, r.Reviews[n-1].Reviewer
	}
	return r.Measurement, ""
}

// Check says in one line what is wrong with a record first: a number that is
// not finite, an unknown status, a spacing without its uncertainty.
func (r Record) Check() error {
	if path, v, bad := notFinite(reflect.ValueOf(r), ""); bad {
		return words.Fault("error.record.finite", words.Values{"what": path, "value": v})
	}
	if err := r.Measurement.Check(); err != nil {
		return words.Fault("error.record.measurement", words.Values{"why": err})
	}
	if n := r.Measurement.Shown; n < 0 || n > 0 && n >= len(r.Photos) {
		return words.Fault("error.record.shown", words.Values{"n": n, "photos": len(r.Photos)})
	}
	for i, rev := range r.Reviews {
		if strings.TrimSpace(rev.Reviewer) == "" {
			return words.Fault("error.record.reviewer", words.Values{"n": i + 1})
		}
		if err := rev.Measurement.Check(); err != nil {
			return words.Fault("error.record.review", words.Values{"n": i + 1, "why": err})
		}
	}
	return nil
}

// Check says what is wrong with a measurement first.
func (m Measurement) Check() error {
	if !slices.Contains(Statuses(), m.Status) {
		return words.Fault("error.record.status", words.Values{
			"is": m.Status, "known": strings.Join(Statuses(), ", "),
		})
	}
	if err := m.checkSpacing(); err != nil {
		return err
	}
	for i, l := range m.Budget {
		if l.U < 0 || l.Std < 0 {
			return words.Fault("error.record.budget_u", words.Values{"n": i + 1, "source": l.Source})
		}
		if l.DoF != nil && *l.DoF < 0 {
			return words.Fault("error.record.budget_dof", words.Values{
				"n": i + 1, "source": l.Source, "dof": *l.DoF,
			})
		}
	}
	if m.Relief != nil {
		if err := m.Relief.Check(); err != nil {
			return err
		}
	}
	for _, p := range slices.Concat(m.Photos, m.Sittings) {
		if !slices.Contains(Statuses(), p.Status) {
			return words.Fault("error.record.part", words.Values{
				"photo": p.Photo, "is": p.Status, "known": strings.Join(Statuses(), ", "),
			})
		}
	}
	return nil
}

// checkSpacing: what was measured has a spacing and an uncertainty, and what
// was not has none.
func (m Measurement) checkSpacing() error {
	switch {
	case m.Status == Measured && m.Spacing == nil:
		return words.Fault("error.record.no_spacing", nil)
	case (m.Status == Refused || m.Status == Failed) && m.Spacing != nil:
		return words.Fault("error.record.spacing_there", words.Values{"is": m.Status, "mm": *m.Spacing})
	case m.Spacing == nil:
		return nil
	case !(*m.Spacing > 0):
		return words.Fault("error.record.spacing_mm", words.Values{"mm": *m.Spacing})
	case m.U == nil:
		return words.Fault("error.record.no_u", nil)
	case !(*m.U > 0):
		return words.Fault("error.record.u", words.Values{"mm": *m.U})
	case !(m.Coverage > 0 && m.Coverage < 1):
		return words.Fault("error.record.coverage", words.Values{"value": m.Coverage})
	}
	return nil
}

// Contradiction says whether a record's numbers belong together: the spacing is
// the distance of its centres, and the expanded uncertainty the coverage factor
// times the root of the budget's squares (JCGM 100:2008, 5.1.2 and 6.2.1). A
// record that was edited by hand usually fails it. The mean of several sittings
// is not between the centres of one, and is not compared with them.
func (r Record) Contradiction() error {
	if err := r.Measurement.contradiction(); err != nil {
		return err
	}
	for i, rev := range r.Reviews {
		if err := rev.Measurement.contradiction(); err != nil {
			return words.Fault("error.record.review", words.Values{"n": i + 1, "why": err})
		}
	}
	return nil
}

// Rounding: records are told apart from edited ones by what a hand-written
// one may round, a hundredth of a millimetre on a centre and a percent on U.
const (
	roundedMM    = 0.05
	roundedShare = 0.02
)

func (m Measurement) contradiction() error {
	if m.Spacing == nil || m.U == nil {
		return nil
	}
	if m.LeftMM != nil && m.RightMM != nil && len(m.Sittings) == 0 {
		apart := math.Hypot(m.LeftMM[0]-m.RightMM[0], m.LeftMM[1]-m.RightMM[1])
		if m.TakenOffMM != nil {
			apart -= *m.TakenOffMM
		}
		if !(math.Abs(apart-*m.Spacing) <= roundedMM) {
			return words.Fault("error.record.apart", words.Values{"mm": *m.Spacing, "apart": apart})
		}
	}
	if m.CoverageFactor == nil || len(m.Budget) == 0 {
		return nil
	}
	var squares float64
	for _, l := range m.Budget {
		squares += l.U * l.U
	}
	if want := *m.CoverageFactor * math.Sqrt(squares); !(math.Abs(want-*m.U) <= roundedShare*want) {
		return words.Fault("error.record.budget", words.Values{"mm": *m.U, "want": want})
	}
	return nil
}

// notFinite finds the first NaN or infinity below v, and its place by the names
// that the JSON has.
func notFinite(v reflect.Value, at string) (path string, value float64, found bool) {
	switch v.Kind() {
	case reflect.Float64:
		f := v.Float()
		return at, f, math.IsNaN(f) || math.IsInf(f, 0)
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return notFinite(v.Elem(), at)
		}
	case reflect.Slice, reflect.Array:
		if v.Type().Elem().Kind() == reflect.Uint8 {
			return "", 0, false
		}
		for i := range v.Len() {
			if p, f, bad := notFinite(v.Index(i), fmt.Sprintf("%s[%d]", at, i)); bad {
				return p, f, true
			}
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			if p, f, bad := notFinite(v.MapIndex(k), fmt.Sprintf("%s.%v", at, k)); bad {
				return p, f, true
			}
		}
	case reflect.Struct:
		return notFiniteField(v, at)
	}
	return "", 0, false
}

func notFiniteField(v reflect.Value, at string) (path string, value float64, found bool) {
	for i := range v.NumField() {
		field := v.Type().Field(i)
		if !field.IsExported() {
			continue
		}
		name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
		if p, f, bad := notFinite(v.Field(i), strings.TrimPrefix(at+"."+name, ".")); bad {
			return p, f, true
		}
	}
	return "", 0, false
}
