// Package shop reads and keeps a shop's settings, shop.yaml: what was measured
// on its own print and pads, and how it chooses saddles. Every section is
// optional, and what is missing has a default.
//
//	name: Velo Invented
//	address: "Mill Lane 3\n12345 Invented"
//	logo: logo.png              # on the rider's sheet
//	languages: [de, en]         # of the desk, the first before all others
//	print:                      # written by `sitspan frame verify`
//	  scale_x: 0.993            # true mm per nominal mm
//	  scale_x_u: 0.0015         # standard uncertainty
//	print_paper: {scale_x: 1.002, scale_x_u: 0.0015} # of the frame on marking paper
//	pads:
//	  foam: {depth_mm: 12, depth_u_common_mm: 2, depth_u_difference_mm: 1}
//	allowance:                  # trunk angle to allowance, linear between
//	  - {angle_deg: 15, mm: 0, basis: common practice}
//	  - {angle_deg: 75, mm: 40, basis: common practice}
//	rule: {level: 0.95}
//	damping: {soft_up_to_kg: 54, firm_from_kg: 88}
//	checks: {correct: false}    # of known distances: take a proved deviation off?
//	stock: stock.csv            # or a list of widths: [130, 140, 150]
//
// Its opinion: a setting that is not understood is refused, with its line, and
// never ignored, since a slip in a key would silently bring back a default; and
// a file that a person wrote is only ever changed where it has to be.
package shop

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"time"

	"sitspan/calibration"
	"sitspan/fit"
)

// Shop is a shop's settings, defaults filled in.
type Shop struct {
	Path       string // of the file; empty for the defaults
	Name       string
	Address    string         // on the sheet, of a few lines; empty for none
	LogoFile   string         // path of the logo's PNG or JPEG; empty for none
	Languages  []string       // that the desk offers, the first before all others; empty for all
	Fitter     string         // who signs the sheet where nobody else is named
	NextLook   int            // weeks until the rider is to be looked at again; 0 where not given
	Print      *Print         // of the frame on card; nil where none was verified
	PrintPaper *Print         // of the frame on marking paper; nil where none was verified
	Pads       map[string]Pad // by name; foam, gel and paper are always there
	Allowances fit.AllowanceTable
	Rule       fit.Rule
	Damping    fit.DampingTable
	StockFile  string    // path of the stock's CSV; empty where none is named
	WidthsMM   []float64 // the stock as bare widths, where they are listed
	// CorrectByChecks has a significant mean deviation of a pad's checks taken off its measurements.
	CorrectByChecks bool
}

// Print is the verification of one print of the frame. Scales are true mm per
// nominal mm; a zero ScaleY, BarMM, BarYMM or BarUMM is "not given".
type Print struct {
	ScaleX, ScaleXU float64 // scale across the page and its standard uncertainty
	ScaleY, ScaleYU float64 // down the side
	CorrelationXY   float64 // of the two scales' errors
	Date            string  // YYYY-MM-DD, empty where not given
	BarMM           float64 // reading of the 200 mm bar, mm
	BarYMM          float64 // reading of the 150 mm bar, mm
	BarUMM          float64 // standard uncertainty of a reading, mm
}

// VerifiedPrint is a verified print as the settings keep it: y's scale only where its own bar was read.
func VerifiedPrint(read calibration.BarReading, print calibration.Print, at time.Time) Print {
	p := Print{ScaleX: print.ScaleX, ScaleXU: print.UX, Date: at.Format(time.DateOnly),
		BarMM: read.X, BarYMM: read.Y, BarUMM: read.U}
	if read.Y != 0 {
		p.ScaleY, p.ScaleYU, p.CorrelationXY = print.ScaleY, print.UY, print.CorrelationXY
	}
	return p
}

// NextAfter is the day of the next look at a rider who was measured on a day; zero where the shop names none.
func (s Shop) NextAfter(day time.Time) time.Time {
	if s.NextLook == 0 {
		return time.Time{}
	}
	return day.AddDate(0, 0, 7*s.NextLook)
}

