package calibration

import "math"

// What is assumed about prints, in numbers. Relative values are dimensionless;
// a rectangular distribution of half-width a has u = a / sqrt(3) (JCGM
// 100:2008, 4.3.7).
const (
	// DefaultBarU is the standard uncertainty in mm of one reading of a check
	// bar with a steel rule: a rule divided in millimetres, both ends read.
	DefaultBarU = 0.3

	// MaxScaleError is the largest departure of a print's scale from 1 that a
	// reading may claim. A page fitted to the printable area comes out 3 to 4 %
	// small; beyond 5 % it is another mistake (a wrong bar, inches, a booklet).
	MaxScaleError = 0.05

	// maxAnisotropy is the difference between the scales of x and y beyond
	// which a reading is doubted. Printers scale both alike except for the
	// paper's feed, within a few tenths of a percent (assumption).
	maxAnisotropy = 0.01

	// doubtfulScale is how far from 1 a bar's scale may lie before its reading is asked
	// about: a print at 100 % comes out within 1 %, one that was fitted to the page 3 to
	// 4 % small (assumption, as for MaxScaleError).
	doubtfulScale = 0.02

	// crossScaleHalfWidth bounds how far y's scale may lie from x's when only
	// the 200 mm bar was read: +-0.5 %, rectangular (assumption: feed error
	// and the paper's growth with humidity).
	crossScaleHalfWidth = 0.005

	// unverifiedHalfWidth bounds the scale of a print that nobody measured:
	// +-0.5 %, rectangular (assumption; it holds only if the page was printed at
	// 100 %, since a page fitted to the paper is 3 to 4 % small).
	unverifiedHalfWidth = 0.005

	// maxBarU is the largest standard uncertainty in mm that a reading may
	// state and still be called a verification: 2 mm is 1 % of the long bar.
	maxBarU = 2.0
)

// WarningCode names what limits trust in a print's scale; its words are made where it is read.
type WarningCode string

// The warnings.
const (
	NeverMeasured WarningCode = "never_measured" // Value: the bound that is assumed, %
	OneBarOnly    WarningCode = "one_bar"        // Value: u of the scale down the side, %
	BarsApart     WarningCode = "bars_apart"     // Value: difference of the two scales, %
)

// Warning is something true about a print that its user must know.
type Warning struct {
	Code  WarningCode
	Value float64
}

// Print is the verified or assumed scale of one print of the control frame:
// true length = nominal length x scale, per axis.
type Print struct {
	ScaleX, ScaleY float64 // true mm per nominal mm
	UX, UY         float64 // standard uncertainties of the scales, relative to 1

	// CorrelationXY is the correlation coefficient of the two scales' errors:
	// 0 where each has its own reading, near 1 where y was taken from x.
	CorrelationXY float64

	Verified bool      // a bar of this print was measured
	Warnings []Warning // what limits trust in these numbers
}

// BarReading is what the fitter read off a print with a steel rule.
type BarReading struct {
	X float64 // mm, the 200 mm bar along the bottom
	Y float64 // mm, the 150 mm bar down the side; 0 when it was not read
	U float64 // mm, standard uncertainty of each reading; 0 takes DefaultBarU
}

// VerifyPrint turns readings of the check bars into this print's scale:
// reading / nominal, with u = U / nominal. Without a reading of the 150 mm bar
// y takes x's scale with a wider uncertainty. An error says what was seen, what
// is needed and what to do, and comes with a zero Print.
func VerifyPrint(r BarReading) (Print, error) {
	u := r.U
	if u == 0 {
		u = DefaultBarU
	}
	if !(u > 0 && u <= maxBarU) {
		return Print{}, BadBarU.With("u", r.U, "most", maxBarU)
	}
	bars := ControlFrame
	scaleX, err := scaleOf(r.X, bars.BarX.Nominal)
	if err != nil {
		return Print{}, err
	}
	p := Print{ScaleX: scaleX, UX: u / bars.BarX.Nominal, Verified: true}
	if r.Y == 0 {
		return p.withYFromX(), nil
	}
	scaleY, err := scaleOf(r.Y, bars.BarY.Nominal)
	if err != nil {
		return Print{}, err
	}
	p.ScaleY, p.UY = scaleY, u/bars.BarY.Nominal
	return p.withAnisotropyChecked(), nil
}

