package desk

import (
	"bytes"
	"context"
	"crypto/tls"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	measuring "sitspan/cmd/sitspan/internal/child"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/worker"
	"sitspan/imprint/photo"
)

const photoDir = "../../../../testdata/photos/"

// childArgument makes this test's binary a child.
const childArgument = "child"

// afresh is the mood of a child that measures itself whatever others have measured; see remembering.
const afresh = "afresh"

// TestMain is the tests, and the children that they start.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == childArgument {
		switch os.Getenv("SITSPAN_TEST_CHILD") {
		case "dies":
			fmt.Fprintln(os.Stderr, "terminate called after throwing an instance of 'cv::Exception'")
			os.Exit(134)
		case "hangs":
			time.Sleep(time.Hour)
		}
		measure := measuring.Open
		if os.Getenv("SITSPAN_TEST_CHILD") != afresh {
			measure = remembering(os.Getenv(answersVariable), measuring.Open)
		}
		if err := worker.Serve(os.Stdin, os.Stdout, measure); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(run(m))
}

// run runs the tests, and leaves neither a browser nor a folder.
func run(m *testing.M) int {
	dir, err := os.MkdirTemp("", "sitspan-desk")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	defer closeBrowser()
	answersIn = dir
	// A page that loads, a child that measures and a line that is slow let others work meanwhile.
	if err := flag.Set("test.parallel", fmt.Sprint(runtime.GOMAXPROCS(0)+1)); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return m.Run()
}

// child is this test's own binary, as the program is its own child. mood is
// what goes wrong with it.
func child(mood string) func() *exec.Cmd {
	return func() *exec.Cmd {
		cmd := worker.Program(childArgument)()
		cmd.Env = append(os.Environ(), "SITSPAN_TEST_CHILD="+mood, answersVariable+"="+answersIn)
		return cmd
	}
}

// bench is a desk that answers, and a browser of a kind.
type bench struct {
	*Desk
	with options
	t    *testing.T
	url  string
	lan  string
	log  *bytes.Buffer
	http *http.Client
	shut func()
}

type options struct {
	dir, mood string
	limits    photo.Limits
	withLAN   bool
	shop      string // the settings' file; empty for the tests' own, which no page may change
}

func open(t *testing.T, o options) *bench {
	t.Helper()
	if o.dir == "" {
		o.dir = t.TempDir()
	}
	b := &bench{t: t, with: o, log: &bytes.Buffer{}}
	b.start("", "")
	t.Cleanup(func() { b.shut() })
	b.http = b.browser()
	return b
}

// start opens the desk, at the addresses given or at any.
func (b *bench) start(local, lan string) {
	b.t.Helper()
	s, err := store.Open(b.with.dir, "")
	require.NoError(b.t, err)
	from := b.with.shop
	if from == "" {
		from = "testdata/shop.yaml"
	}
	sh, err := shop.LoadOrDefault(from)
	require.NoError(b.t, err)
	d, err := New(Options{Store: s, Shop: sh, ShopAt: b.with.shop, Command: child(b.with.mood),
		Limits: b.with.limits, Log: b.log})
	require.NoError(b.t, err)
	b.Desk = d
	servers := []*httptest.Server{at(b.t, d.Handler(), local, nil)}
	b.url = servers[0].URL
	if b.with.withLAN {
		l, err := newLAN(b.with.dir, []net.IP{net.IPv4(127, 0, 0, 1).To4()})
		require.NoError(b.t, err)
		d.lan = l
		servers = append(servers, at(b.t, b.LANHandler(), lan, l.config))
		b.lan = servers[1].URL
		d.lanURL = []string{b.lan}
	}
	b.shut = func() {
		for _, server := range servers {
			server.CloseClientConnections() // what is under way breaks, as when a computer is switched off
			server.Close()
		}
		d.Close()
		s.Close()
	}
}

// at serves at an address of the loopback, or at any; with TLS where that is given.
func at(t *testing.T, h http.Handler, address string, secure *tls.Config) *httptest.Server {
	t.Helper()
	server := httptest.NewUnstartedServer(h)
	if address != "" {
		server.Listener.Close()
		var err error
		server.Listener, err = net.Listen("tcp", address)
		require.NoError(t, err)
	}
	if server.TLS = secure; secure != nil {
		server.StartTLS()
	} else {
		server.Start()
	}
	return server
}

// restart ends the desk and opens it anew at the same addresses; meanwhile nobody answers.
func (b *bench) restart(meanwhile time.Duration) {
	b.t.Helper()
	host := func(address string) string { return strings.TrimLeft(address[strings.Index(address, ":")+1:], "/") }
	b.shut()
	time.Sleep(meanwhile)
	lan := ""
	if b.with.withLAN {
		lan = host(b.lan)
	}
	b.start(host(b.url), lan)
}