// PrintFor is the verified print that lies in a picture of a medium: marking paper's own where there is
// one, else the card's; nil where none was verified.
func (s Shop) PrintFor(medium string) *Print {
	if medium == Paper && s.PrintPaper != nil {
		return s.PrintPaper
	}
	return s.Print
}

// PrintKey is the verification of a medium's print as one text, by which checks of one print are told
// from another's; empty where none was verified.
func (s Shop) PrintKey(medium string) string {
	p := s.PrintFor(medium)
	if p == nil {
		return ""
	}
	return fmt.Sprintf("%.4f x %.4f", p.ScaleX, cmp.Or(p.ScaleY, p.ScaleX))
}

// Pad is the profile of a pad: how deep its dents are where nobody measured.
type Pad struct {
	Medium             string  // foam, gel or paper
	DepthMM            float64 // of a dent's bottom below the pad's surface
	DepthUCommonMM     float64 // standard uncertainty common to both sides
	DepthUDifferenceMM float64 // standard uncertainty of left minus right
	CardThicknessMM    float64 // the frame's card and its usual buckle
	CardThicknessUMM   float64 // standard uncertainty of the card's
	Basis              string  // where the numbers come from
}

// PrintOf names a section of the settings that holds a print's verification.
type PrintOf string

// The prints of a shop: the frame on card, for foam and gel, and the frame on marking paper.
const (
	OnCard  PrintOf = "print"
	OnPaper PrintOf = "print_paper"
)

// of is where the settings hold that print.
func (o PrintOf) of(s *Shop) **Print {
	if o == OnPaper {
		return &s.PrintPaper
	}
	return &s.Print
}

// The mediums of a pad. A gel pad is read as foam is, with its own profile.
const (
	Foam  = "foam"
	Gel   = "gel"
	Paper = "paper"
)

// DefaultPads are calibration's built-in profiles by name. All but the paper's
// are assumptions, which the shop replaces by its own depth gauge's readings.
func DefaultPads() map[string]Pad {
	pads := make(map[string]Pad)
	for _, p := range calibration.Pads() {
		medium := string(p.Medium)
		if p.Name == Gel {
			medium = Gel
		}
		pads[p.Name] = Pad{
			Medium: medium, DepthMM: p.DepthMM, DepthUCommonMM: p.DepthUCommon, DepthUDifferenceMM: p.DepthUDifference,
			CardThicknessMM: p.CardThickness, CardThicknessUMM: p.CardThicknessU, Basis: p.Basis,
		}
	}
	return pads
}

// Default is the settings of a shop that has written none.
func Default() Shop {
	return Shop{
		Pads:       DefaultPads(),
		Allowances: fit.DefaultAllowanceTable(),
		Rule:       fit.DefaultRule(),
		Damping:    fit.DefaultDamping(),
	}
}

// FileName is the settings' name in a shop's folder.
const FileName = "shop.yaml"

// LoadOrDefault loads the settings, or gives the defaults where there is no
// file of that name; any other trouble with the file is an error.
func LoadOrDefault(path string) (Shop, error) {
	s, err := Load(path)
	if errors.Is(err, fs.ErrNotExist) {
		return Default(), nil
	}
	return s, err
}

// Stock loads the stock that the settings name: the CSV file, the listed
// widths, or the built-in example.
func (s Shop) Stock() (fit.Stock, error) {
	switch {
	case s.StockFile != "":
		return fit.LoadStock(s.StockFile)
	case len(s.WidthsMM) > 0:
		return fit.StockOfWidths(s.WidthsMM)
	}
	return fit.ExampleStock(), nil
}

// Advisor gives fit what it chooses by; the stock is loaded.
func (s Shop) Advisor() (fit.Advisor, error) {
	stock, err := s.Stock()
	return fit.Advisor{Allowances: s.Allowances, Rule: s.Rule, Damping: s.Damping, Stock: stock}, err
}

// beside makes a path that the file names relative to the file's own folder.
func beside(file, path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(filepath.Dir(file), path)
}
