package desk

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // logos are PNG or JPEG
	"image/png"
	"io"
	"math"
	"net/http"
	"os"
	"slices"
	"strings"

	"github.com/disintegration/imaging"

	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
)

// logoName is the logo's file beside the settings.
const logoName = "logo.png"

// languageLine is a language in the list of those that the desk offers.
type languageLine struct {
	Code, Name string
	Offered    bool
	First      bool
}

type nameData struct {
	form
	Languages []languageLine
	Logo      bool
	LogoSeen  string // changes with the logo, so that the browser asks for it anew
}

func (d *Desk) showName(w http.ResponseWriter, r *http.Request, status int, f form, codes []string,
	first string) error {
	s := d.shopNow()
	data := nameData{form: f}
	if info, err := os.Stat(s.LogoFile); s.LogoFile != "" && err == nil {
		data.Logo, data.LogoSeen = true, info.ModTime().Format("150405.000")
	}
	for _, l := range words.Langs() {
		code := string(l)
		data.Languages = append(data.Languages, languageLine{code, l.Name(),
			len(codes) == 0 || slices.Contains(codes, code), code == first})
	}
	return d.showStatus(w, r, status, "settings-name", frame{Title: d.say(r, "shop.name"), Data: data,
		Here: "/settings/name"})
}

func (d *Desk) namePage(w http.ResponseWriter, r *http.Request) error {
	s, f := d.shopNow(), d.newForm(r)
	f.Values["name"], f.Values["address"], f.Values["fitter"] = s.Name, s.Address, s.Fitter
	if s.NextLook > 0 {
		f.Values["next"] = fmt.Sprint(s.NextLook)
	}
	first := ""
	if len(s.Languages) > 0 {
		first = s.Languages[0]
	}
	return d.showName(w, r, http.StatusOK, f, s.Languages, first)
}

func (d *Desk) saveName(w http.ResponseWriter, r *http.Request) error {
	f := d.typedForm(r)
	id := shop.Identity{Name: f.text("name", "shop.name.name", 80), Address: addressOf(f.text("address",
		"shop.name.address", 300))}
	id.Fitter = f.text("fitter", "shop.name.fitter", 60)
	const years = 520 // weeks: ten years
	id.NextLook = int(math.Round(f.number("next", "shop.name.next", "", 1, years, 0)))
	if strings.Count(id.Address, "\n") > 3 {
		f.Faults["address"] = say(f.lang, "shop.address.lines")
	}
	first := r.PostForm.Get("first")
	for _, l := range words.Langs() {
		if code := string(l); code == first || slices.Contains(r.PostForm["language"], code) {
			id.Languages = append(id.Languages, code)
		}
	}
	if i := slices.Index(id.Languages, first); i > 0 {
		id.Languages = append([]string{first}, slices.Delete(id.Languages, i, i+1)...)
	}
	again := func(status int, f form) error { return d.showName(w, r, status, f, id.Languages, first) }
	if len(id.Languages) == 0 {
		f.Faults["language"] = say(f.lang, "shop.language.none")
	}
	if len(id.Languages) == len(words.Langs()) && first == "" {
		id.Languages = nil // all, as the browser asks for them
	}
	if !f.good() {
		return again(http.StatusUnprocessableEntity, f)
	}
	if s := d.shopNow(); s.LogoFile != "" {
		id.Logo = d.besideShop(s.LogoFile)
	}
	err := d.saveShop(f.Was, func(path string) error { return shop.SaveIdentity(path, id) })
	return d.savedTo(w, r, f, err, "/settings/name?saved", d.bothNames(f), again)
}

// bothNames are the page's values and those that are kept.
func (d *Desk) bothNames(f form) []difference {
	s, next := d.shopNow(), ""
	if s.NextLook > 0 {
		next = fmt.Sprint(s.NextLook)
	}
	return []difference{f.both("name", "shop.name.name", s.Name),
		f.both("address", "shop.name.address", s.Address),
		f.both("fitter", "shop.name.fitter", s.Fitter), f.both("next", "shop.name.next", next)}
}

