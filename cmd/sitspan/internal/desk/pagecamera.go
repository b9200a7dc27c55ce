package desk

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/store"
)

// LANHandler serves the local network. A stranger gets an empty 404 for everything but a code that is, or
// was, on the screen; a phone its camera's page; a tablet the whole desk. A device that was sent away is
// told so.
func (d *Desk) LANHandler() http.Handler {
	all, phone, stranger := d.routes(), d.phoneRoutes(), d.strangerRoutes()
	return d.guarded(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		dev, gone := d.pairs.of(r)
		_, pairs := stranger.Handler(r)
		switch {
		case dev.May == mayAll:
			d.sameSite(all).ServeHTTP(w, r)
		case dev.May == mayPhotograph && pairs == "/":
			d.sameSite(phone).ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), deviceKey{}, dev)))
		case gone && pairs == "/":
			d.goneDevice(w, r)
		default:
			stranger.ServeHTTP(w, r)
		}
	}))
}

type deviceKey struct{}

// deviceOf is the phone that a request came from.
func deviceOf(r *http.Request) device {
	dev, _ := r.Context().Value(deviceKey{}).(device)
	return dev
}

func nothing(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNotFound) }

// goneDevice tells a device that was sent away, or whose day is over.
func (d *Desk) goneDevice(w http.ResponseWriter, r *http.Request) {
	if slices.Contains([]string{"/assets/desk.css", "/assets/stage.css", "/assets/mark.svg"}, r.URL.Path) {
		serveAsset(w, r)
		return
	}
	if wantsJSON(r) {
		writeJSON(w, http.StatusGone, map[string]any{"gone": true, "error": d.say(r, "device.gone")})
		return
	}
	f := frame{Title: d.say(r, "device.gone.title"), Bare: true, Data: d.say(r, "device.gone")}
	if err := d.showStatus(w, r, http.StatusGone, "notice", f); err != nil {
		d.logf("a device that was sent away: %v", err)
	}
}

// strangerRoutes are pairing's, and nothing.
func (d *Desk) strangerRoutes() *http.ServeMux {
	m := http.NewServeMux()
	m.HandleFunc("GET /pair/{secret}", d.limited(func(w http.ResponseWriter, r *http.Request) {
		d.pairPage(w, r, d.pairs.state(r.PathValue("secret")))
	}))
	m.HandleFunc("GET /pair/{secret}/{name}", d.limited(func(w http.ResponseWriter, r *http.Request) {
		if d.pairs.state(r.PathValue("secret")) == codeNone {
			nothing(w, r)
			return
		}
		serveAsset(w, r)
	}))
	m.Handle("POST /pair/{secret}", d.limited(d.admit))
	m.HandleFunc("/", nothing)
	return m
}

