package imprint

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/relief"
)

// judgeReading sends a reading to review, or refuses it, that is not of two clear dents.
func (v *sight) judgeReading(contrast float64) {
	m, c := v.m, v.reading.Count
	foam := v.m.Medium == calibration.Foam
	for _, s := range []relief.Side{v.reading.Left, v.reading.Right} {
		if s.Second > judge.LikeRival.Value {
			m.Rejected = append(m.Rejected, Rejected{v.toPixel(s.SecondPlace), codes.AnotherDent.With()})
		}
	}
	switch best := largest(c); {
	case best == 0 && c[0] > judge.LeastCount.Value:
		m.refuse(codes.NoDent.With())
	case best == 1 && c[1] > judge.LeastCount.Value:
		m.refuse(codes.OneDent.With())
	case best == 3 && c[3] > judge.LeastCount.Value:
		m.refuse(codes.ManyDents.With())
	case foam && contrast >= judge.LeastContrast.Value && v.clearer() > judge.MostLost.Value:
		// with less contrast nobody knows whether there is a dent
		m.Review(codes.PlacedNowhere.With(2 * v.clearer()))
	case c[2] < judge.LeastCount.Value:
		m.Review(
			[]codes.Said{codes.NoDent.With(), codes.OneDent.With(), codes.OneDent.With(),
				codes.ManyDents.With()}[best],
		)
	default:
		if u := v.unlike(); m.Medium == calibration.Foam && u > judge.MostUnlike.Value {
			m.Review(codes.OnlyOneClear.With(u))
		}
	}
	if m.Medium == calibration.Foam && contrast < judge.LeastContrast.Value && m.Status != Refused {
		m.Review(codes.LowRelief.With(100 * contrast))
	}
	if m.Status == Refused {
		v.read = false
	}
}

// unlike is how many times less well the one side could be placed along the line of centres than the other.
func (v *sight) unlike() float64 {
	l, r := v.along()
	return math.Sqrt(math.Max(l/r, r/l))
}

// clearer is the standard uncertainty in mm, along the line of centres and by the net's own word, of the side
// that could be placed better. Beyond mostLost nothing like a dent was found: docs/evidence.md,
// Guards and refusals, has the figures.
func (v *sight) clearer() float64 {
	l, r := v.along()
	return math.Sqrt(math.Min(l, r))
}

func largest(p [4]float64) (at int) {
	for i, v := range p {
		if v > p[at] {
			at = i
		}
	}
	return at
}

// onPlane carries a place of package relief, mm on the plane, to package homography.
func onPlane(p relief.Point) homography.PlanePoint { return homography.PlanePoint(p) }
