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
	contours  string // for the contour lines
	// Under the section, drawn to one scale, or its depth %d times as large.
	sectionEqual, sectionTimes string
	decimal                    string // the decimal sign
}

var wordsIn = map[Lang]words{
	English: {
		status: map[string]string{
			Measured: "measured", Review: "to be checked", Refused: "refused", Failed: "not readable",
		},
		deepest: "deepest point", region: "95 % region", marks: "marks found",
		grid: "grid 10 and 50 mm", leftOut: "left out",
		loupe: "Enlarged, weak contrast raised; the cross is open at the deepest point.", more: "… and %d more", scaleUnit: "10 mm",
		contours:     "depth below the frame, each mm",
		sectionEqual: "Section through both deepest points in mm, depth below the frame to the same scale; band: ± 2 u.",
		sectionTimes: "Section through both deepest points in mm, depth below the frame drawn %d times as large; band: ± 2 u.",
		decimal:      ".",
	},
	German: {
		status: map[string]string{
			Measured: "gemessen", Review: "zu prüfen", Refused: "abgelehnt", Failed: "nicht lesbar",
		},
		deepest: "tiefster Punkt", region: "95-%-Bereich", marks: "Marken gefunden",
		grid: "Raster 10 und 50 mm", leftOut: "nicht gewertet",
		loupe: "Vergrößert, schwacher Kontrast verstärkt; das Kreuz ist am tiefsten Punkt offen.", more: "… und %d weitere", scaleUnit: "10 mm",
		contours:     "Tiefe unter dem Rahmen, je mm",
		sectionEqual: "Schnitt durch beide tiefsten Punkte in mm, Tiefe unter dem Rahmen im selben Maßstab; Band: ± 2 u.",
		sectionTimes: "Schnitt durch beide tiefsten Punkte in mm, Tiefe unter dem Rahmen %d-fach vergrößert; Band: ± 2 u.",
		decimal:      ",",
	},
}