// pairPage asks a phone whether it wants to join, or says why its code no longer holds.
func (d *Desk) pairPage(w http.ResponseWriter, r *http.Request, s codeState) {
	f := frame{Title: d.say(r, "pair.title"), Bare: true, Assets: r.URL.Path, Data: r.URL.Path}
	status, page := http.StatusOK, "pair"
	switch s {
	case codeNone:
		nothing(w, r)
		return
	case codeOpen:
	default:
		status, page = http.StatusGone, "notice"
		f.Title, f.Data = d.say(r, "code."+string(s)+".title"), d.say(r, "code."+string(s))
	}
	if err := d.showStatus(w, r, status, page, f); err != nil {
		d.logf("pairing: %v", err)
		nothing(w, r)
	}
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

// admit takes a device in. The secret itself is the proof that the request is wanted; it works once.
func (d *Desk) admit(w http.ResponseWriter, r *http.Request) {
	if err := http.NewCrossOriginProtection().Check(r); err != nil {
		w.WriteHeader(http.StatusForbidden)
		return
	}
	key, dev, state, err := d.pairs.admit(r.PathValue("secret"))
	if err != nil {
		d.logf("a paired device is not kept, and must be paired again when the desk is opened anew: %v", err)
	}
	if state != codeOpen {
		d.pairPage(w, r, state)
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: deviceCookie, Value: key, Path: "/", HttpOnly: true, Secure: true, SameSite: http.SameSiteStrictMode,
		// for a while longer, so that it can be told that its day is over
		MaxAge: int((deviceLasts + codesKept).Seconds()),
	})
	to := "/camera"
	if dev.May == mayAll {
		to = "/"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// phoneRoutes are what a phone gets.
func (d *Desk) phoneRoutes() *http.ServeMux {
	m := http.NewServeMux()
	page := d.pageOn(m)
	m.HandleFunc("GET /assets/{name}", serveAsset)
	page("POST /language", d.setLanguage)
	page("GET /camera", d.cameraPage)
	page("GET /camera/state", d.cameraState)
	page("POST /camera/visit", d.comeToVisit)
	page("POST /camera/visits/{id}/photos", d.uploadByPhone)
	page("GET /camera/photos/{id}", d.verdictForPhone)
	return m
}

func (d *Desk) cameraPage(w http.ResponseWriter, r *http.Request) error {
	var visit *store.Visit
	if v, err := d.store.Visit(r.Context(), deviceOf(r).Visit); err == nil {
		visit = &v
	}
	return d.show(w, r, "camera", frame{Title: d.say(r, "camera.title"), Bare: true, Data: visit})
}

// place is a visit as a phone may know of it.
type place struct {
	Visit int64  `json:"visit"`
	Alias string `json:"alias"`
}

func (d *Desk) placeOf(r *http.Request, visit int64) *place {
	v, err := d.store.Visit(r.Context(), visit)
	if err != nil {
		return nil
	}
	return &place{v.ID, v.Alias}
}

// cameraState says for which visit a phone photographs, and to which it is asked to come; of no other.
func (d *Desk) cameraState(w http.ResponseWriter, r *http.Request) error {
	dev := deviceOf(r)
	return writeJSON(w, http.StatusOK, map[string]*place{"here": d.placeOf(r, dev.Visit),
		"asked": d.placeOf(r, dev.Asked)})
}

// comeToVisit is a phone's answer to being asked: the visit that it comes to, or 0.
func (d *Desk) comeToVisit(w http.ResponseWriter, r *http.Request) error {
	var said struct{ Visit int64 }
	if err := readJSON(r, &said); err != nil {
		return err
	}
	dev, other := deviceOf(r), false
	_, err := d.pairs.change(dev.ID, func(dev *device) {
		if other = said.Visit != 0 && said.Visit != dev.Asked; other {
			return
		}
		if said.Visit != 0 {
			dev.Visit = said.Visit
		}
		dev.Asked = 0
	})
	if err != nil {
		return err
	}
	if other {
		return &refusal{http.StatusConflict, d.say(r, "camera.other")}
	}
	return writeJSON(w, http.StatusOK, map[string]*place{"here": d.placeOf(r, max(said.Visit, 0))})
}

// uploadByPhone takes photos for the visit that the phone names, which must be the one that it is paired
// for.
func (d *Desk) uploadByPhone(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	if id != deviceOf(r).Visit {
		return &refusal{http.StatusConflict, d.say(r, "camera.other")}
	}
	if _, err := d.store.Visit(r.Context(), id); err != nil {
		return &refusal{http.StatusConflict, d.say(r, "camera.no.visit")}
	}
	return d.receive(w, r, id, "phone")
}

// verdictForPhone tells a phone whether a photo of its visit is good, and nothing of the rider. It may have
// sent one that came from the desk, too.
func (d *Desk) verdictForPhone(w http.ResponseWriter, r *http.Request) error {
	return d.verdict(w, r, func(s store.Shot) bool { return s.VisitID == deviceOf(r).Visit })
}

// verdictAtDesk is the same for the desk's own uploads.
func (d *Desk) verdictAtDesk(w http.ResponseWriter, r *http.Request) error {
	return d.verdict(w, r, func(store.Shot) bool { return true })
}

func (d *Desk) verdict(w http.ResponseWriter, r *http.Request, mayKnow func(store.Shot) bool) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	shot, err := d.store.Shot(r.Context(), id)
	if err != nil || !mayKnow(shot) {
		return store.ErrNotFound
	}
	said := d.verdictOf
	if r.URL.Query().Has("again") {
		where, err := d.whereIn(r, shot)
		if err != nil {
			return err
		}
		said = func(r *http.Request, m record.Measurement) map[string]any { return again(where, d.verdictOf(r, m)) }
	}
	if m, ok := d.earlyOf(id); ok {
		return writeJSON(w, http.StatusOK, said(r, m))
	}
	records, err := d.store.Records(r.Context(), shot.VisitID)
	if err != nil {
		return err
	}
	for i := len(records) - 1; i >= 0; i-- {
		if k := records[i]; k.ShotID == id && k.Kind == store.OfPhoto {
			return writeJSON(w, http.StatusOK, said(r, k.Record.Measurement))
		}
	}
	state := "waiting"
	if !d.isBusy(shotKey(id)) {
		state = "unkept" // the disk was full: see the desk's log
	}
	return writeJSON(w, http.StatusOK, map[string]any{"state": state, "title": d.say(r, "camera.again"),
		"text": d.say(r, "status.unkept")})
}

// whereIn says that a photo is in its visit already, and where.
func (d *Desk) whereIn(r *http.Request, shot store.Shot) (string, error) {
	shots, err := d.store.Shots(r.Context(), shot.VisitID)
	at := 1 + slices.IndexFunc(shots, func(s store.Shot) bool { return s.ID == shot.ID })
	text := d.say(r, "upload.again", "n", at, "name", shot.Name)
	if shot.LeftOut {
		text += " " + d.say(r, "upload.again.out")
	}
	return text, err
}

// again is what is said of a photo that was sent once more: where it is, then what it is worth.
func again(where string, said map[string]any) map[string]any {
	text, _ := said["text"].(string)
	if good, _ := said["good"].(bool); good {
		text = "" // the advice for the next photo was given before
	}
	said["text"] = strings.TrimSpace(where + " " + text)
	return said
}

func (d *Desk) verdictOf(r *http.Request, m record.Measurement) map[string]any {
	lang := language(r)
	out := map[string]any{
		"state": m.Status, "good": m.Status == record.Measured, "title": say(lang, "camera.good"),
		"text": say(lang, "camera.good.text"),
	}
	if m.Status == record.Measured {
		return out
	}
	if isPart(m) {
		out["good"], out["text"] = true, say(lang, "camera.part")
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
