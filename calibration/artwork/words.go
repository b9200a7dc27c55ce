package artwork

import (
	"fmt"

	"sitspan/calibration"
)

// Words are the printed texts. A line of a cell must fit between two marks'
// quiet zones, some 33 mm at the size used; Draw says which does not.
type Words struct {
	Lang             string // ISO 639 code, for the files
	Title            string
	Front, FrontNote string
	Left, Right      string
	SideNote         string
	Bar              string // before a bar's nominal length
	Version          string // before the frame's version
	Foam, Paper      string // what the frame is for
	TrueSize         string
	Measure          []string // how to print and measure, five lines
	ReadingX         string
	ReadingY         string
	Dated            string
	Enter, Anew      string    // before and after where
	Where            [2]string // the readings are entered, in two lines
	CutTitle         string
	CutSteps         [][]string // inside a foam frame's window, which is cut away

	Dots     func(sheet, of int) string // a sheet of dots' title
	DotsLine string                     // what to do with it
}

// English are the words of a frame that is handed none.
func English() Words {
	return Words{
		Lang:  "en",
		Title: "sitspan control frame",
		Front: "FRONT", FrontNote: "the rider faces this way",
		Left: "LEFT", Right: "RIGHT", SideNote: "as the rider sits",
		Bar: "check bar", Version: "version",
		Foam: "for foam and gel", Paper: "for pressure paper",
		TrueSize: "true size at 100 % only",
		Measure: []string{
			"Print at 100 % (actual size),",
			"never “fit to page”. Measure",
			"both check bars with a steel",
			"rule, from the middle of one",
			"end line to the other’s.",
		},
		ReadingX: "200 mm bar:", ReadingY: "150 mm bar:", Dated: "date:",
		Enter: "Enter both readings (mm):", Anew: "Every new print: measure anew.",
		Where:    [2]string{"sitspan frame verify", "--bar …  --bar-y …"},
		CutTitle: "This area gets cut out. Read first:",
		CutSteps: [][]string{
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
		Dots: func(sheet, of int) string { return fmt.Sprintf("sitspan dots, sheet %d of %d", sheet, of) },
		DotsLine: "Print at 100 %, punch the dots out, lay the sheet on the pad, " +
			"dot through the holes with a permanent pen, let the ink dry.",
	}
}

// medium is what the frame is for.
func (w Words) medium(m calibration.Medium) string {
	if m == calibration.Paper {
		return w.Paper
	}
	return w.Foam
}

// within remembers a text that is longer than its room in mm.
func (s *sheet) within(room float64, t Text) Text {
	if w := t.width(); w > room && s.tooLong == nil {
		s.tooLong = fmt.Errorf(
			"the frame's text %q is %.1f mm long, and %.1f mm are there: write it shorter",
			t.String,
			w,
			room,
		)
	}
	return t
}