// scaleOf is reading / nominal, both in mm, refused outside MaxScaleError.
func scaleOf(reading, nominal float64) (float64, error) {
	scale := reading / nominal
	if plausible(scale) {
		return scale, nil
	}
	const mm = 10 // of a centimetre
	if plausible(mm * scale) {
		return 0, BarInCentimetres.With("bar", nominal, "reading", reading, "mm", math.Round(1e3*mm*reading)/1e3)
	}
	return 0, BadBar.With("bar", nominal, "reading", reading,
		"low", nominal*(1-MaxScaleError), "high", nominal*(1+MaxScaleError))
}

// plausible says whether a scale lies within MaxScaleError of 1.
func plausible(scale float64) bool {
	return scale >= 1-MaxScaleError && scale <= 1+MaxScaleError
}

// Doubtful says what makes a verified print's readings worth a question before they are
// kept: a bar far from its nominal length, or two that disagree. Nil: nothing.
func (p Print) Doubtful() error {
	dx, dy := 100*(p.ScaleX-1), 100*(p.ScaleY-1)
	switch {
	case math.Abs(p.ScaleX-p.ScaleY) > maxAnisotropy:
		return BarsDisagree.With("long", dx, "short", dy)
	case math.Abs(p.ScaleX-1) > doubtfulScale:
		return BarsOff.With("off", dx)
	}
	return nil
}

// withYFromX completes a print of which only the 200 mm bar was read.
func (p Print) withYFromX() Print {
	own := crossScaleHalfWidth / math.Sqrt(3)
	p.ScaleY, p.UY = p.ScaleX, math.Hypot(p.UX, own)
	p.CorrelationXY = p.UX / p.UY // cov = u²(x), JCGM 100:2008, F.1.2.3
	p.Warnings = append(p.Warnings, Warning{OneBarOnly, 100 * p.UY})
	return p
}

// withAnisotropyChecked warns where x and y differ by more than printers do.
func (p Print) withAnisotropyChecked() Print {
	if d := math.Abs(p.ScaleX - p.ScaleY); d > maxAnisotropy {
		p.Warnings = append(p.Warnings, Warning{BarsApart, 100 * d})
	}
	return p
}

// UnverifiedPrint is a print that nobody measured: scale 1, u = 0.29 % (0.5 %,
// rectangular), the same error in x and y, and a warning.
func UnverifiedPrint() Print {
	u := unverifiedHalfWidth / math.Sqrt(3)
	return Print{
		ScaleX: 1, ScaleY: 1, UX: u, UY: u, CorrelationXY: 1,
		Warnings: []Warning{{NeverMeasured, 100 * unverifiedHalfWidth}},
	}
}

// Check tells in one line what is wrong with a print that was read from a
// file, or nil.
func (p Print) Check() error {
	switch {
	case !plausible(p.ScaleX) || !plausible(p.ScaleY):
		return BadScale.With("x", p.ScaleX, "y", p.ScaleY, "low", 1-MaxScaleError, "high", 1+MaxScaleError)
	case !(p.UX > 0 && p.UX <= MaxScaleError && p.UY > 0 && p.UY <= MaxScaleError):
		return BadScaleU.With("x", p.UX, "y", p.UY, "most", MaxScaleError)
	case !(math.Abs(p.CorrelationXY) <= 1):
		return BadCorrelation.With("value", p.CorrelationXY)
	}
	return nil
}

// True is the place in true mm of what the print shows at q in nominal mm.
func (p Print) True(q Point) Point {
	return Point{q.X * p.ScaleX, q.Y * p.ScaleY}
}

// LengthU is the standard uncertainty in mm that the print's scale adds to the
// true distance between two places given in nominal mm. With L² = (sx dx)² +
// (sy dy)² the sensitivities are sx dx²/L and sy dy²/L, and the two scales are
// combined with their correlation (JCGM 100:2008, equation (16)).
func (p Print) LengthU(a, b Point) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	length := math.Hypot(p.ScaleX*dx, p.ScaleY*dy)
	if length == 0 {
		return 0
	}
	ux := p.ScaleX * dx * dx / length * p.UX
	uy := p.ScaleY * dy * dy / length * p.UY
	return math.Sqrt(max(0, ux*ux+uy*uy+2*p.CorrelationXY*ux*uy))
}
