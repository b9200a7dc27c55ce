package judge

import "slices"

// Bound is a limit of what is accepted. Most are opinions about what a fitter can be asked to do again, and
// no tolerances.
type Bound struct {
	Name  string
	Value float64
	Unit  string // empty for a count, a share or a ratio
	Basis string // what it rests on
	Set   string // what it was set on: "opinion" where on nothing but that
	Since string // the day
}

var table []*Bound

func bound(name string, value float64, unit, since, set, basis string) *Bound {
	b := &Bound{name, value, unit, basis, set, since}
	table = append(table, b)
	return b
}

// Table is every bound.
func Table() []*Bound { return slices.Clone(table) }

// What bounds were set on.
const (
	opinion = "opinion"
	drawn   = "drawn reliefs"
	tuning  = "photos that served for tuning"
	all175  = "all 175 photos of two dents at hand, those included that results are claimed on"
)

// The number.
var (
	LeastSpacing = bound("least spacing", 70, "mm", "2026-11-25", opinion,
		"narrower than any two sit bones should be (no source)")
	MostSpacing = bound("most spacing", 190, "mm", "2026-11-25", opinion,
		"wider than any two sit bones should be (no source)")
	WidestInterval = bound("widest interval", 6, "mm", "2026-11-25", opinion,
		"expanded uncertainty beyond which a number is no help")
	WidestReading = bound("widest reading of foam", 3.6, "mm", "2026-11-27", tuning,
		"expanded uncertainty that the relief of foam may leave, in one photo or in several together")
	HopelessReading = bound("hopeless reading of foam", 12, "mm", "2026-11-29", tuning,
		"likewise in the first photo of a pad: the nets then read no other one whose surface is measured")
	WidestInk = bound("widest reading of ink", 4, "mm", "2026-11-27", tuning,
		"likewise the ink: another sheet and another sitting take longer than another photo")
	WidestBeside = bound("widest interval without the frame", 4, "mm", "2026-11-25", opinion,
		"likewise of a picture that has nothing else to check it")
)

// The frame and the picture.
var (
	LeastMarks  = bound("least marks", 4, "", "2026-11-25", opinion, "below, no plane")
	WantedMarks = bound("wanted marks", 7, "", "2026-11-25", opinion, "below, somebody must look")
	BentFrame   = bound("bent frame", 1.2, "mm", "2026-11-25", opinion, "withheld error of the worst mark")
	Buckle      = bound(
		"buckled frame",
		2,
		"mm",
		"2026-11-25",
		opinion,
		"standard uncertainty of the frame's height",
	)
	LeastAlike = bound(
		"squares alike",
		3,
		"",
		"2026-11-25",
		"drawn scans and frames out of focus",
		"blurred squares of like size that are a frame out of focus: without the frame the most was two, "+
			"with it ten or more of twelve",
	)
	Blur = bound("blur", 0.30, "modules", "2026-11-25", opinion,
		"blur (sigma) in modules of a mark beyond which edges are guesswork")
	BlurToBlame = bound(
		"blur to blame",
		0.20,
		"modules",
		"2026-11-27",
		tuning,
		"likewise beyond which blur is why marks are missing or lie off their plane: sharp photos have "+
			"0.12 at the most",
	)
	SoftEdge = bound(
		"soft edge",
		2.5,
		"px",
		"2026-11-25",
		tuning,
		"standard deviation; lens and sensor blur an edge over 0.7 px or so; of a shaken picture one axis "+
			"may stay sharp",
	)
	Glare = bound("glare", 0.02, "", "2026-11-25", opinion,
		"share of the window burnt out: a patch of 28 mm across, which hides a dent's bottom")
	HardEdge = bound(
		"hard edge",
		0.83,
		"",
		"2026-11-29",
		"60 scans and 4 photos of imprints without the frame, and 15 pictures of other things that were read as "+
			"some",
		"share of the full ink that comes within 4 mm: imprints had 0.20 to 0.79 and one 0.92, the other things "+
			"0.88 or more",
	)
	MarkReach = bound(
		"reach of a mark",
		24,
		"mm",
		"2026-11-25",
		opinion,
		"about a centre on paper that must be seen",
	)
	MarkCover = bound("cover of a mark", 0.06, "", "2026-11-25", opinion, "share of that which may be hidden")
)

