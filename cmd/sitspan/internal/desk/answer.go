package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"

	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
)

// frame is what every page is drawn with.
type frame struct {
	Lang    words.Lang
	Offered []words.Lang // that the shop has chosen
	Token   string
	Once    string // of this page's forms that make something new: sent twice, they make one
	Title   string
	Step    int          // 1 to 4 within a visit, else 0
	Visit   *store.Visit // nil outside a visit
	Here    string       // this page's own address; empty for the request's
	LAN     bool         // the desk lets phones in
	Tab     bool         // a paired device shows this page
	Bare    bool         // a phone's page, without the desk's head
	Assets  string       // where the built-in files are asked for
	Data    any
}

// show draws a page.
func (d *Desk) show(w http.ResponseWriter, r *http.Request, name string, f frame) error {
	return d.showStatus(w, r, http.StatusOK, name, f)
}

func (d *Desk) showStatus(w http.ResponseWriter, r *http.Request, status int, name string, f frame) error {
	f.Offered = offered(r)
	f.Lang, f.Token, f.LAN, f.Tab = language(r), d.token(visitor(w, r)), d.lan != nil, r.TLS != nil
	f.Once = randomHex(16)
	if f.Here == "" {
		f.Here = r.URL.RequestURI()
	}
	if f.Assets == "" {
		f.Assets = "/assets"
	}
	var b bytes.Buffer
	if err := d.views[f.Lang][name].ExecuteTemplate(&b, f.layout(name), f); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, err := w.Write(b.Bytes())
	return ignoreGone(err)
}

// layout is the template that a page starts from.
func (f frame) layout(name string) string {
	if strings.HasPrefix(name, "part-") {
		return "part"
	}
	return "layout"
}

// ignoreGone: nobody is there to be told that the connection broke.
func ignoreGone(error) error { return nil }

// fail tells an error, as a page or, to a script, as JSON.
func (d *Desk) fail(w http.ResponseWriter, r *http.Request, err error) {
	status, text := statusOf(err), faultText(language(r), err)
	switch {
	case errors.Is(err, store.ErrDiskFull):
		text = d.say(r, "disk.full")
	case errors.Is(err, store.ErrNotFound):
		text = d.say(r, "not.found")
	case errors.Is(err, errBusy):
		text = d.say(r, "busy")
	case status == http.StatusInternalServerError:
		d.logf("%s: %v", r.Pattern, err)
		text = d.say(r, "inside") + " (" + text + ")"
	}
	if wantsJSON(r) {
		writeJSON(w, status, map[string]string{"error": text, "field": fieldOf(err)})
		return
	}
	if err := d.showStatus(w, r, status, "message", frame{Title: d.say(r, "message.title"), Here: backOf(r),
		Data: text}); err != nil {
		d.logf("%s: %v", r.Pattern, err)
		http.Error(w, text, status)
	}
}

// backOf is where a language's button on an error's page leads: to the page itself, where it can be asked
// for.
func backOf(r *http.Request) string {
	if r.Method != http.MethodGet {
		return "/"
	}
	return ""
}

func wantsJSON(r *http.Request) bool {
	return isUpload(r) || strings.HasPrefix(r.Header.Get("Accept"), "application/json")
}

func statusOf(err error) int {
	var refused *refusal
	switch {
	case errors.As(err, &refused):
		return refused.status
	case errors.Is(err, store.ErrNotFound):
		return http.StatusNotFound
	case errors.Is(err, store.ErrDiskFull):
		return http.StatusInsufficientStorage
	case errors.Is(err, errBusy):
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

func writeJSON(w http.ResponseWriter, status int, v any) error {
	text, err := json.Marshal(v)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_, err = w.Write(text)
	return ignoreGone(err)
}

// readJSON reads a script's request.
func readJSON(r *http.Request, into any) error {
	if err := json.NewDecoder(r.Body).Decode(into); err != nil {
		return &refusal{http.StatusBadRequest, language(r).Say("error.desk.request", words.Values{"why": err})}
	}
	return nil
}

// redirect sends the browser on after a form was taken.
func redirect(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// idOf is the number in a route; what is no number is not found.
func idOf(r *http.Request) (int64, error) {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil || id <= 0 {
		return 0, store.ErrNotFound
	}
	return id, nil
}

func (d *Desk) visitOf(r *http.Request) (store.Visit, error) {
	id, err := idOf(r)
	if err != nil {
		return store.Visit{}, err
	}
	return d.store.Visit(r.Context(), id)
}

// serveAsset gives one of the built-in files, by its name alone.
func serveAsset(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	data, err := fs.ReadFile(files, path.Join("assets", path.Base(name)))
	if err != nil {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", mime.TypeByExtension(path.Ext(name)))
	w.Header().Set("Cache-Control", "no-cache")
	http.ServeContent(w, r, name, started, bytes.NewReader(data))
}

// The cookie of the language.
const languageCookie = "sitspan_language"

// offeredKey is where a request holds the languages that the shop has chosen.
type offeredKey struct{}

// inItsLanguages tells every request the shop's languages.
func (d *Desk) inItsLanguages(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		with := r.WithContext(context.WithValue(r.Context(), offeredKey{}, d.shopNow().Languages))
		next.ServeHTTP(w, with)
		r.Pattern = with.Pattern // for the log, which has the request as it came
	})
}

// offered are the languages that the shop has chosen; all where it has chosen none.
func offered(r *http.Request) (langs []words.Lang) {
	codes, _ := r.Context().Value(offeredKey{}).([]string)
	for _, code := range codes {
		if l := words.Lang(code); slices.Contains(words.Langs(), l) {
			langs = append(langs, l)
		}
	}
	if len(langs) == 0 {
		return words.Langs()
	}
	return langs
}

// language is the one chosen on a page, else the browser's, of those that the shop offers. The shop's first
// is taken where it has chosen, and the page has not.
func language(r *http.Request) words.Lang {
	langs := offered(r)
	if c, err := r.Cookie(languageCookie); err == nil {
		if l, err := words.Parse(c.Value); err == nil && slices.Contains(langs, l) {
			return l
		}
	}
	if codes, _ := r.Context().Value(offeredKey{}).([]string); len(codes) > 0 {
		return langs[0]
	}
	return words.FromAcceptLanguage(r.Header.Get("Accept-Language"))
}

func (d *Desk) setLanguage(w http.ResponseWriter, r *http.Request) error {
	l, err := words.Parse(r.PostFormValue("language"))
	if err != nil {
		return &refusal{http.StatusBadRequest, faultText(language(r), err)}
	}
	http.SetCookie(w, &http.Cookie{Name: languageCookie, Value: string(l), Path: "/", HttpOnly: true,
		SameSite: http.SameSiteStrictMode, MaxAge: 365 * 24 * 3600, Secure: r.TLS != nil})
	back := r.PostFormValue("back")
	if !strings.HasPrefix(back, "/") || strings.HasPrefix(back, "//") || strings.Contains(back, `\`) {
		back = "/"
	}
	return redirect(w, r, back)
}

func (d *Desk) say(r *http.Request, key string, pairs ...any) string {
	return say(language(r), key, pairs...)
}
