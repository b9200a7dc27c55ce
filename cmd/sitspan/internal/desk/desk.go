package desk

import (
	"cmp"
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/photo"
)

// Options are what a desk is opened with.
type Options struct {
	Store   *store.Store
	Shop    shop.Shop
	ShopAt  string           // the settings' file that the pages write; empty takes Shop's
	Command func() *exec.Cmd // makes a child's command; see package worker
	Log     io.Writer        // nil for none; no secret is ever written to it
	Limits  photo.Limits     // of a photo
}

// Desk is the shop's page.
type Desk struct {
	store   *store.Store
	queue   *queue
	pairs   *pairing
	limits  photo.Limits
	views   views
	key     []byte // of the pages' tokens
	log     io.Writer
	logging sync.Mutex

	shopAt     string // the settings' file
	shop       shop.Shop
	shopWas    string     // the file's state that shop is of
	shopping   sync.Mutex // guards both
	shopSaving sync.Mutex // held while the file changes

	answered answered // forms that make something new

	replacing sync.Mutex // held from the choice of a file's last bytes until it is in a photo's place

	lan    *lanTLS
	lanURL []string // where a phone finds the desk

	working sync.WaitGroup
	ctx     context.Context
	stop    context.CancelFunc
	mu      sync.Mutex
	busy    map[string]bool              // shots and joint measurements that are being made
	early   map[int64]record.Measurement // of shots whose pictures are still being drawn

	// held by whoever changes something, and alone while a back-up is put in the data's place
	gate     sync.RWMutex
	unpacked map[string]*store.BackedUp // back-ups that are being looked at; d.mu guards it
}

// New makes a desk and takes up the photos that an ended one left unmeasured.
func New(o Options) (*Desk, error) {
	v, err := loadViews()
	if err != nil {
		return nil, err
	}
	key, err := pageKey(o.Store.Dir())
	if err != nil {
		return nil, err
	}
	pairs, err := newPairing(o.Store.Dir(), key)
	if err != nil {
		return nil, err
	}
	d := &Desk{
		store: o.Store, shop: o.Shop, shopAt: cmp.Or(o.ShopAt, o.Shop.Path, filepath.Join(o.Store.Dir(),
			shop.FileName)),
		queue: newQueue(o.Command), pairs: pairs, limits: withDefaults(o.Limits),
		views: v, key: key, log: o.Log, busy: map[string]bool{}, early: map[int64]record.Measurement{},
	}
	d.shopWas = d.shopSeen()
	d.ctx, d.stop = context.WithCancel(context.Background())
	d.purge()
	left, err := o.Store.Unmeasured(d.ctx)
	if err != nil {
		return nil, err
	}
	for _, shot := range left {
		d.measure(shot)
	}
	return d, nil
}

// Close ends what is under way and waits for it. Photos without a record are
// taken up when the desk is opened again.
func (d *Desk) Close() {
	d.stop()
	d.working.Wait()
	d.mu.Lock()
	defer d.mu.Unlock()
	d.dropUnpacked()
}

const pageKeyName = "page.key"

// setKey changes the key of the pages' tokens: no page that is open may change anything any more.
func (d *Desk) setKey(key []byte) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.key = key
}

// pageKey is the key of the pages' tokens: kept, so that a page that was open
// while the desk was started anew still works.
func pageKey(dir string) ([]byte, error) {
	path := filepath.Join(dir, pageKeyName)
	if text, err := os.ReadFile(path); err == nil {
		if key, err := hex.DecodeString(strings.TrimSpace(string(text))); err == nil && len(key) == 32 {
			return key, nil
		}
	}
	text := randomHex(32)
	if err := os.WriteFile(path+".new", []byte(text+"\n"), 0o600); err != nil {
		return nil, words.Fault("error.desk.key", words.Values{"why": err})
	}
	if err := os.Rename(path+".new", path); err != nil {
		return nil, words.Fault("error.desk.key", words.Values{"why": err})
	}
	return hex.DecodeString(text)
}

func (d *Desk) logf(format string, args ...any) {
	if d.log == nil {
		return
	}
	d.logging.Lock()
	defer d.logging.Unlock()
	fmt.Fprintf(d.log, format+"\n", args...)
}

// Handler serves this computer.
func (d *Desk) Handler() http.Handler {
	return d.guarded(d.sameSite(d.routes()))
}

// routes are all screens.
func (d *Desk) routes() *http.ServeMux {
	m := http.NewServeMux()
	page := d.pageOn(m)
	m.HandleFunc("GET /assets/{name}", serveAsset)
	page("GET /{$}", d.home)
	page("POST /language", d.setLanguage)
	page("POST /visits", d.newVisit)
	page("GET /visits/{id}", d.visitPage)
	page("POST /visits/{id}", d.saveVisit)
	page("POST /trunk", d.trunkAngle)
	page("GET /visits/{id}/imprint", d.imprintPage)
	page("GET /visits/{id}/strip", d.stripPart)
	page("POST /visits/{id}/photos", d.uploadAtDesk)
	page("POST /visits/{id}/setup", d.saveSetUp)
	page("POST /visits/{id}/anew", d.measureAnew)
	page("POST /visits/{id}/together", d.together)
	page("POST /visits/{id}/sitting", d.nextSitting)
	page("POST /visits/{id}/sittings", d.sittings)
	page("POST /visits/{id}/current", d.setCurrent)
	page("POST /visits/{id}/phone", d.askPhone)
	page("GET /shots/{id}/verdict", d.verdictAtDesk)
	page("POST /shots/{id}/leave-out", d.leaveOut)
	page("POST /shots/{id}/by-hand", d.byHand)
	page("POST /records/{id}/preview", d.previewReview)
	page("POST /records/{id}/review", d.saveReview)
	page("POST /records/{id}/withdraw", d.withdrawReview)
	page("GET /records/{id}/contours", d.contours)
	page("GET /records/{id}/{picture}", d.picture)
	page("GET /visits/{id}/choice", d.choicePage)
	page("POST /visits/{id}/bikes/{place}/saddle", d.takeSaddle)
	page("POST /visits/{id}/bikes/{place}/ride", d.keepRideTest)
	page("GET /visits/{id}/sheet", d.sheetPage)
	page("POST /visits/{id}/sheet", d.makeSheet)
	page("GET /sheets/{name}", d.sheetFile)
	page("GET /riders/{id}", d.riderPage)
	page("GET /riders/{id}/compare", d.comparePage)
	page("GET /riders/{id}/export.zip", d.export)
	page("POST /riders/{id}/delete", d.deleteRider)
	page("GET /phone", d.phonePage)
	page("POST /phone", d.newCode)
	page("GET /phone/code/{number}", d.codeNow)
	page("POST /phone/forget", d.forgetPhones)
	page("GET /phone/authority.pem", d.authorityFile)
	d.shopRoutes(page)
	d.proofRoutes(page)
	d.riderRoutes(page)
	d.backUpRoutes(page)
	page("GET /", func(http.ResponseWriter, *http.Request) error { return store.ErrNotFound })
	return m
}

// pageOn adds routes whose errors are told as pages.
func (d *Desk) pageOn(m *http.ServeMux) func(pattern string,
	h func(http.ResponseWriter, *http.Request) error) {
	return func(pattern string, h func(http.ResponseWriter, *http.Request) error) {
		m.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			if err := h(w, r); err != nil {
				d.fail(w, r, err)
			}
		})
	}
}
