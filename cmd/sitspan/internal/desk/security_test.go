package desk

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/photo"
)

func TestNothingChangesWithoutTheToken(t *testing.T) {
	b := open(t, options{})
	b.visit("Robin")
	post := func(change func(*http.Request)) int {
		r, err := http.NewRequest("POST", b.url+"/visits",
			strings.NewReader(url.Values{"alias": {"Mallory"}}.Encode()))
		require.NoError(t, err)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		change(r)
		answer, err := b.http.Do(r)
		require.NoError(t, err)
		answer.Body.Close()
		return answer.StatusCode
	}
	token := b.pageToken()
	assert.Equal(t, 403, post(func(*http.Request) {}), "no token")
	assert.Equal(t, 403, post(func(r *http.Request) { r.Header.Set(tokenHeader, strings.Repeat("0", 64)) }),
		"a wrong one")
	other := b.browser()
	r, err := http.NewRequest("POST", b.url+"/visits", nil)
	require.NoError(t, err)
	r.Header.Set(tokenHeader, token)
	answer, err := other.Do(r)
	require.NoError(t, err)
	answer.Body.Close()
	assert.Equal(t, 403, answer.StatusCode, "another browser's")
	assert.Equal(t, 403, post(func(r *http.Request) {
		r.Header.Set(tokenHeader, token)
		r.Header.Set("Sec-Fetch-Site", "cross-site")
	}), "another site's page")
	assert.Equal(t, 403, post(func(r *http.Request) {
		r.Header.Set(tokenHeader, token)
		r.Header.Set("Origin", "http://evil.example")
	}), "another origin")
	assert.Equal(t, 303, post(func(r *http.Request) { r.Header.Set(tokenHeader, token) }), "the page itself")
	riders, err := b.store.Riders(t.Context(), "Mallory", 10)
	require.NoError(t, err)
	require.Len(t, riders, 1)
	assert.Equal(t, 1, riders[0].Visits)
}

// TestEveryChangingRouteWantsTheToken walks the routes themselves.
func TestEveryChangingRouteWantsTheToken(t *testing.T) {
	b := open(t, options{})
	b.visit("Robin")
	text, err := os.ReadFile("desk.go")
	require.NoError(t, err)
	n := 0
	for _, part := range strings.Split(string(text), `page("POST `)[1:] {
		path, _, _ := strings.Cut(part, `"`)
		r, err := b.http.Post(b.url+strings.ReplaceAll(path, "{id}", "1"), "application/x-www-form-urlencoded", nil)
		require.NoError(t, err)
		r.Body.Close()
		assert.Equal(t, 403, r.StatusCode, path)
		n++
	}
	assert.Greater(t, n, 12)
}

func TestOnlyItsOwnNameIsAnswered(t *testing.T) {
	b := open(t, options{withLAN: true})
	port := b.url[strings.LastIndex(b.url, ":"):]
	for host, want := range map[string]int{
		"127.0.0.1" + port: 200, "localhost" + port: 200,
		"evil.example" + port: 421, "evil.example": 421, "127.0.0.1": 421, "127.0.0.1:1": 421, "127.0.0.2" +
			port: 421, "localhost.evil.example" + port: 421, "[::1]" + port: 421,
	} {
		r, err := http.NewRequest("GET", b.url, nil)
		require.NoError(t, err)
		r.Host = host
		answer, err := b.http.Do(r)
		require.NoError(t, err)
		answer.Body.Close()
		assert.Equal(t, want, answer.StatusCode, host)
	}
	assert.True(t, namesUs("[::1]:80", "[::1]:80"))
	assert.True(t, namesUs("192.168.1.5:80", "[::ffff:192.168.1.5]:80"), "an address both ways")
	assert.False(t, namesUs("localhost:80", "192.168.1.5:80"), "localhost is this computer only")
}

func TestPagesMayLoadNothingForeign(t *testing.T) {
	b := open(t, options{})
	b.visit("Robin")
	for _, path := range []string{"/", "/visits/1", "/visits/1/imprint", "/visits/1/choice", "/visits/1/sheet",
		"/riders/1", "/phone", "/nothing"} {
		r, page := b.get(path)
		csp := r.Header.Get("Content-Security-Policy")
		assert.Contains(t, csp, "default-src 'none'", path)
		assert.NotContains(t, csp, "unsafe", path)
		assert.Equal(t, "nosniff", r.Header.Get("X-Content-Type-Options"), path)
		assert.Equal(t, "no-referrer", r.Header.Get("Referrer-Policy"), path)
		assert.Equal(t, "no-store", r.Header.Get("Cache-Control"), path)
		for _, bad := range []string{"http://", "https://", "<style", " style=", "onclick", "onload=",
			"javascript:"} {
			assert.NotContains(t, page, bad, path)
		}
		assert.NotRegexp(t, `<script(>| [^>]*>)[^<{]`, page, "%s: no inline script", path)
	}
}

