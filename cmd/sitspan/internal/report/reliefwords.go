package report

import "sitspan/fit"

// reliefLabels are the words of a measured relief, in explain and in its plot.
type reliefLabels struct {
	Title                  string
	Matched                string
	Dots, Grain            string // number, photos' numbers, degrees between the lines of sight
	BelowFrame, BelowPad   string // after a depth in mm
	Radius                 string // mm
	Pad, PadText           string // roughness and correlation's length, mm
	Marks, MarksText       string // of the withheld marks: rms in mm
	Withheld, WithheldText string // number; rms in mm
	Ratio                  string // normalised rms
	Net, NetText           string // spacing, its u
	Agree, Disagree        string // E_n
	Section, Cell          string // Cell: mm across and down of a letter
	Map, Across, Down      string // the contour map's title and axes
	SectionEqual           string // spacing
	SectionTimes           string // times, spacing
	Along, Depth           string // the section's axes
	LeftSide, RightSide    string
}

var reliefWords = map[fit.Lang]reliefLabels{
	fit.English: {
		Title:        "Relief by geometry",
		Matched:      "matched",
		Dots:         "%s dots, in photos %s; their lines of sight meet at %s",
		Grain:        "%s points of the pad's grain, in photos %s; their lines of sight meet at %s",
		BelowFrame:   "below the frame",
		BelowPad:     "below the pad's surface",
		Radius:       "radius of curvature %s mm",
		Pad:          "pad's roughness",
		PadText:      "%s mm; its heights are alike over %s mm",
		Marks:        "check, marks %s",
		MarksText:    "took no part, off by %s mm (rms)",
		Withheld:     "check, %s points",
		WithheldText: "took no part, off the surface by %s mm (rms)",
		Ratio:        ", %s of what is expected",
		Net:          "the net's own reading",
		NetText:      "%s mm (u = %s mm)",
		Agree:        "E_n = %s: they agree",
		Disagree:     "E_n = %s: they disagree, and the geometry stands",
		Section:      "Section through both deepest points",
		Cell:         "one letter is %s mm across and %s mm down; depth in mm below the frame",
		Map:          "Depth below the frame, a line each mm, front up",
		Across:       "across / mm",
		Down:         "to the rear / mm",
		SectionEqual: "Section, %s; depth to the same scale; band ± 2 u",
		SectionTimes: "Section, %[2]s; depth drawn %[1]s times as large; band ± 2 u",
		Along:        "distance from the left deepest point / mm",
		Depth:        "depth / mm",
		LeftSide:     "left",
		RightSide:    "right",
	},
	fit.German: {
		Title:        "Relief aus der Geometrie",
		Matched:      "zugeordnet",
		Dots:         "%s Punkte, in den Fotos %s; ihre Sehstrahlen schneiden sich unter %s",
		Grain:        "%s Stellen der Oberfläche, in den Fotos %s; ihre Sehstrahlen schneiden sich unter %s",
		BelowFrame:   "unter dem Rahmen",
		BelowPad:     "unter der Oberfläche des Kissens",
		Radius:       "Krümmungsradius %s mm",
		Pad:          "Rauheit des Kissens",
		PadText:      "%s mm; seine Höhen gleichen sich über %s mm",
		Marks:        "Probe, Marken %s",
		MarksText:    "nicht beteiligt, Abweichung %s mm (Effektivwert)",
		Withheld:     "Probe, %s Punkte",
		WithheldText: "nicht beteiligt, Abweichung von der Fläche %s mm (Effektivwert)",
		Ratio:        ", das %s-fache des Erwarteten",
		Net:          "Ablesung des Netzes",
		NetText:      "%s mm (u = %s mm)",
		Agree:        "E_n = %s: beide stimmen überein",
		Disagree:     "E_n = %s: sie widersprechen sich, es gilt die Geometrie",
		Section:      "Schnitt durch beide tiefsten Punkte",
		Cell:         "ein Zeichen ist %s mm breit und %s mm hoch; Tiefe in mm unter dem Rahmen",
		Map:          "Tiefe unter dem Rahmen, eine Linie je mm, vorn ist oben",
		Across:       "quer / mm",
		Down:         "nach hinten / mm",
		SectionEqual: "Schnitt, %s; Tiefe im selben Maßstab; Band ± 2 u",
		SectionTimes: "Schnitt, %[2]s; Tiefe %[1]s-fach vergrößert; Band ± 2 u",
		Along:        "Abstand vom linken tiefsten Punkt / mm",
		Depth:        "Tiefe / mm",
		LeftSide:     "links",
		RightSide:    "rechts",
	},
}

// reliefLabelsIn gives the words of a language.
func reliefLabelsIn(lang fit.Lang) reliefLabels {
	if l, known := reliefWords[lang]; known {
		return l
	}
	return reliefWords[fit.English]
}
