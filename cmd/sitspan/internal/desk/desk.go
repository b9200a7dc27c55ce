package desk

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"maps"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"sync/atomic"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/worker"
	"sitspan/imprint/photo"
)

// Options are what a desk is opened with.
type Options struct {
	Store   *store.Store
	Shop    shop.Shop
	Command func() *exec.Cmd // makes a child's command; see package worker
	Log     io.Writer        // nil for none; no secret is ever written to it
	Limits  photo.Limits     // of a photo
}

// Desk is the shop's page.
type Desk struct {
	store   *store.Store
	shop    shop.Shop
	queue   *queue
	pairs   *pairing
	limits  photo.Limits
	views   views
	key     []byte // of the pages' tokens
	log     io.Writer
	logging sync.Mutex

	lan    *lanTLS
	lanURL []string // where a phone finds the desk
	active atomic.Int64

	working sync.WaitGroup
	ctx     context.Context
	stop    context.CancelFunc
	mu      sync.Mutex
	busy    map[string]bool              // shots and joint measurements that are being made
	early   map[int64]record.Measurement // of shots whose pictures are still being drawn
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
	d := &Desk{
		store: o.Store, shop: o.Shop, queue: newQueue(o.Command), pairs: newPairing(), limits: withDefaults(o.Limits),
		views: v, key: key, log: o.Log, busy: map[string]bool{}, early: map[int64]record.Measurement{},
	}
	d.ctx, d.stop = context.WithCancel(context.Background())
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
}

// pageKey is the key of the pages' tokens: kept, so that a page that was open
// while the desk was started anew still works.
func pageKey(dir string) ([]byte, error) {
	path := filepath.Join(dir, "page.key")
	if text, err := os.ReadFile(path); err == nil {
		if key, err := hex.DecodeString(strings.TrimSpace(string(text))); err == nil && len(key) == 32 {
			return key, nil
		}
	}
	text := randomHex(32)
	if err := os.WriteFile(path+".new", []byte(text+"\n"), 0o600); err != nil {
		return nil, fmt.Errorf("the page's key cannot be kept: %w", err)
	}
	if err := os.Rename(path+".new", path); err != nil {
		return nil, fmt.Errorf("the page's key cannot be kept: %w", err)
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
	page := func(pattern string, h func(http.ResponseWriter, *http.Request) error) {
		m.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			if err := h(w, r); err != nil {
				d.fail(w, r, err)
			}
		})
	}
	m.HandleFunc("GET /assets/{name}", serveAsset)
	page("GET /{$}", d.home)
	page("POST /language", d.setLanguage)
	page("POST /visits", d.newVisit)
	page("GET /visits/{id}", d.visitPage)
	page("POST /visits/{id}", d.saveVisit)
	page("POST /trunk", d.trunkAngle)
	page("GET /visits/{id}/imprint", d.imprintPage)
	page("GET /visits/{id}/strip", d.strip)
	page("POST /visits/{id}/photos", d.uploadAtDesk)
	page("POST /visits/{id}/setup", d.saveSetUp)
	page("POST /visits/{id}/together", d.together)
	page("POST /visits/{id}/sitting", d.nextSitting)
	page("POST /visits/{id}/sittings", d.sittings)
	page("POST /visits/{id}/current", d.setCurrent)
	page("POST /shots/{id}/leave-out", d.leaveOut)
	page("POST /shots/{id}/by-hand", d.byHand)
	page("POST /records/{id}/preview", d.previewReview)
	page("POST /records/{id}/review", d.saveReview)
	page("GET /records/{id}/{picture}", d.picture)
	page("GET /visits/{id}/choice", d.choicePage)
	page("GET /visits/{id}/sheet", d.sheetPage)
	page("POST /visits/{id}/sheet", d.makeSheet)
	page("GET /sheets/{name}", d.sheetFile)
	page("GET /riders/{id}", d.riderPage)
	page("GET /riders/{id}/compare", d.comparePage)
	page("GET /riders/{id}/export.zip", d.export)
	page("POST /riders/{id}/delete", d.deleteRider)
	page("GET /phone", d.phonePage)
	page("POST /phone/forget", d.forgetPhones)
	page("GET /phone/authority.pem", d.authorityFile)
	page("GET /", func(http.ResponseWriter, *http.Request) error { return store.ErrNotFound })
	return m
}

