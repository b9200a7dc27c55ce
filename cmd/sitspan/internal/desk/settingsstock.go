package desk

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// stockName is the stock's file beside the settings, where none is named there.
const stockName = "stock.csv"

// stockCell is one cell of a line that is to be mended.
type stockCell struct{ Name, Header, Value, Fault string }

// stockLine is a line of the stock's text with what is wrong with it.
type stockLine struct {
	N     int // from 1
	Fault string
	Cells []stockCell
}

// stockData is what the stock's page shows.
type stockData struct {
	form
	Stock   fit.Stock // as it is, or as it would be
	Widths  []float64
	Text    string
	Lines   []stockLine // to be mended
	Further int         // lines to be mended that are not shown
	Checked bool        // the text was read whole: it can be kept
}

// mostMended bounds the lines that are shown to be mended at once.
const mostMended = 30

func (d *Desk) showStock(w http.ResponseWriter, r *http.Request, status int, data stockData) error {
	data.Widths = data.Stock.Widths()
	return d.showStatus(w, r, status, "settings-stock", frame{Title: d.say(r, "shop.stock"), Data: data,
		Here: "/settings/stock"})
}

func (d *Desk) stockPage(w http.ResponseWriter, r *http.Request) error {
	s := d.shopNow()
	stock, err := s.Stock()
	if err != nil {
		return err
	}
	data := stockData{form: d.newForm(r), Stock: stock}
	data.Was = d.stockSeen()
	if s.StockFile != "" {
		text, err := os.ReadFile(s.StockFile)
		if err != nil {
			return err
		}
		data.Text = string(text)
	}
	return d.showStock(w, r, http.StatusOK, data)
}

// saveStock checks a stock's text, shows what is to be mended in it, and keeps it when a person has seen what
// it comes to.
func (d *Desk) saveStock(w http.ResponseWriter, r *http.Request) error {
	f := d.typedForm(r)
	text := mended(r.PostForm.Get("text"), f.Values)
	data := stockData{form: f, Text: text}
	if strings.TrimSpace(text) == "" {
		data.Notice = say(f.lang, "stock.none")
		return d.showStock(w, r, http.StatusUnprocessableEntity, data)
	}
	var err error
	data.Stock, err = fit.ReadStock(strings.NewReader(text), stockName)
	var faults *fit.StockFaults
	switch {
	case errors.As(err, &faults):
		data.Lines, data.Further = toMend(f.lang, text, faults.Faults)
		return d.showStock(w, r, http.StatusUnprocessableEntity, data)
	case err != nil:
		return err
	case f.Values["go"] != "keep":
		data.Checked = true
		return d.showStock(w, r, http.StatusOK, data)
	}
	before, err := d.shopNow().Stock()
	if err != nil {
		return err
	}
	err = d.saveShop(d.shopSeen(), func(path string) error {
		if f.Was != d.stockSeen() {
			return errShopChanged
		}
		return d.keepStock(path, text)
	})
	there := difference{say(f.lang, "shop.stock"), stockText(f.lang, data.Stock), stockText(f.lang, before)}
	return d.savedTo(w, r, f, err, "/settings/stock?saved", []difference{there}, func(status int, f form) error {
		data.form, data.Checked = f, true
		data.Was = d.stockSeen()
		return d.showStock(w, r, status, data)
	})
}

// stockText says a list in a line.
func stockText(lang words.Lang, s fit.Stock) string {
	var texts []string
	for _, m := range s.Models {
		texts = append(texts, strings.TrimSpace(m.Name+" "+lang.Plain(m.WidthMM)+" mm"))
	}
	return strings.Join(texts, ", ")
}

// stockSeen tells one state of the settings and of the stock's file from another.
func (d *Desk) stockSeen() string {
	text, err := os.ReadFile(d.shopNow().StockFile)
	if err != nil {
		return d.shopSeen() // no file yet
	}
	sum := sha256.Sum256(text)
	return d.shopSeen() + hex.EncodeToString(sum[:8])
}

