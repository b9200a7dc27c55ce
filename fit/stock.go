package fit

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"strings"
)

// Relief is how a saddle's middle is relieved.
type Relief string

// The kinds of relief; the empty Relief means "not stated".
const (
	NoRelief      Relief = "none"
	ChannelRelief Relief = "channel" // a groove that does not go through
	CutoutRelief  Relief = "cutout"  // an opening
	SomeRelief    Relief = "relief"  // stated, but not of which kind
)

// QtyNotStated is the Qty of a model whose row does not say how many there are.
const QtyNotStated = -1

// Model is one saddle in the stock. A dimension, mass or price of 0 means
// "not stated".
type Model struct {
	Name       string   `json:"model"`
	Uses       []Use    `json:"uses,omitempty"`
	WidthMM    float64  `json:"width_mm"`             // the width by which it is sold
	SupportMM  float64  `json:"support_mm,omitempty"` // the width on which bones can rest
	LengthMM   float64  `json:"length_mm,omitempty"`
	NoseMM     float64  `json:"nose_mm,omitempty"` // width of the nose
	Relief     Relief   `json:"relief,omitempty"`
	Dampers    []Damper `json:"dampers"` // null: not stated
	MaxRiderKg float64  `json:"max_rider_kg,omitempty"`
	Price      float64  `json:"price,omitempty"` // in the stock's currency
	Qty        int      `json:"qty"`             // QtyNotStated, 0 (sold out), or how many
	Extra      []Column `json:"extra,omitempty"`
	Line       int      `json:"line,omitempty"` // line in the file, 0 where there is none
}

// Column is a cell that the stock's reader does not interpret, with its
// header; it is kept as it was written.
type Column struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// Stock is what the shop has on the shelf.
type Stock struct {
	Name     string // the file's name, or what stands for it
	Currency string // of the prices, empty where the header does not say
	Example  bool   // the built-in example, not a shop's own stock
	Models   []Model
}

// ExampleStock is used when no stock is given: widths of 120 to 170 mm in
// steps of 10 mm. It is an example, and choices made on it say so.
func ExampleStock() Stock {
	s, err := StockOfWidths([]float64{120, 130, 140, 150, 160, 170})
	if err != nil {
		panic(err) // constants
	}
	s.Name, s.Example = "built-in example", true
	return s
}

// minWidthMM and maxWidthMM bound a saddle's width. They catch a wrong unit
// (14.3 for 143, 5.9 for 150), not a bold design: assumed, no source.
const (
	minWidthMM = 60
	maxWidthMM = 400
)

// StockOfWidths makes a stock of bare widths in mm. It reports every width that
// cannot be one.
func StockOfWidths(widths []float64) (Stock, error) {
	var errs []error
	s := Stock{Name: "widths"}
	for i, w := range widths {
		if !(w >= minWidthMM && w <= maxWidthMM) {
			errs = append(errs, BadWidth.With("n", i+1, "mm", w, "low", minWidthMM,
				"high", maxWidthMM))
			continue
		}
		s.Models = append(s.Models, Model{WidthMM: roundMM(w), Qty: QtyNotStated})
	}
	if len(widths) == 0 {
		errs = append(errs, NoWidths.With())
	}
	return s, errors.Join(errs...)
}

// OnShelf says whether the model can be handed over today. A row that does not
// say how many there are counts as there.
func (m Model) OnShelf() bool { return m.Qty != 0 }

// MadeFor says whether the model's row names the use.
func (m Model) MadeFor(u Use) bool { return slices.Contains(m.Uses, u) }

// hold is a width with the width on which bones can rest at it; a model's name
// does not matter to the rule.
type hold struct{ widthMM, supportMM float64 }

// supportOrInf is the support as a bound: none stated bounds nothing.
func (h hold) supportOrInf() float64 {
	if h.supportMM == 0 {
		return math.Inf(1)
	}
	return h.supportMM
}