// The medium: how alike in ln of light, in each colour, the window's rim and the frame's white are.
var (
	OneSheet = bound(
		"one sheet",
		0.15,
		"ln",
		"2026-11-25",
		tuning,
		"up to this alike they are one sheet under one lamp",
	)
	TwoSheets = bound("two sheets", 0.22, "ln", "2026-11-25", tuning, "beyond this unlike they are two")
)

// The reading.
var (
	LeastContrast = bound("least contrast", 0.014, "ln", "2026-11-25", drawn,
		"0.006 of it the floor for paint and grain: with 0.008 of its own a flat pad may have as much")
	LeastCount = bound(
		"least count",
		0.5,
		"",
		"2026-11-25",
		opinion,
		"probability of two dents below which somebody must look",
	)
	LikeRival = bound(
		"like rival",
		0.35,
		"",
		"2026-11-25",
		drawn,
		"score of a rival peak, relative, that counts as another dent",
	)
	MostLost = bound(
		"most lost",
		3.5,
		"mm",
		"2026-11-27",
		all175,
		"standard uncertainty of the clearer side: about half of what the net says of a window that "+
			"shows nothing",
	)
	MostUnlike = bound("most unlike", 2.5, "", "2026-11-27", all175,
		"one side's standard uncertainty over the other's: under one light two dents show alike")
	GaugeApart = bound("gauge and photo apart", 3, "u", "2026-11-28", "the normal distribution",
		"a depth by gauge against what the photo says of it; a slip of the comma is more")
	InkApart = bound("ink and net apart", 2.5, "u", "2026-11-25", "the normal distribution",
		"between 2 and 3, since a review costs a fitter more than the one false alarm in eighty")
	Disagreement = bound("photos disagree", 1.5, "", "2026-11-25", opinion,
		"agreement beyond which a photo shows another imprint; 1 is the edge of what chance explains at 95 %")
)

// The surface by geometry.
var (
	LeastNear = bound("least points near a bottom", 5, "", "2026-11-28", opinion,
		"recognised within 15 mm of a deepest point; a pad as the docs ask for it has some nine there")
	LeastAround = bound("least sectors about a bottom", 4, "", "2026-11-28", opinion,
		"of six that hold such a point: a bottom with all its points on one side is none")
	MostOpen = bound("most open", 0.05, "", "2026-11-28", opinion,
		"share of drawn surfaces that have no bottom where one was found")
	MostMarkFactor = bound("most mark factor", 3, "", "2026-11-28",
		"twenty rendered presses, two of them bent anew by fifteen lenses, and 101 pads by ordinary phones",
		"by which the marks' edges lie farther off than they claim: up to 1.2 on the presses and 2.7 on the "+
			"pads, up to 2.5 where a lens all but fits, 3.1 and more where none does")
	MostStretch = bound("most stretch", 0.0066, "", "2026-11-28", opinion,
		"of the frame across over down, beyond its print's: one print in a thousand, by the 0.2 % that is assumed")
	SameMarks = bound("marks alike", 0.0005, "", "2026-11-29", "three photos, each saved again in four ways",
		"of the marks' rms distance from their middle: saved again, 0.0001 at the most; from a hand, 0.01 or more")
	SameLight = bound("lit alike", 0.95, "", "2026-11-29", "three photos, each saved again in four ways",
		"correlation of the window's light: saved again, 0.98 at the least; with the lamp moved, below 0.4")
	Speckled = bound("speckled", 0.06, "ln", "2026-11-28", "six photos of dotted pads and 27 of other foam",
		"by which three quarters of the cells differ from those 4 mm around: dots 0.14 to 0.16, others below 0.03")
)
