package report

import "sitspan/fit"

// labels are all words of the sheet, of explain and of its plot that do not
// come from fit's catalogue, in one language. A place is a %s or %[n]s.
//
// What may be said: nothing that fit would not say. A fact of the trade is
// called common practice; nothing here diagnoses, promises or recommends by
// itself.
type labels struct {
	sheet   sheetLabels
	explain explainLabels
	plot    plotLabels
	months  [12]string
	date    string // day, month's name, year
}

// sheetLabels are the words of the rider's sheet.
type sheetLabels struct {
	Title, NotNamed    string
	Draft              string
	Distance, Interval string // Interval: cases of 100, U, low, high, cases of 100 beyond
	FromFoam, FromGel  string
	FromPaper          string
	FromScan           string
	Several            string // number of photos or sittings
	ByHand             string // date of the review
	CaptionPlan        string
	HalfSize           string
	CaptionPhoto       string
	CaptionBeside      string // of a photo without the frame
	Front, Left, Right string

	Bike, YourBike              string // Bike: its number
	Trunk, AllowanceHand        string
	SitBones, Posture, Needed   string
	Width, OrderWidth           string
	Between, Or                 string
	MeasureAgain                string
	Saddle, OtherSize, RunnerUp string
	MassLimit, NoMassLimit      string // MassLimit: kg
	ExampleStock                string
	NoneYet, NoneHere           string
	NoModels, NoneFit           string
	Damper, DamperOr            string
	NoWidth                     string
	AlsoBikes, MoreBikes        string
	AllowanceBasis              string

	SetUp        string
	SetUpGeneral [4]string
	SetUpBasis   string
	Complaints   string
	InSaddle     string
	LeftOut      string // complaints' names
	Notes        string
	Cautions     string
	Footer       string // version, record's beginning of hash
}

// explainLabels are the words of explain's text.
type explainLabels struct {
	Title                                                    string
	Picture, Name, Size, Hash, Focal, Made, Settings, Review string
	PrintScale, Net                                          string
	NoFocal                                                  string
	Marks, MarksFound, Scale, Sample, Camera, Height, Tilt   string
	ScaleSource, Status                                      map[string]string
	Centres, LeftSide, RightSide, Depth                      string
	OnPlane, Parallax, Outward, Corrected, NoParallax        string
	Budget, Source, Contribution, Share, DoF, Basis          string
	Combined, Factor, Expanded, Mismatch                     string
	Spacing, Allowance, Trunk, HandAllowance                 string
	Required, Widths, WidthHead, Probability, Holding        string
	Chosen, Other, Level, Verdict, Models                    string
	Cautions, Warnings, Reasons, NoWidth, NoSpacing          string
	Parts, NotUsed, Advice                                   string
	Infinite                                                 string
}

// plotLabels are the words of explain's plot.
type plotLabels struct {
	Axis, Density, Required, Chosen, Other, Order string
	Bike                                          string // number
}

// labelsIn gives the words of a language.
func labelsIn(lang fit.Lang) *labels {
	if lang == fit.German {
		return &germanLabels
	}
	return &englishLabels
}