func TestNoPathReachesTheFiles(t *testing.T) {
	b := open(t, options{})
	b.visit("Robin")
	for _, path := range []string{
		"/assets/..%2fdoc.go", "/assets/%2e%2e%2fdesk.go", "/assets/..%2f..%2f..%2fgo.mod",
		"/assets/%2fetc%2fpasswd", "/assets/desk.css%00.js",
		"/records/..%2f1/view.jpg", "/records/1/..%2f..%2fpage.key", "/sheets/..%2fsitspan.db", "/sheets/1.pdf%00",
		"/sheets/1", "/sheets/01.pdf", "/sheets/1x.pdf",
		"/records/-1/view.jpg", "/records/1e3/view.jpg", "/records/99999999999999999999/view.jpg", "/page.key",
		"/sitspan.db", "/photos/", "/tls/authority-key.pem",
	} {
		r, body := b.get(path)
		assert.Equal(t, 404, r.StatusCode, path)
		assert.NotContains(t, body, "package desk")
		assert.NotContains(t, body, "root:")
	}
	body, kind := upload(t, [2]string{`..\..\..\evil.sh`, readPhoto(t, "scan-1.jpg")},
		[2]string{"../../../evil.jpg", readPhoto(t, "paper-2.jpg")})
	r := b.request("POST", "/visits/1/photos", body)
	r.Header.Set("Content-Type", kind)
	answer, out := b.send(r)
	require.Equal(t, 200, answer.StatusCode, "%v", out)
	b.settled(1)
	err := filepath.WalkDir(b.store.Dir(), func(path string, _ os.DirEntry, err error) error {
		assert.NotContains(t, path, "evil")
		return err
	})
	require.NoError(t, err)
	shots, err := b.store.Shots(t.Context(), 1)
	require.NoError(t, err)
	for _, s := range shots {
		assert.NotContains(t, s.Name, "/")
		assert.NotContains(t, s.Name, `\`)
	}
}

func TestOddFileNamesAreShownHarmless(t *testing.T) {
	for name, want := range map[string]string{
		"": "photo", "..": "photo", "a\x00b\n.jpg": "ab.jpg", "/etc/passwd": "passwd", `C:\x\y.jpg`: "y.jpg",
		strings.Repeat("ä", 200): strings.Repeat("ä", 80),
	} {
		assert.Equal(t, want, shortName(name))
	}
	b := open(t, options{})
	b.visit(`<script>alert(1)</script>`)
	_, page := b.get("/visits/1")
	assert.NotContains(t, page, "<script>alert")
	assert.Contains(t, page, "&lt;script&gt;alert")
}

func TestUploadsAreBoundedAndTyped(t *testing.T) {
	t.Parallel()
	b := open(t, options{limits: photo.Limits{Bytes: 300_000, Pixels: 4_000_000}})
	b.visit("Robin")
	status := func(name, content string) (int, string) {
		r, out := b.upload(1, [2]string{name, content})
		files, _ := out["photos"].([]any)
		require.Len(t, files, 1, "%v", out)
		text, _ := files[0].(map[string]any)["error"].(string)
		return r.StatusCode, text
	}
	for name, content := range map[string]string{
		"page.jpg": "<html>", "program.jpg": "\x7fELF\x02\x01",
		"vector.png":   "<svg xmlns='http://www.w3.org/2000/svg'/>",
		"archive.heic": "PK\x03\x04", "film.heic": "\x00\x00\x00\x18ftypmp42", "animated.gif": "GIF89a",
	} {
		code, text := status(name, content)
		assert.Equal(t, 415, code, name)
		assert.Contains(t, text, "JPEG", name)
	}
	code, text := status("large.jpg", "\xff\xd8\xff"+strings.Repeat("x", 400_000))
	assert.Equal(t, 413, code)
	assert.Contains(t, text, "too large")

	code, _ = status("bomb.jpg", string(manyPixels(t)))
	assert.Equal(t, 200, code, "small as a file")
	s := b.settled(1)
	assert.Equal(t, "too_many_pixels", s.Tiles[0].Reasons[0].Code, "and refused before it is decoded")

	r, out := b.upload(1, [2]string{"no.txt", "text"}, [2]string{"yes.jpg", readPhoto(t, "scan-1.jpg")})
	assert.Equal(t, 200, r.StatusCode, "one of two was a photo")
	assert.NotEmpty(t, out["photos"].([]any)[0].(map[string]any)["error"])
	var many [][2]string
	for range mostPhotos + 1 {
		many = append(many, [2]string{"no.txt", "text"})
	}
	r, _ = b.upload(1, many...)
	assert.Equal(t, 413, r.StatusCode)

	big := b.request("POST", "/trunk", strings.NewReader(`{"x":"`+strings.Repeat("x", mostFormBytes)+`"}`))
	answer, _ := b.send(big)
	assert.Equal(t, 400, answer.StatusCode, "a form has a bound, too")
	entries, err := os.ReadDir(filepath.Join(b.store.Dir(), "incoming"))
	require.NoError(t, err)
	assert.Empty(t, entries)
}

// manyPixels is a small file that claims 65,000 x 65,000 px in its header.
func manyPixels(t *testing.T) []byte {
	data := greyJPEG(t, 64, 64)
	at := bytes.Index(data, []byte{0xff, 0xc0})
	require.Positive(t, at)
	copy(data[at+5:], []byte{0xfd, 0xe8, 0xfd, 0xe8})
	return data
}

func TestStrangerGetsNothing(t *testing.T) {
	b := open(t, options{withLAN: true})
	b.visit("Robin")
	stranger := b.browser()
	for _, path := range []string{"/", "/camera", "/visits/1", "/assets/desk.css", "/phone", "/camera/photos/1",
		"/pair/", "/pair/" + strings.Repeat("0", 32), "/favicon.ico"} {
		r, err := stranger.Get(b.lan + path)
		require.NoError(t, err)
		body, err := io.ReadAll(r.Body)
		require.NoError(t, err)
		r.Body.Close()
		assert.Equal(t, 404, r.StatusCode, path)
		assert.Empty(t, body, path)
		assert.Empty(t, r.Cookies(), path)
	}
	body, kind := upload(t, [2]string{"a.jpg", readPhoto(t, "scan-1.jpg")})
	r, err := stranger.Post(b.lan+"/camera/photos", kind, body)
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 404, r.StatusCode)
}

func pairWith(t *testing.T, b *bench, may string) (*http.Client, string) {
	t.Helper()
	secret, _ := b.pairs.offer(may, 1)
	phone := b.browser()
	r, err := phone.Get(b.lan + "/pair/" + secret)
	require.NoError(t, err)
	r.Body.Close()
	require.Equal(t, 200, r.StatusCode)
	r, err = phone.PostForm(b.lan+"/pair/"+secret, nil)
	require.NoError(t, err)
	r.Body.Close()
	require.Equal(t, 303, r.StatusCode)
	return phone, secret
}

func TestSecretWorksOnceAndForAWhile(t *testing.T) {
	b := open(t, options{withLAN: true})
	phone, secret := pairWith(t, b, mayPhotograph)
	r, err := phone.Get(b.lan + "/camera")
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 200, r.StatusCode)
	for _, path := range []string{"/", "/visits/1", "/riders/1", "/phone"} {
		r, err := phone.Get(b.lan + path)
		require.NoError(t, err)
		r.Body.Close()
		assert.Equal(t, 404, r.StatusCode, "a phone may photograph, not look round: %s", path)
	}
	r, err = b.browser().PostForm(b.lan+"/pair/"+secret, nil)
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 410, r.StatusCode, "used up")
	first := b.offer(1)
	b.offer(1)
	assert.Equal(t, codeReplaced, b.pairs.state(first), "a newer code voids it")
	last := b.offer(1)
	defer func() { now = time.Now }()
	now = func() time.Time { return time.Now().Add(codeLasts + time.Second) }
	assert.Equal(t, codeExpired, b.pairs.state(last), "too late")
	now = func() time.Time { return time.Now().Add(deviceLasts + time.Second) }
	r, err = phone.Get(b.lan + "/camera")
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 410, r.StatusCode, "paired for a day's work, not for ever")
}

func TestGuessingIsStopped(t *testing.T) {
	b := open(t, options{withLAN: true})
	secret := b.offer(1)
	guesser := b.browser()
	codes := map[int]int{}
	for i := range 20 {
		r, err := guesser.PostForm(fmt.Sprintf("%s/pair/%032d", b.lan, i), nil)
		require.NoError(t, err)
		r.Body.Close()
		codes[r.StatusCode]++
	}
	assert.Equal(t, map[int]int{404: 5, 429: 15}, codes)
	r, err := guesser.Get(b.lan + "/pair/" + secret)
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 429, r.StatusCode, "for the moment nobody comes in")
	defer func() { now = time.Now }()
	now = func() time.Time { return time.Now().Add(61 * time.Second) }
	assert.Equal(t, codeOpen, b.pairs.state(secret), "a minute later the code on the screen works")
}

func TestTabletMayAllAndPhonesAreSentAway(t *testing.T) {
	b := open(t, options{withLAN: true})
	b.visit("Robin")
	tablet, _ := pairWith(t, b, mayAll)
	r, err := tablet.Get(b.lan + "/visits/1")
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 200, r.StatusCode)
	r, err = tablet.Get(b.lan + "/phone")
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 200, r.StatusCode)
	r, err = tablet.PostForm(b.lan+"/phone", url.Values{"for": {"tablet"}})
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 403, r.StatusCode, "new devices are let in at the desk's own screen")
	b.form("/phone/forget", nil)
	r, err = tablet.Get(b.lan + "/visits/1")
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 410, r.StatusCode)
}

func TestNoSecretIsLogged(t *testing.T) {
	b := open(t, options{withLAN: true})
	_, secret := pairWith(t, b, mayPhotograph)
	r, err := b.browser().PostForm(b.lan+"/pair/"+secret, nil)
	require.NoError(t, err)
	r.Body.Close()
	b.get("/visits/77")
	b.logging.Lock()
	defer b.logging.Unlock()
	log := b.log.String()
	assert.NotContains(t, log, secret)
	assert.NotContains(t, log, "77", "a route is logged, no address")
	assert.Contains(t, log, "GET /visits/{id}", "something is logged")
}

func TestCertificateIsTheDesksOwn(t *testing.T) {
	dir := t.TempDir()
	ip := net.IPv4(192, 168, 1, 5).To4()
	l, err := newLAN(dir, []net.IP{ip})
	require.NoError(t, err)
	pem, err := os.ReadFile(l.path)
	require.NoError(t, err)
	roots := x509.NewCertPool()
	require.True(t, roots.AppendCertsFromPEM(pem))
	leaf := l.config.Certificates[0].Leaf
	_, err = leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: "192.168.1.5"})
	assert.NoError(t, err, "a phone that trusts the authority trusts the desk")
	assert.Less(t, leaf.NotAfter.Sub(leaf.NotBefore), 398*24*time.Hour)
	assert.Len(t, strings.Split(l.Fingerprint, ":"), 32)
	for _, name := range []string{"authority-key.pem", "desk-key.pem"} {
		info, err := os.Stat(filepath.Join(dir, "tls", name))
		require.NoError(t, err)
		assert.Equal(t, os.FileMode(0o600), info.Mode().Perm(), name)
	}
	again, err := newLAN(dir, []net.IP{ip})
	require.NoError(t, err)
	assert.Equal(t, l.Fingerprint, again.Fingerprint, "kept from day to day")
	moved, err := newLAN(dir, []net.IP{net.IPv4(10, 0, 0, 7).To4()})
	require.NoError(t, err)
	assert.NotEqual(t, l.Fingerprint, moved.Fingerprint, "another address, another certificate")
	assert.Equal(t, l.Authority, moved.Authority, "by the same authority")

	ca, err := tls.LoadX509KeyPair(filepath.Join(dir, "tls/authority.pem"),
		filepath.Join(dir, "tls/authority-key.pem"))
	require.NoError(t, err)
	public, err := makeLeaf(ca, []net.IP{net.IPv4(93, 184, 216, 34).To4()})
	require.NoError(t, err)
	_, err = public.Leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: "93.184.216.34"})
	assert.Error(t, err, "the authority can vouch for private addresses only")
}

func TestListenStaysAtHome(t *testing.T) {
	b := open(t, options{})
	for _, addr := range []string{"0.0.0.0:0", "192.168.1.5:0", ":0", "example.com:80", "nonsense"} {
		_, err := b.Listen(addr, false)
		assert.Error(t, err, addr)
	}
	l, err := b.Listen("127.0.0.1:0", false)
	require.NoError(t, err)
	r, err := http.Get(l.URL)
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 200, r.StatusCode)
}

func TestPanicCostsOneRequest(t *testing.T) {
	b := open(t, options{})
	s := httptest.NewServer(b.guarded(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("x") })))
	defer s.Close()
	for range 2 {
		r, err := http.Get(s.URL)
		require.NoError(t, err)
		r.Body.Close()
		assert.Equal(t, 500, r.StatusCode)
	}
}