// browser is a client with cookies, which does not check certificates: what it
// talks to is on this computer.
func (b *bench) browser() *http.Client {
	jar, err := cookiejar.New(nil)
	require.NoError(b.t, err)
	tr := http.DefaultTransport.(*http.Transport).Clone()
	tr.TLSClientConfig = insecure()
	return &http.Client{Jar: jar, Transport: tr, Timeout: time.Minute,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

func (b *bench) get(path string) (*http.Response, string) {
	b.t.Helper()
	r, err := b.http.Get(b.url + path)
	require.NoError(b.t, err)
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	require.NoError(b.t, err)
	return r, string(text)
}

var tokenIn = regexp.MustCompile(`name="token" content="([0-9a-f]{64})"`)

func (b *bench) pageToken() string {
	b.t.Helper()
	_, text := b.get("/")
	m := tokenIn.FindStringSubmatch(text)
	require.NotNil(b.t, m)
	return m[1]
}

// setUp sends the form of the pad and the gauge as a page shows it.
func (b *bench) setUp(visit int64, values url.Values) (*http.Response, string) {
	b.t.Helper()
	v, err := b.store.Visit(b.t.Context(), visit)
	require.NoError(b.t, err)
	values.Set("was", setUpOf(v, "en").Was)
	return b.form(fmt.Sprintf("/visits/%d/setup", visit), values)
}

// form sends a form with the page's token.
func (b *bench) form(path string, values url.Values) (*http.Response, string) {
	b.t.Helper()
	if values == nil {
		values = url.Values{}
	}
	values.Set("token", b.pageToken())
	r, err := b.http.PostForm(b.url+path, values)
	require.NoError(b.t, err)
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	require.NoError(b.t, err)
	return r, string(text)
}

// script sends what a page's script sends.
func (b *bench) script(path string, v any) (*http.Response, map[string]any) {
	b.t.Helper()
	body, err := json.Marshal(v)
	require.NoError(b.t, err)
	r := b.request("POST", path, bytes.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	return b.send(r)
}

func (b *bench) request(method, path string, body io.Reader) *http.Request {
	b.t.Helper()
	r, err := http.NewRequest(method, b.url+path, body)
	require.NoError(b.t, err)
	r.Header.Set("Accept", "application/json")
	r.Header.Set(tokenHeader, b.pageToken())
	return r
}

func (b *bench) send(r *http.Request) (*http.Response, map[string]any) {
	b.t.Helper()
	answer, err := b.http.Do(r)
	require.NoError(b.t, err)
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	require.NoError(b.t, err)
	var out map[string]any
	if strings.HasPrefix(answer.Header.Get("Content-Type"), "application/json") {
		require.NoError(b.t, json.Unmarshal(text, &out))
	}
	return answer, out
}

// upload is a multipart body with files by name.
func upload(t *testing.T, files ...[2]string) (body *bytes.Buffer, kind string) {
	t.Helper()
	body = &bytes.Buffer{}
	w := multipart.NewWriter(body)
	for _, f := range files {
		part, err := w.CreateFormFile("photo", f[0])
		require.NoError(t, err)
		_, err = io.WriteString(part, f[1])
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return body, w.FormDataContentType()
}

func (b *bench) upload(visit int64, files ...[2]string) (*http.Response, map[string]any) {
	b.t.Helper()
	body, kind := upload(b.t, files...)
	r := b.request("POST", fmt.Sprintf("/visits/%d/photos", visit), body)
	r.Header.Set("Content-Type", kind)
	return b.send(r)
}

func readPhoto(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(photoDir, name))
	require.NoError(t, err)
	return string(data)
}

func (b *bench) visit(alias string) store.Visit {
	b.t.Helper()
	v, err := b.store.NewVisit(b.t.Context(), alias)
	require.NoError(b.t, err)
	angle := 45.0
	v.MassKg, v.Complaints = 78, []string{"numbness"}
	v.Bikes = []store.Bike{{Name: "winter", Use: "gravel", Posture: store.Posture{TrunkDeg: &angle, TrunkU: 3,
		Basis: "typed"}}}
	require.NoError(b.t, b.store.SaveVisit(b.t.Context(), v))
	v.Version++
	return v
}

// settled waits until nothing of a visit is being measured.
func (b *bench) settled(visit int64) stripData {
	b.t.Helper()
	var s stripData
	require.Eventually(b.t, func() bool {
		v, err := b.store.Visit(context.Background(), visit)
		if err != nil {
			return false
		}
		s, err = b.stripOf(httptest.NewRequest("GET", "/", nil), v)
		return err == nil && !s.Waiting
	}, 5*time.Minute, 50*time.Millisecond)
	v, err := b.store.Visit(context.Background(), visit) // which counts may have changed between the two looks
	require.NoError(b.t, err)
	s.Current = v.Current
	return s
}

// offer makes a code for a phone that photographs for the visit of that number.
func (b *bench) offer(visit int64) string {
	secret, _ := b.pairs.offer(mayPhotograph, visit)
	return secret
}
