package report

import (
	"image"
	"io"
	"slices"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// Paper is a sheet's size.
type Paper string

// The papers, upright.
const (
	A4     Paper = "a4"
	Letter Paper = "letter" // US Letter
)

// ParsePaper reads a paper's name.
func ParsePaper(s string) (Paper, error) {
	for _, p := range []Paper{A4, Letter} {
		if strings.EqualFold(strings.TrimSpace(s), string(p)) {
			return p, nil
		}
	}
	return "", words.Fault("error.sheet.paper", words.Values{"word": s})
}

// size is width and height in mm: ISO 216, and 8.5 x 11 inches.
func (p Paper) size() (w, h float64) {
	if p == Letter {
		return 215.9, 279.4
	}
	return 210, 297
}

// SheetOptions say how a rider's sheet is made.
type SheetOptions struct {
	Lang    words.Lang
	Paper   Paper       // empty: A4
	Overlay image.Image // the photo with its centres; nil draws a plan instead
	Shop    string      // the shop's name; empty takes the record's
	Address string      // the shop's, of a few lines; empty for none
	Logo    image.Image // the shop's; nil for none
	Fitter  string      // who made the sheet; empty leaves a line for the hand
	Next    time.Time   // the day of the next look; zero leaves a line for the hand
	Proof   string      // when the shop last checked its number, as a sentence; empty says nothing
	// what is to be read first, such as that nobody has confirmed the number; empty for nothing
	Mark string
}

// sheetMargin is the white round the page in mm.
const sheetMargin = 15.0

// density is how tightly a sheet is set. The densities are tried in order, and
// the first that fits is used: first everything gets smaller together, the text
// down to some 6.5 pt; then the picture; then the less telling reasons go, the
// advice on the later complaints, and last the later bikes' cards. What is
// never left out: the distance and its uncertainty, each bike's width and
// saddle, when to stop, and the cautions; and what was left out is named.
type density struct {
	scale  float64 // of all type and gaps
	figure float64 // of the plan, page mm per mm
	brief  bool    // reasons: the first ones only, and all that speak against
	full   int     // this many complaints in full, the rest only with when to stop
	cards  int     // this many bikes in cards, the others in a line each
}

// maxCards is how many bikes have their own card, maxBikes how many a sheet
// names.
const maxCards, maxBikes = 3, 8

func densities(complaints int) []density {
	ds := []density{
		{1, 0.5, false, complaints, maxCards}, {0.95, 0.5, false, complaints, maxCards},
		{0.9, 0.46, false, complaints, maxCards},
		{0.85, 0.43, false, complaints, maxCards}, {0.8, 0.38, false, complaints, maxCards},
		{0.8, 0.33, true, complaints, maxCards},
	}
	for n := complaints; n >= 0; n-- {
		ds = append(ds, density{0.78, 0.3, true, n, maxCards})
	}
	for cards := maxCards - 1; cards > 0; cards-- {
		ds = append(ds, density{0.78, 0.3, true, 0, cards})
	}
	return ds
}

// maxSpacingMM is beyond any body: a slip of the unit.
const maxSpacingMM = 1000

// sheet is one page being laid out.
type sheet struct {
	canvas
	density
	reading
	lang    words.Lang
	overlay *picture
	shop    string
	address []string
	logo    *picture
	fitter  string
	next    time.Time
	proof   string
	mark    string
	w, h    float64 // of the page, mm
}

// WriteSheet writes the rider's sheet: one page of PDF with its fonts embedded.
// Its error says in one line what cannot be printed, and what to do.
func WriteSheet(w io.Writer, rec record.Record, o SheetOptions) error {
	doc, err := sheetPDF(rec, o)
	if err != nil {
		return err
	}
	return doc.Output(w)
}

func sheetPDF(rec record.Record, o SheetOptions) (*fpdf.Fpdf, error) {
	s, err := newSheet(rec, o)
	if err != nil {
		return nil, err
	}
	complaints := len(s.guides())
	for _, d := range densities(complaints) {
		s.density, s.canvas = d, canvas{}
		if !s.layout() {
			continue
		}
		s.canvas = canvas{s.newDocument()}
		s.layout()
		return s.doc, s.doc.Error()
	}
	return nil, words.Fault("error.sheet.long", nil)
}

func newSheet(rec record.Record, o SheetOptions) (*sheet, error) {
	r, err := readingOf(rec)
	if err != nil {
		return nil, err
	}
	if r.m.Spacing == nil || r.m.U == nil {
		return nil, errNoNumber
	}
	if *r.m.Spacing < 1 || *r.m.Spacing > maxSpacingMM || *r.m.U > maxSpacingMM {
		return nil, words.Fault("error.sheet.apart", words.Values{"mm": *r.m.Spacing, "u": *r.m.U})
	}
	s := &sheet{reading: r, lang: o.Lang, shop: oneLine(o.Shop), mark: oneLine(o.Mark), proof: oneLine(o.Proof)}
	s.fitter, s.next = oneLine(o.Fitter), o.Next
	if s.shop == "" {
		s.shop = oneLine(rec.Settings.Shop)
	}
	if o.Overlay != nil {
		if s.overlay, err = newPicture(o.Overlay, r.aspect()); err != nil {
			return nil, err
		}
	}
	if o.Logo != nil {
		if s.logo, err = newPicture(o.Logo, 0); err != nil {
			return nil, err
		}
		s.logo.name = "logo"
	}
	for line := range strings.Lines(o.Address) {
		if line = oneLine(line); line != "" {
			s.address = append(s.address, line)
		}
	}
	s.w, s.h = o.Paper.size()
	return s, s.printable()
}

// printable looks at every text that comes from outside.
func (s *sheet) printable() error {
	errs := []error{
		printable("alias", s.rec.Alias), printable("shop", s.shop),
		printable("address", strings.Join(s.address, " ")), printable("fitter", s.fitter),
		printable("version", s.rec.Version),
	}
	for _, a := range s.advice {
		errs = append(errs, printable("bike", a.Bike.Name))
		for _, m := range slices.Concat(a.Models, a.AlternativeModels) {
			errs = append(errs, printable("model", m.Name))
		}
		for _, n := range slices.Concat(a.Choice.Notes, a.Notes, a.Cautions) {
			errs = append(errs, printable("note", s.lang.Note(n.Code, n.Params)))
		}
	}
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func (s *sheet) newDocument() *fpdf.Fpdf {
	doc := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm",
		Size: fpdf.SizeType{Wd: s.w, Ht: s.h}})
	doc.SetCatalogSort(true)
	doc.SetCreationDate(s.rec.MadeAt)
	doc.SetModificationDate(s.rec.MadeAt)
	doc.SetTitle(s.lang.Text("sheet.title"), true) // no name: files travel
	doc.SetProducer("sitspan "+s.rec.Version, true)
	doc.SetLang(string(s.lang))
	doc.SetAutoPageBreak(false, 0)
	doc.SetMargins(0, 0, 0)
	doc.AddUTF8FontFromBytes("sans", "", faceFor(false).ttf)
	doc.AddUTF8FontFromBytes("sans", "B", faceFor(true).ttf)
	doc.AddPage()
	return doc
}

