package desk

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"time"
)

// policy is what a page of ours may do: load our own files, show a picture that
// the fitter has just chosen (blob:), talk to us. No inline script or style, no
// other site, no frame but the sheet.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src " +
	"'self'; " +
	"frame-src 'self'; object-src 'none'; form-action 'self'; frame-ancestors 'self'; base-uri 'none'"

// guarded puts the checks that every request passes before a handler.
func (d *Desk) guarded(next http.Handler) http.Handler {
	return d.logged(onlyOurHost(withHeaders(bounded(d.gated(d.inItsLanguages(next))))))
}

// logged writes a line a request: method, route and status. The route is the
// pattern, never the address, which may hold a secret.
func (d *Desk) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s := &statusWriter{ResponseWriter: w, status: http.StatusOK}
		start := time.Now()
		defer func() {
			if p := recover(); p != nil {
				d.logf("panic in %s: %v", r.Pattern, p)
				if !s.wrote {
					http.Error(s, "something went wrong inside; nothing was changed", http.StatusInternalServerError)
				}
			}
			if s.status >= 400 {
				d.logf("%s %s %d %s", r.Method, r.Pattern, s.status, time.Since(start).Round(time.Millisecond))
			}
		}()
		next.ServeHTTP(s, r)
	})
}

type statusWriter struct {
	http.ResponseWriter
	status int
	wrote  bool
}

// WriteHeader notes the status.
func (s *statusWriter) WriteHeader(status int) {
	s.status, s.wrote = status, true
	s.ResponseWriter.WriteHeader(status)
}

// Write notes that something was written.
func (s *statusWriter) Write(b []byte) (int, error) {
	s.wrote = true
	return s.ResponseWriter.Write(b)
}

// Unwrap lets http.ResponseController through.
func (s *statusWriter) Unwrap() http.ResponseWriter { return s.ResponseWriter }

// onlyOurHost lets a request through that names the address it came in by, or
// localhost where that is this computer. A page elsewhere whose name was bent to
// this address (DNS rebinding) names itself, and gets nothing.
func onlyOurHost(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		local, _ := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
		if local == nil || !namesUs(r.Host, local.String()) {
			http.Error(w, "this desk answers to its own address only", http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}

func namesUs(host, local string) bool {
	at, err := netip.ParseAddrPort(local)
	if err != nil {
		return false
	}
	name, port, err := net.SplitHostPort(host)
	if err != nil || port != strconv.Itoa(int(at.Port())) {
		return false
	}
	if name == "localhost" {
		return at.Addr().Unmap().IsLoopback()
	}
	ip, err := netip.ParseAddr(name)
	return err == nil && ip.Unmap() == at.Addr().Unmap()
}

func withHeaders(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// mostFormBytes bounds a request that is no upload.
const mostFormBytes = 1 << 20

// bounded bounds all bodies but an upload's, which its handler bounds.
func bounded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !isUpload(r) {
			r.Body = http.MaxBytesReader(w, r.Body, mostFormBytes)
		}
		next.ServeHTTP(w, r)
	})
}

// The cookie that a page's token belongs to.
const visitorCookie = "sitspan_page"

// visitor is the browser's own random number; a new one where it has none.
func visitor(w http.ResponseWriter, r *http.Request) string {
	if c, err := r.Cookie(visitorCookie); err == nil && len(c.Value) == 64 {
		return c.Value
	}
	v := randomHex(32)
	http.SetCookie(w, &http.Cookie{Name: visitorCookie, Value: v, Path: "/", HttpOnly: true,
		SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil})
	r.AddCookie(&http.Cookie{Name: visitorCookie, Value: v})
	return v
}

func randomHex(bytes int) string {
	b := make([]byte, bytes)
	rand.Read(b) // never fails: crypto/rand ends the program instead
	return hex.EncodeToString(b)
}

// token is what a form of this browser must send along.
func (d *Desk) token(visitor string) string {
	d.mu.Lock()
	m := hmac.New(sha256.New, d.key)
	d.mu.Unlock()
	m.Write([]byte(visitor))
	return hex.EncodeToString(m.Sum(nil))
}

// tokenHeader carries the token of a script's request.
const tokenHeader = "X-Sitspan-Token"

// foreign says whether another site's page asks for something, but for leading the window itself here.
func foreign(r *http.Request) bool {
	switch r.Header.Get("Sec-Fetch-Site") {
	case "", "same-origin", "none":
		return false
	}
	return r.Header.Get("Sec-Fetch-Mode") != "navigate" || r.Header.Get("Sec-Fetch-Dest") != "document"
}

// sameSite refuses a request that changes something and does not come from a page of ours: by the
// browser's own word (Sec-Fetch-Site, Origin), and by the token. Other sites may lead a person here, and
// nothing else: what their pages ask for behind a person's back gets no answer.
func (d *Desk) sameSite(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodGet || r.Method == http.MethodHead {
			if foreign(r) {
				d.fail(w, r, &refusal{http.StatusForbidden, d.say(r, "page.foreign")})
				return
			}
			next.ServeHTTP(w, r)
			return
		}
		if err := cross.Check(r); err != nil {
			d.fail(w, r, &refusal{http.StatusForbidden, d.say(r, "page.foreign")})
			return
		}
		sent := r.Header.Get(tokenHeader)
		if sent == "" && !isUpload(r) {
			sent = r.PostFormValue("token")
		}
		c, err := r.Cookie(visitorCookie)
		if err != nil || !hmac.Equal([]byte(sent), []byte(d.token(c.Value))) {
			d.fail(w, r, &refusal{http.StatusForbidden, d.say(r, "page.old")})
			return
		}
		next.ServeHTTP(w, r)
	})
}
