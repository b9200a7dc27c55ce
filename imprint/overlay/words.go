package overlay

// words are the overlay's own texts in one language.
type words struct {
	status    map[string]string
	deepest   string // the key's line for a centre
	region    string // for its ellipse
	marks     string // for the marks, after their count
	grid      string // for the grid
	leftOut   string // for rejected places
	loupe     string // under the loupes
	more      string // rejected places that are not shown; %d is their number
	scaleUnit string
}

var wordsIn = map[Lang]words{
	English: {
		status: map[string]string{
			Measured: "measured", Review: "to be checked", Refused: "refused", Failed: "not readable",
		},
		deepest: "deepest point", region: "95 % region", marks: "marks found",
		grid: "grid 10 and 50 mm", leftOut: "left out",
		loupe: "Enlarged, weak contrast raised; the cross is open at the deepest point.", more: "… and %d more", scaleUnit: "10 mm",
	},
	German: {
		status: map[string]string{
			Measured: "gemessen", Review: "zu prüfen", Refused: "abgelehnt", Failed: "nicht lesbar",
		},
		deepest: "tiefster Punkt", region: "95-%-Bereich", marks: "Marken gefunden",
		grid: "Raster 10 und 50 mm", leftOut: "nicht gewertet",
		loupe: "Vergrößert, schwacher Kontrast verstärkt; das Kreuz ist am tiefsten Punkt offen.", more: "… und %d weitere", scaleUnit: "10 mm",
	},
}