// holds lists the distinct width and support pairs on the shelf, narrowest
// first, so that neither order nor duplicates of rows can matter.
func (s Stock) holds() []hold {
	seen := make(map[hold]bool)
	var hs []hold
	for _, m := range s.Models {
		h := hold{m.WidthMM, m.SupportMM}
		if m.OnShelf() && !seen[h] {
			seen[h] = true
			hs = append(hs, h)
		}
	}
	slices.SortFunc(hs, func(a, b hold) int {
		return cmp.Or(cmp.Compare(a.widthMM, b.widthMM), cmp.Compare(a.supportMM, b.supportMM))
	})
	return hs
}

// Widths lists the distinct widths on the shelf in mm, narrowest first.
func (s Stock) Widths() []float64 {
	var ws []float64
	for _, h := range s.holds() {
		ws = append(ws, h.widthMM)
	}
	return slices.Compact(ws)
}

// soldOutWidths lists the widths in mm that the stock names but has no saddle of.
func (s Stock) soldOutWidths() []float64 {
	here := s.Widths()
	var out []float64
	for _, m := range s.Models {
		if _, stocked := slices.BinarySearch(here, m.WidthMM); !stocked {
			out = append(out, m.WidthMM)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// orderStepMM is the step in which the stock's widths go on beyond its ends:
// the median of the gaps between neighbours (the lower one of an even number),
// 10 mm where there is one width only (assumed).
func orderStepMM(widths []float64) float64 {
	if len(widths) < 2 {
		return 10
	}
	gaps := make([]float64, 0, len(widths)-1)
	for i := 1; i < len(widths); i++ {
		gaps = append(gaps, roundMM(widths[i]-widths[i-1]))
	}
	slices.Sort(gaps)
	return gaps[(len(gaps)-1)/2]
}

// mergeDuplicates joins rows that differ in nothing but how many there are, so
// that a model pasted twice cannot be its own runner-up. It reuses the slice.
func mergeDuplicates(models []Model) []Model {
	at := make(map[modelKey]int, len(models))
	out := models[:0]
	for _, m := range models {
		k := m.key()
		i, dup := at[k]
		if !dup {
			at[k] = len(out)
			out = append(out, m)
			continue
		}
		out[i].Qty = addQty(out[i].Qty, m.Qty)
	}
	return out
}

func addQty(a, b int) int {
	if a == QtyNotStated || b == QtyNotStated {
		return QtyNotStated
	}
	return a + b
}

// modelKey is everything about a model except how many there are and where its
// row stands. It is also the last tie-breaker of the ranking.
type modelKey struct {
	name, uses, relief, dampers, extra     string
	width, support, length, nose, max, prc float64
}

func (m Model) key() modelKey {
	return modelKey{
		m.Name, joinWords(m.Uses), string(m.Relief), damperKey(m.Dampers), columnKey(m.Extra),
		m.WidthMM, m.SupportMM, m.LengthMM, m.NoseMM, m.MaxRiderKg, m.Price,
	}
}

// compare orders keys: by name first, then by whatever else differs.
func (k modelKey) compare(o modelKey) int {
	return cmp.Or(
		cmp.Compare(strings.ToLower(k.name), strings.ToLower(o.name)), cmp.Compare(k.name, o.name),
		cmp.Compare(k.width, o.width), cmp.Compare(k.length, o.length), cmp.Compare(k.nose, o.nose),
		cmp.Compare(k.support, o.support), cmp.Compare(k.max, o.max), cmp.Compare(k.prc, o.prc),
		cmp.Compare(k.uses, o.uses), cmp.Compare(k.relief, o.relief),
		cmp.Compare(k.dampers, o.dampers), cmp.Compare(k.extra, o.extra))
}

// damperKey keeps "no dampers" and "not stated" apart.
func damperKey(ds []Damper) string {
	if ds == nil {
		return "?"
	}
	return joinWords(ds)
}

func joinWords[T ~string](list []T) string {
	if len(list) == 0 {
		return ""
	}
	words := make([]string, len(list))
	for i, w := range list {
		words[i] = string(w)
	}
	return strings.Join(words, "|")
}

func columnKey(extra []Column) string {
	var b strings.Builder
	for _, c := range extra {
		b.WriteString(c.Name + "\x00" + c.Value + "\x00")
	}
	return b.String()
}
