package desk

import (
	"fmt"
	"net/http"
	"os"
	"strconv"

	"rsc.io/qr"

	"sitspan/cmd/sitspan/internal/store"
)

// phoneLine is a paired device as the desk's pages list it.
type phoneLine struct {
	device
	Alias string // of the rider whose visit it photographs for; empty for none
	Here  bool   // it photographs for the visit in view
	Comes bool   // it was asked to come to the visit in view
}

// phones are the paired devices, seen from a visit; 0 for none.
func (d *Desk) phones(r *http.Request, visit int64) (lines []phoneLine) {
	for _, dev := range d.pairs.list() {
		l := phoneLine{device: dev, Here: visit != 0 && dev.Visit == visit, Comes: visit != 0 && dev.Asked == visit}
		if v, err := d.store.Visit(r.Context(), dev.Visit); err == nil {
			l.Alias = v.Alias
		}
		lines = append(lines, l)
	}
	return lines
}

// phoneData is what the page of phones shows.
type phoneData struct {
	Phones  []phoneLine
	Visit   *store.Visit // that a phone would photograph for
	Minutes int

	// Where a code is shown:
	Number  int
	Modules string
	Side    int
	Tablet  bool
	TLS     *lanTLS
	Others  []string
}

// phonePage lists the paired devices. It makes no code: looking changes nothing.
func (d *Desk) phonePage(w http.ResponseWriter, r *http.Request) error {
	data := phoneData{Minutes: int(codeLasts.Minutes())}
	var id int64
	fmt.Sscan(r.URL.Query().Get("visit"), &id)
	if v, err := d.store.Visit(r.Context(), id); err == nil {
		data.Visit = &v
	}
	data.Phones = d.phones(r, id)
	return d.show(w, r, "phone", frame{Title: d.say(r, "phone.title"), Visit: data.Visit, Data: data})
}

// newCode shows a code by which one device comes in, and voids the one before for the same visit.
func (d *Desk) newCode(w http.ResponseWriter, r *http.Request) error {
	if r.TLS != nil {
		return &refusal{http.StatusForbidden, d.say(r, "phone.here")} // a secret is shown on this computer only
	}
	if d.lan == nil {
		return &refusal{http.StatusConflict, d.say(r, "phone.off")}
	}
	data := phoneData{Minutes: int(codeLasts.Minutes()), TLS: d.lan, Others: d.lanURL[1:]}
	may := mayPhotograph
	var id int64
	if data.Tablet = r.PostFormValue("for") == "tablet"; data.Tablet {
		may = mayAll
	} else {
		fmt.Sscan(r.PostFormValue("visit"), &id)
		v, err := d.store.Visit(r.Context(), id)
		if err != nil {
			return err
		}
		data.Visit = &v
	}
	secret, number := d.pairs.offer(may, id)
	data.Number = number
	var err error
	if data.Modules, data.Side, err = modules(d.lanURL[0] + "/pair/" + secret); err != nil {
		return err
	}
	back := "/phone"
	if data.Visit != nil {
		back = fmt.Sprintf("/phone?visit=%d", data.Visit.ID)
	}
	return d.show(w, r, "code", frame{Title: d.say(r, "phone.title"), Visit: data.Visit, Here: back, Data: data})
}

// codeNow tells the page what became of the code on it.
func (d *Desk) codeNow(w http.ResponseWriter, r *http.Request) error {
	number, err := strconv.Atoi(r.PathValue("number"))
	if err != nil {
		return store.ErrNotFound
	}
	state := d.pairs.stateOf(number)
	return writeJSON(w, http.StatusOK, map[string]string{"state": string(state),
		"text": d.say(r, "code."+string(state))})
}

// modules is a QR code as a path of unit squares, its quiet zone of four modules included in the side
// (ISO/IEC 18004; the code's makers, at denso-wave.com, ask for four as well).
func modules(text string) (path string, side int, err error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return "", 0, err
	}
	const quiet = 4
	for y := range code.Size {
		for x := range code.Size {
			if code.Black(x, y) {
				path += fmt.Sprintf("M%d %dh1v1h-1z", x+quiet, y+quiet)
			}
		}
	}
	return path, code.Size + 2*quiet, nil
}

// forgetPhones sends one device away, or all.
func (d *Desk) forgetPhones(w http.ResponseWriter, r *http.Request) error {
	id, _ := strconv.Atoi(r.PostFormValue("device")) // none is 0: all
	if err := d.pairs.forget(id); err != nil {
		return err
	}
	return redirect(w, r, "/phone")
}

// askPhone asks a phone to come to a visit. It still has to say yes: its photos go nowhere else by
// themselves.
func (d *Desk) askPhone(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	id, _ := strconv.Atoi(r.PostFormValue("device"))
	known, err := d.pairs.change(id, func(dev *device) {
		if dev.Asked = v.ID; dev.Visit == v.ID || dev.May != mayPhotograph {
			dev.Asked = 0
		}
	})
	if err != nil {
		return err
	}
	if !known {
		return store.ErrNotFound
	}
	return redirect(w, r, fmt.Sprintf("/visits/%d/imprint", v.ID))
}

// authorityFile is the desk's own authority, for a phone that is to trust it.
func (d *Desk) authorityFile(w http.ResponseWriter, r *http.Request) error {
	if d.lan == nil {
		return store.ErrNotFound
	}
	data, err := os.ReadFile(d.lan.path)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/x-x509-ca-cert")
	w.Header().Set("Content-Disposition", `attachment; filename="sitspan-desk.pem"`)
	_, err = w.Write(data)
	return ignoreGone(err)
}
