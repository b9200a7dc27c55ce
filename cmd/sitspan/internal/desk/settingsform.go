package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/words"
)

// form is what was typed on a page of settings, and what is wrong with it, by the field's name.
type form struct {
	lang   words.Lang
	Values map[string]string
	Faults map[string]string
	Was    string // the settings' file as the page saw it
	Notice string // of the whole; empty for nothing
	Saved  bool

	Conflict []difference // what another window, or a terminal, kept meanwhile
}

// newForm is the form of a page, with nothing typed yet.
func (d *Desk) newForm(r *http.Request) form {
	return form{lang: language(r), Values: map[string]string{}, Faults: map[string]string{}, Was: d.shopSeen(),
		Saved: r.URL.Query().Has("saved")}
}

// typedForm is the form of a page as it was sent.
func (d *Desk) typedForm(r *http.Request) form {
	r.ParseForm() // the body was read for the token; what is damaged is missing
	f := d.newForm(r)
	for name, values := range r.PostForm {
		f.Values[name] = strings.TrimSpace(values[0])
	}
	f.Was = f.Values["was"]
	return f
}

// field is one field as the template draws it.
type field struct{ Name, Label, Unit, Value, Fault, Help string }

// Field is the field of that name, for the template: its label's key, its unit and its help's key, each
// empty for none.
func (f form) Field(name, label, unit, help string) field {
	return field{name, label, unit, f.Values[name], f.Faults[name], help}
}

// number reads a field; one that is empty gives fallback. What is wrong is kept beside the field.
func (f form) number(name, label, unit string, low, high, fallback float64) float64 {
	v, err := typed(f.Values[name], say(f.lang, label), unit, low, high, fallback, f.lang)
	if err != nil {
		f.Faults[name] = faultText(f.lang, err)
	}
	return v
}

// needed is number for a field that must be filled in.
func (f form) needed(name, label, unit string, low, high float64) float64 {
	if f.Values[name] == "" {
		f.Faults[name] = say(f.lang, "field.empty", "what", say(f.lang, label))
		return 0
	}
	return f.number(name, label, unit, low, high, 0)
}

func (f form) good() bool { return len(f.Faults) == 0 }

// text reads a field of at most so many characters.
func (f form) text(name, label string, most int) string {
	v := f.Values[name]
	if len([]rune(v)) > most {
		f.Faults[name] = say(f.lang, "field.long", "what", say(f.lang, label), "most", most)
	}
	return v
}

// shopNow are the settings. Where the file was changed meanwhile, by the terminal, they are read anew; one
// that does not hold is told in the log, and what held stays.
func (d *Desk) shopNow() shop.Shop {
	seen := d.shopSeen()
	d.shopping.Lock()
	defer d.shopping.Unlock()
	if seen == d.shopWas {
		return d.shop
	}
	d.shopWas = seen
	if s, err := loadShop(d.shopAt); err == nil {
		d.shop = s
	} else {
		d.logf("the shop's settings were changed and do not hold: %v", err)
	}
	return d.shop
}

// loadShop reads settings that can be chosen by.
func loadShop(path string) (shop.Shop, error) {
	s, err := shop.LoadOrDefault(path)
	if err == nil {
		_, err = s.Stock()
	}
	return s, err
}

// shopSeen tells one state of the settings' file from another; empty where there is none.
func (d *Desk) shopSeen() string {
	text, err := os.ReadFile(d.shopAt)
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// errShopChanged is the error of settings that another window, or a terminal, has changed meanwhile.
var errShopChanged = errors.New("the settings were changed meanwhile")

// saveShop changes the settings' file, where it still is what the page saw.
func (d *Desk) saveShop(was string, save func(path string) error) error {
	d.shopSaving.Lock()
	defer d.shopSaving.Unlock()
	if was != d.shopSeen() {
		return errShopChanged
	}
	if err := os.MkdirAll(filepath.Dir(d.shopAt), 0o700); err != nil {
		return err
	}
	if err := save(d.shopAt); err != nil {
		return err
	}
	d.shopNow()
	return nil
}

// both is a value as it was typed here, and as it is kept now.
func (f form) both(name, label, there string) difference {
	return difference{say(f.lang, label), orDash(f.Values[name]), orDash(there)}
}

// savedTo ends a page of settings: back to where it says that it is saved, or to the form with what is wrong.
// there are the values of this page and those that are kept now.
func (d *Desk) savedTo(w http.ResponseWriter, r *http.Request, f form, err error, to string,
	there []difference, again func(status int, f form) error) error {
	switch {
	case err == nil:
		return redirect(w, r, to)
	case errors.Is(err, errShopChanged):
		f.Notice, f.Was = say(f.lang, "shop.changed"), d.shopSeen()
		f.Conflict = slices.DeleteFunc(there, func(x difference) bool { return x.Ours == x.Theirs })
		return again(http.StatusConflict, f)
	}
	var faults *shop.Faults
	if errors.As(err, &faults) {
		f.Notice = say(f.lang, "shop.broken", "place", fmt.Sprintf("%s, %d", faults.Faults[0].File,
			faults.Faults[0].Line))
		d.logf("%v", err)
		return again(http.StatusConflict, f)
	}
	return err
}