// addressOf is an address without blanks at its lines' ends.
func addressOf(text string) string {
	var lines []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" {
			lines = append(lines, line)
		}
	}
	return strings.Join(lines, "\n")
}

// besideShop is how the settings' file names a file.
func (d *Desk) besideShop(path string) string {
	if name, inside := strings.CutPrefix(path, shop.FileBeside(d.shopAt, "")+"/"); inside {
		return name
	}
	return path
}

// The bounds of a logo: its file, and the picture in it, whose longer side is made logoSide px.
const (
	mostLogoBytes  = 8 << 20
	mostLogoPixels = 40_000_000
	logoSide       = 1200
)

// saveLogo takes a picture and keeps it as a PNG beside the settings, where they still are what the page saw.
func (d *Desk) saveLogo(w http.ResponseWriter, r *http.Request) error {
	data, err := oneFile(w, r, mostLogoBytes)
	if err != nil {
		return &refusal{http.StatusRequestEntityTooLarge, d.say(r, "logo.wrong")}
	}
	size, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil || size.Width*size.Height > mostLogoPixels {
		return &refusal{http.StatusUnsupportedMediaType, d.say(r, "logo.wrong")}
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return &refusal{http.StatusUnsupportedMediaType, d.say(r, "logo.wrong")}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, imaging.Fit(img, logoSide, logoSide, imaging.Lanczos)); err != nil {
		return err
	}
	err = d.saveShop(r.URL.Query().Get("was"), func(path string) error {
		if err := wholefile.Bytes(shop.FileBeside(path, logoName), out.Bytes()); err != nil {
			return err
		}
		return shop.SaveIdentity(path, d.identity(logoName))
	})
	if errors.Is(err, errShopChanged) {
		return &refusal{http.StatusConflict, d.say(r, "logo.changed")}
	}
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]string{"go": "/settings/name?saved"})
}

// identity is the settings' own, with another logo.
func (d *Desk) identity(logo string) shop.Identity {
	s := d.shopNow()
	return shop.Identity{Name: s.Name, Address: s.Address, Languages: s.Languages, Logo: logo, Fitter: s.Fitter,
		NextLook: s.NextLook}
}

// removeLogo takes the logo off the sheet. Its file stays.
func (d *Desk) removeLogo(w http.ResponseWriter, r *http.Request) error {
	err := d.saveShop(r.PostFormValue("was"), func(path string) error {
		return shop.SaveIdentity(path, d.identity(""))
	})
	if errors.Is(err, errShopChanged) {
		return &refusal{http.StatusConflict, d.say(r, "logo.changed")}
	}
	if err != nil {
		return err
	}
	return redirect(w, r, "/settings/name?saved")
}

func (d *Desk) logoFile(w http.ResponseWriter, r *http.Request) error {
	img := d.logo()
	if img == nil {
		return store.ErrNotFound
	}
	w.Header().Set("Content-Type", "image/png")
	return ignoreGone(png.Encode(w, img))
}

// logo is the shop's logo; nil where there is none that can be read.
func (d *Desk) logo() image.Image {
	img, err := d.shopNow().Logo()
	if err != nil {
		d.logf("the shop's logo: %v", err)
	}
	return img
}

// oneFile reads the only file of an upload, whatever its field.
func oneFile(w http.ResponseWriter, r *http.Request, most int64) ([]byte, error) {
	r.Body = http.MaxBytesReader(w, r.Body, most+1<<16)
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, err
	}
	for {
		part, err := parts.NextPart()
		if err != nil {
			return nil, err
		}
		if part.FileName() == "" {
			continue
		}
		data, err := io.ReadAll(io.LimitReader(part, most+1))
		if err == nil && int64(len(data)) > most {
			err = errors.New("the file is too large")
		}
		return data, err
	}
}
