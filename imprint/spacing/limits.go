package spacing

// What a spacing must be to be of use, mm.
const (
	// LeastSpacing and MostSpacing bound what may be the distance of a person's sit bones: three standard
	// deviations beyond the means of MRI pelvimetry are 75 to 155 mm (docs/choice.md), and a fitter's own
	// judgement beyond that.
	LeastSpacing, MostSpacing = 70.0, 190.0
	// WidestInterval is the expanded uncertainty beyond which a number is no help: an opinion.
	WidestInterval = 6.0
)

// Plausible tells whether a distance may be that of a person's sit bones.
func Plausible(mm float64) bool { return mm >= LeastSpacing && mm <= MostSpacing }
