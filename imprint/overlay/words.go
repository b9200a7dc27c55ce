package overlay

// Words are the drawing's own texts; whoever asks for it speaks its language.
type Words struct {
	Status  string // the word for the scene's status
	Deepest string // the key's line for a centre
	Region  string // for its ellipse
	Marks   string // for the marks, their count in it
	Grid    string // for the grid
	LeftOut string // for rejected places
	Loupe   string // under the loupes

	Contours     string // for the contour lines
	SectionEqual string // under the section, drawn to one scale
	// SectionTimes stands under a section whose depth is drawn so many times as
	// large; nil for none.
	SectionTimes func(times int) string
	// Number writes a depth or a length; nil for English.
	Number func(mm float64, decimals int) string

	More func(n int) string // how many rejected places are not shown; nil for none
}

// scaleUnit is the length of the loupes' scale.
const scaleUnit = "10 mm"
