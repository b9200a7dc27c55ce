package desk

import (
	"fmt"
	"net/http"
	"os"

	"rsc.io/qr"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/store"
)

// phonePage shows the code by which a phone comes in. Each showing makes a new
// secret, and voids the one before.
func (d *Desk) phonePage(w http.ResponseWriter, r *http.Request) error {
	may := mayPhotograph
	if r.URL.Query().Get("for") == "tablet" {
		may = mayAll
	}
	data := struct {
		Modules    string
		Side       int
		Address    string
		Others     []string
		TLS        *lanTLS
		Tablet     bool
		Devices    int
		Visit      *store.Visit
		Picture    string
		Minutes    int
		AuthorPath string
	}{TLS: d.lan, Tablet: may == mayAll, Devices: d.pairs.count(), Minutes: int(offerLasts.Minutes())}
	if r.TLS != nil {
		return &refusal{http.StatusForbidden, d.say(r, "phone.here")} // a secret is shown on this computer only
	}
	if id := d.active.Load(); id != 0 {
		if v, err := d.store.Visit(r.Context(), id); err == nil {
			data.Visit = &v
		}
	}
	if d.lan != nil {
		secret := d.pairs.offer(may)
		data.Address, data.Others = d.lanURL[0]+"/pair/"+secret, d.lanURL[1:]
		var err error
		if data.Modules, data.Side, err = modules(data.Address); err != nil {
			return err
		}
		data.AuthorPath = d.lan.path
	}
	return d.show(w, r, "phone", frame{Title: d.say(r, "phone.title"), Visit: data.Visit, Data: data})
}

// modules is a QR code as a path of unit squares, its quiet zone of four
// modules (ISO/IEC 18004, 6.3.8, from memory) included in the side.
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

func (d *Desk) forgetPhones(w http.ResponseWriter, r *http.Request) error {
	d.pairs.forget()
	return redirect(w, r, "/phone")
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

// LANHandler serves the local network. A stranger gets an empty 404 for
// everything but a secret that is on the screen now; a phone gets its camera's
// page; a tablet the whole desk.
func (d *Desk) LANHandler() http.Handler {
	all, phone, stranger := d.routes(), d.phoneRoutes(), d.strangerRoutes()
	return d.guarded(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch d.pairs.may(r) {
		case mayAll:
			if _, pattern := phone.Handler(r); pattern != "" {
				d.sameSite(phone).ServeHTTP(w, r)
				return
			}
			d.sameSite(all).ServeHTTP(w, r)
		case mayPhotograph:
			d.sameSite(phone).ServeHTTP(w, r)
		default:
			stranger.ServeHTTP(w, r)
		}
	}))
}

func nothing(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNotFound) }

// strangerRoutes are pairing's, and nothing.
func (d *Desk) strangerRoutes() *http.ServeMux {
	m := http.NewServeMux()
	m.HandleFunc("GET /pair/{secret}", d.limited(func(w http.ResponseWriter, r *http.Request) {
		if !d.pairs.known(r.PathValue("secret")) {
			nothing(w, r)
			return
		}
		if err := d.show(w, r, "pair", frame{Title: d.say(r, "pair.title"), Bare: true, Assets: r.URL.Path, Data: r.URL.Path}); err != nil {
			d.logf("pairing: %v", err)
			nothing(w, r)
		}
	}))
	m.HandleFunc("GET /pair/{secret}/{name}", d.limited(func(w http.ResponseWriter, r *http.Request) {
		if !d.pairs.known(r.PathValue("secret")) {
			nothing(w, r)
			return
		}
		serveAsset(w, r)
	}))
	m.Handle("POST /pair/{secret}", d.limited(d.admit))
	m.HandleFunc("/", nothing)
	return m
}

// limited lets nobody try once too many wrong secrets came.
func (d *Desk) limited(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if d.pairs.blocked() {
			w.Header().Set("Retry-After", "60")
			w.WriteHeader(http.StatusTooManyRequests)
			return
		}
		next(w, r)
	}
}

// admit takes a device in. The secret itself is the proof that the request is
// wanted; it works once.
func (d *Desk) admit(w http.ResponseWriter, r *http.Request) {
	if err := http.NewCrossOriginProtection().Check(r); err != nil {
		w.WriteHeader(http.StatusForbidden)
		return
	}
	key, may, ok := d.pairs.admit(r.PathValue("secret"))
	if !ok {
		nothing(w, r)
		return
	}
	http.SetCookie(w, &http.Cookie{Name: deviceCookie, Value: key, Path: "/", HttpOnly: true, Secure: true, SameSite: http.SameSiteStrictMode, MaxAge: int(deviceLasts.Seconds())})
	to := "/camera"
	if may == mayAll {
		to = "/"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// phoneRoutes are what a phone gets.
func (d *Desk) phoneRoutes() *http.ServeMux {
	m := http.NewServeMux()
	page := func(pattern string, h func(http.ResponseWriter, *http.Request) error) {
		m.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			if err := h(w, r); err != nil {
				d.fail(w, r, err)
			}
		})
	}
	m.HandleFunc("GET /assets/{name}", serveAsset)
	page("POST /language", d.setLanguage)
	page("GET /camera", d.cameraPage)
	page("POST /camera/photos", d.uploadByPhone)
	page("GET /camera/photos/{id}", d.verdict)
	return m
}

func (d *Desk) cameraPage(w http.ResponseWriter, r *http.Request) error {
	var visit *store.Visit
	if v, err := d.store.Visit(r.Context(), d.active.Load()); err == nil {
		visit = &v
	}
	return d.show(w, r, "camera", frame{Title: d.say(r, "camera.title"), Bare: true, Data: visit})
}

func (d *Desk) uploadByPhone(w http.ResponseWriter, r *http.Request) error {
	v, err := d.store.Visit(r.Context(), d.active.Load())
	if err != nil {
		return &refusal{http.StatusConflict, d.say(r, "camera.no.visit")}
	}
	return d.receive(w, r, v.ID, "phone")
}

// verdict tells a phone whether its photo is good, and nothing of the rider.
func (d *Desk) verdict(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	shot, err := d.store.Shot(r.Context(), id)
	if err != nil || shot.Via != "phone" || shot.VisitID != d.active.Load() {
		return store.ErrNotFound
	}
	if m, ok := d.earlyOf(id); ok {
		return writeJSON(w, http.StatusOK, d.verdictOf(r, m))
	}
	records, err := d.store.Records(r.Context(), shot.VisitID)
	if err != nil {
		return err
	}
	for i := len(records) - 1; i >= 0; i-- {
		if k := records[i]; k.ShotID == id && k.Kind == store.OfPhoto {
			return writeJSON(w, http.StatusOK, d.verdictOf(r, k.Record.Measurement))
		}
	}
	return writeJSON(w, http.StatusOK, map[string]any{"state": "waiting"})
}

func (d *Desk) verdictOf(r *http.Request, m record.Measurement) map[string]any {
	lang := language(r)
	out := map[string]any{"state": m.Status, "good": m.Status == record.Measured, "title": say(lang, "camera.good"), "text": say(lang, "camera.good.text")}
	if m.Status == record.Measured {
		return out
	}
	out["title"] = say(lang, "camera.again")
	if m.Status == record.Review {
		out["title"] = say(lang, "camera.doubt")
	}
	out["text"] = ""
	if len(m.Reasons) > 0 {
		s := speak(sentence.OfReason(lang, m.Reasons[0]))
		out["text"], out["hint"] = s.Seen, s.Do
	}
	return out
}