// type sizes, before the density's scale.
func (s *sheet) body() style  { return style{9 * s.scale, false, black} }
func (s *sheet) small() style { return style{8.2 * s.scale, false, black} }
func (s *sheet) quiet() style { return style{8.2 * s.scale, false, grey} }
func (s *sheet) label() style { return style{8.2 * s.scale, true, grey} }
func (s *sheet) head() style  { return style{11.5 * s.scale, true, black} }

// gap is a distance that shrinks with the type.
func (s *sheet) gap(mm float64) float64 { return mm * s.scale }

// left and right are the text's edges, inner its width.
func (s *sheet) left() float64  { return sheetMargin }
func (s *sheet) right() float64 { return s.w - sheetMargin }
func (s *sheet) inner() float64 { return s.w - 2*sheetMargin }

// layout sets the page from top to bottom and says whether it fits.
func (s *sheet) layout() bool {
	y := s.header(sheetMargin)
	y = s.draft(y)
	y = s.hero(y + s.gap(5))
	y = s.bikes(y + s.gap(4))
	y = s.adviceColumns(y + s.gap(3.5))
	foot := s.h - sheetMargin - s.cautionHeight()
	s.notes(y+s.gap(4), foot-s.gap(5))
	s.cautions(foot)
	return y+s.gap(3) <= foot
}

// header is the title and the rider's alias on the left, the shop and the day
// on the right. Long names get smaller, then end in an ellipsis.
func (s *sheet) header(y float64) float64 {
	half := s.inner() * 0.56
	title := style{19 * s.scale, true, accent}
	s.put(s.left(), y+title.pt*mmPerPoint*0.74, s.lang.Text("sheet.title"), title)

	second := y + title.pt*mmPerPoint*0.74 + s.gap(6.4)
	name := s.rec.Alias
	if oneLine(name) == "" {
		name = s.lang.Text("sheet.not_named")
	}
	st, name := style{12.5 * s.scale, false, black}.shrunk(name, half, 0.7)
	s.put(s.left(), second, name, st)
	date := style{9 * s.scale, false, grey}
	under := s.shopBlock(y, y+title.pt*mmPerPoint*0.74, second, s.inner()-half-4)
	s.putRight(s.right(), max(second, under), s.lang.Date(s.rec.MadeAt), date)
	y = max(second, under) + s.gap(3.4)
	s.line(s.left(), y, s.right(), y, 0.5, accent)
	return y
}

// draft warns where nobody has looked at the measurement yet, or where the caller says so.
func (s *sheet) draft(y float64) float64 {
	mark := s.mark
	if s.m.Status == record.Review {
		mark = s.lang.Text("sheet.draft")
	}
	if mark == "" {
		return y
	}
	st := style{9 * s.scale, true, warning}
	y += s.gap(3.5)
	bottom := s.text(s.left()+3.5, y, s.inner()-3.5, st, mark)
	s.box(s.left(), y, 1.2, bottom-y, warning)
	return bottom
}