// keepStock writes the stock's file and names it in the settings. The one before stays beside it.
func (d *Desk) keepStock(path, text string) error {
	name := stockName
	if s := d.shopNow(); s.StockFile != "" {
		name = s.StockFile
		if inFolder, err := filepath.Rel(filepath.Dir(path), name); err == nil {
			name = inFolder
		}
	}
	at := name
	if !filepath.IsAbs(name) {
		at = shop.FileBeside(path, name)
	}
	if before, err := os.ReadFile(at); err == nil {
		if err := wholefile.Bytes(at+".before", before); err != nil {
			return err
		}
	}
	if err := wholefile.Bytes(at, []byte(text)); err != nil {
		return err
	}
	return shop.SaveStock(path, name)
}

// toMend are the lines with faults, each with its cells under the header's names.
func toMend(lang words.Lang, text string, faults []fit.Fault) (lines []stockLine, further int) {
	all := strings.Split(text, "\n")
	header := headerOf(text)
	at := map[int]int{}
	for _, f := range faults {
		i, seen := at[f.Line]
		if !seen {
			if len(lines) == mostMended {
				further++
				continue
			}
			i = len(lines)
			at[f.Line] = i
			lines = append(lines, stockLine{N: f.Line, Cells: cellsOf(all, f.Line, header,
				fit.Separator([]byte(text)))})
		}
		said := say(lang, "stock.fault", "expected", lang.Error(f.Expected))
		if f.Value != "" {
			said = say(lang, "stock.fault.value", "value", clipped(f.Value), "expected", lang.Error(f.Expected))
		}
		placed := false
		for k := range lines[i].Cells {
			if c := &lines[i].Cells[k]; f.Field != "" && c.Header == f.Field {
				c.Fault, placed = said, true
			}
		}
		if !placed {
			lines[i].Fault = said
		}
	}
	return lines, further
}

func clipped(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}

// headerOf are the header's cells, as the faults name them.
func headerOf(text string) []string {
	for line := range strings.Lines(strings.TrimPrefix(text, "\ufeff")) {
		if strings.HasPrefix(strings.ToLower(strings.TrimSpace(line)), "sep=") || strings.TrimSpace(line) == "" {
			continue
		}
		cells, _ := takeApart(line, fit.Separator([]byte(text)))
		for i := range cells {
			cells[i] = strings.Join(strings.Fields(cells[i]), " ")
		}
		return cells
	}
	return nil
}

// takeApart takes a line apart at a separator; what quotes make unreadable is one cell.
func takeApart(line string, separator rune) (cells []string, whole bool) {
	c := csv.NewReader(strings.NewReader(strings.TrimPrefix(line, "\ufeff")))
	c.Comma, c.FieldsPerRecord = separator, -1
	cells, err := c.Read()
	if err != nil {
		return []string{strings.TrimRight(line, "\r\n")}, true
	}
	return cells, false
}

// cellsOf are a line's cells as fields of a form, cell.LINE.PLACE, or the line as one field, line.LINE.
func cellsOf(all []string, n int, header []string, separator rune) (cells []stockCell) {
	if n < 1 || n > len(all) {
		return nil
	}
	parts, whole := takeApart(all[n-1], separator)
	if whole || n == 1 {
		return []stockCell{{Name: fmt.Sprintf("line.%d", n), Value: strings.TrimRight(all[n-1], "\r")}}
	}
	for i := range max(len(parts), len(header)) {
		c := stockCell{Name: fmt.Sprintf("cell.%d.%d", n, i+1)}
		if i < len(parts) {
			c.Value = parts[i]
		}
		if i < len(header) {
			c.Header = header[i]
		}
		cells = append(cells, c)
	}
	return cells
}

// mended puts the fields of lines that were mended into the text.
func mended(text string, values map[string]string) string {
	all := strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n")
	separator := fit.Separator([]byte(text))
	for i := range all {
		if line, typed := values[fmt.Sprintf("line.%d", i+1)]; typed {
			all[i] = line
			continue
		}
		var cells []string
		for k := 1; ; k++ {
			cell, typed := values[fmt.Sprintf("cell.%d.%d", i+1, k)]
			if !typed {
				break
			}
			cells = append(cells, cell)
		}
		if len(cells) > 0 {
			all[i] = joinedCells(cells, separator)
		}
	}
	return strings.Join(all, "\n")
}

func joinedCells(cells []string, separator rune) string {
	for len(cells) > 1 && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Comma = separator
	if w.Write(cells) != nil {
		return strings.Join(cells, string(separator))
	}
	w.Flush()
	return strings.TrimRight(b.String(), "\n")
}
