package artwork

import "sitspan/calibration"

// words are the printed texts in one language. A cell's lines must fit between
// two marks' quiet zones, some 33 mm at the size used; a test holds that.
type words struct {
	title            string
	front, frontNote string
	left, right      string
	sideNote         string
	bar              string // before a bar's nominal length
	version          string // before the frame's version
	medium           map[calibration.Medium]string
	trueSize         string
	measure          [5]string // how to print and measure
	readingX         string
	readingY         string
	dated            string
	enter            [2]string // before and after the command
	cutTitle         string
	cutSteps         [][]string // inside a foam frame's window, which is cut away
}

var wordsIn = map[Lang]words{
	English: {
		title: "sitspan control frame",
		front: "FRONT", frontNote: "the rider faces this way",
		left: "LEFT", right: "RIGHT", sideNote: "as the rider sits",
		bar:     "check bar",
		version: "version",
		medium: map[calibration.Medium]string{
			calibration.Foam: "for foam and gel", calibration.Paper: "for pressure paper",
		},
		trueSize: "true size at 100 % only",
		measure: [5]string{
			"Print at 100 % (actual size),",
			"never “fit to page”. Measure",
			"both check bars with a steel",
			"rule, from the middle of one",
			"end line to the other’s.",
		},
		readingX: "200 mm bar:", readingY: "150 mm bar:", dated: "date:",
		enter:    [2]string{"Enter both readings (mm):", "Every new print: measure anew."},
		cutTitle: "This area gets cut out. Read first:",
		cutSteps: [][]string{
			{"1.  Print on stiff card at 100 % (actual size), never “fit to page”."},
			{
				"2.  Measure both check bars with a steel rule, from the middle of one end line",
				"     to the middle of the other.",
			},
			{
				"3.  Write both readings on the frame and enter them in millimetres:",
				"     sitspan frame verify --bar (200 mm bar) --bar-y (150 mm bar)",
			},
			{"4.  Cut out this window along its line, with a sharp knife against the rule."},
			{"5.  Cut along the dashed outline. Keep the strips with the bars."},
			{"6.  Lay the frame flat on the undented surface of the pad, FRONT where the rider faced."},
		},
	},
	German: {
		title: "sitspan Kontrollrahmen",
		front: "VORN", frontNote: "dahin blickt der Fahrer",
		left: "LINKS", right: "RECHTS", sideNote: "wie der Fahrer sitzt",
		bar:     "Prüfstrecke",
		version: "Version",
		medium: map[calibration.Medium]string{
			calibration.Foam: "für Schaum und Gel", calibration.Paper: "für Druckpapier",
		},
		trueSize: "maßhaltig nur bei 100 %",
		measure: [5]string{
			"Mit 100 % drucken, nicht „an",
			"Seite anpassen“. Prüfstrecken",
			"mit dem Stahllineal messen,",
			"Mitte des einen Endstrichs",
			"bis Mitte des anderen.",
		},
		readingX: "200 mm:", readingY: "150 mm:", dated: "Datum:",
		enter:    [2]string{"Messwerte eingeben (mm):", "Jeden neuen Druck neu messen."},
		cutTitle: "Diese Fläche wird ausgeschnitten. Zuerst lesen:",
		cutSteps: [][]string{
			{"1.  Auf festen Karton drucken, mit 100 % (tatsächliche Größe), nicht „an Seite anpassen“."},
			{
				"2.  Beide Prüfstrecken mit dem Stahllineal messen, von der Mitte des einen Endstrichs",
				"     bis zur Mitte des anderen.",
			},
			{
				"3.  Beide Messwerte auf dem Rahmen notieren und in Millimetern eingeben:",
				"     sitspan frame verify --bar (200 mm) --bar-y (150 mm)",
			},
			{"4.  Das Fenster an seiner Linie mit scharfem Messer am Lineal ausschneiden."},
			{"5.  Den Rahmen an der gestrichelten Linie ausschneiden. Streifen mit Prüfstrecken aufheben."},
			{"6.  Den Rahmen flach auf die unverformte Oberfläche des Kissens legen, VORN in Blickrichtung."},
		},
	},
}