// begin marks something as being made; false where it is already.
func (d *Desk) begin(what string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.busy[what] {
		return false
	}
	d.busy[what] = true
	return true
}

func (d *Desk) end(what string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	delete(d.busy, what)
}

// busyNow is what is being made at this moment.
func (d *Desk) busyNow() map[string]bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return maps.Clone(d.busy)
}

func (d *Desk) isBusy(what string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.busy[what]
}

// tellEarly lets a phone know what was measured before it is kept; nil when it
// is.
func (d *Desk) tellEarly(shotID int64, m *record.Measurement) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if m == nil {
		delete(d.early, shotID)
	} else if shotID != 0 {
		d.early[shotID] = *m
	}
}

func (d *Desk) earlyOf(shotID int64) (record.Measurement, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	m, ok := d.early[shotID]
	return m, ok
}

func shotKey(id int64) string  { return fmt.Sprint("shot ", id) }
func visitKey(id int64) string { return fmt.Sprint("visit ", id) }

// measure measures a photo in the background and keeps the record.
func (d *Desk) measure(shot store.Shot) {
	if !d.begin(shotKey(shot.ID)) {
		return
	}
	d.working.Go(func() {
		defer d.end(shotKey(shot.ID))
		for d.make(store.OfPhoto, shot.VisitID, shot.ID, [][]store.Shot{{shot}}) {
			if now, err := d.store.Shot(d.ctx, shot.ID); err == nil {
				shot = now
			}
		}
	})
}

// make makes one record and keeps it. A process that ended makes a record that
// says so; a desk that is closing makes none. stale says that the visit's pad or
// gauge was changed meanwhile.
func (d *Desk) make(kind string, visitID, shotID int64, sittings [][]store.Shot) (stale bool) {
	visit, err := d.store.Visit(d.ctx, visitID)
	if err != nil {
		d.logf("a photo was not measured: %v", err)
		return false
	}
	j := worker.Job{Draw: drawn}
	for _, shots := range sittings {
		var photos []worker.Photo
		for _, s := range shots {
			photos = append(photos, d.jobPhoto(s))
		}
		j.Sittings = append(j.Sittings, photos)
	}
	answer, err := d.queue.do(d.ctx, d.settings(d.ctx, visit.SetUp), j, func(a worker.Answer) { d.tellEarly(shotID, &a.Record.Measurement) })
	defer d.tellEarly(shotID, nil)
	if d.ctx.Err() != nil {
		return false
	}
	if err != nil {
		d.logf("a photo was not measured: %v", err)
		answer = worker.Answer{Record: failedRecord(intake.Version, j.Sittings[0][0], err)}
	}
	if shot, err := d.store.Shot(d.ctx, shotID); err == nil && shot.SHA256 == shot.Original { // not covered yet
		if err := d.cover(context.WithoutCancel(d.ctx), shotID, answer); err != nil {
			d.logf("a card's face was not covered, so nothing is kept of its photo's measurement: %v", err)
			return false
		}
	}
	answer.Record.Alias = visit.Alias
	k := store.Kept{VisitID: visitID, ShotID: shotID, Kind: kind, Record: answer.Record}
	if _, err := d.store.AddRecord(context.WithoutCancel(d.ctx), k, answer.Pictures); err != nil {
		if !errors.Is(err, store.ErrNotFound) {
			d.logf("a measurement was not kept: %v", err)
		}
		return false
	}
	after, err := d.store.Visit(d.ctx, visitID)
	return err == nil && !reflect.DeepEqual(after.SetUp, visit.SetUp)
}
