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

	More func(n int) string // how many rejected places are not shown; nil for none
}

// scaleUnit is the length of the loupes' scale.
const scaleUnit = "10 mm"
