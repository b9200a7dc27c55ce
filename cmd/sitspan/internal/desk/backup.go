package desk

import (
	"bufio"
	"context"
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/wholefile"
)

// backUpRoutes are the screens of back-ups. They are for the desk's own computer.
func (d *Desk) backUpRoutes(page func(string, func(http.ResponseWriter, *http.Request) error)) {
	here := func(h func(http.ResponseWriter, *http.Request) error) func(http.ResponseWriter,
		*http.Request) error {
		return func(w http.ResponseWriter, r *http.Request) error {
			if r.TLS != nil {
				return &refusal{http.StatusForbidden, d.say(r, "backup.here")}
			}
			return h(w, r)
		}
	}
	page("GET /settings/backup", here(d.backUpPage))
	page("POST /settings/backup", here(d.backUp))
	page("POST /settings/backup/check", here(d.checkBackUp))
	page("POST /settings/backup/again", here(d.checkKept))
	page("GET /settings/backup/check/{name}", here(d.backUpInside))
	page("POST "+restorePath, here(d.restore))
}

// restorePath is the one request that changes data while no other does.
const restorePath = "/settings/backup/restore"

// gated lets requests that change something in while no back-up is put in the place of the data: what they
// would change may be another rider's then.
func (d *Desk) gated(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead && r.URL.Path != restorePath {
			d.gate.RLock()
			defer d.gate.RUnlock()
		}
		next.ServeHTTP(w, r)
	})
}

// Where back-ups lie that the desk made before it put another one in the data's place, and how many.
const (
	backUpDir    = "backups"
	beforeLayout = "before-20060102-150405.000.zip" // two may be made within a second
	mostBackUps  = 3
	lastBackUp   = "last-backup" // when one was taken last, RFC 3339
)

var beforeName = regexp.MustCompile(`^before-[0-9]{8}-[0-9]{6}\.[0-9]{3}\.zip$`)

// keptBackUps are their names, the latest first.
func (d *Desk) keptBackUps() (names []string) {
	entries, err := os.ReadDir(filepath.Join(d.store.Dir(), backUpDir))
	if err != nil {
		return nil // none was made yet
	}
	for _, e := range entries {
		if beforeName.MatchString(e.Name()) {
			names = append(names, e.Name())
		}
	}
	slices.Sort(names)
	slices.Reverse(names)
	return names
}

// dropKept removes those that were made before a moment: they hold what is deleted for good.
func (d *Desk) dropKept(before time.Time) {
	for _, name := range d.keptBackUps() {
		if t, err := time.ParseInLocation(beforeLayout, name, time.Local); err == nil && !t.Before(before) {
			continue
		}
		if err := os.Remove(filepath.Join(d.store.Dir(), backUpDir, name)); err != nil {
			d.logf("a back-up that holds what was deleted is still there: %v", err)
		}
	}
}

// keptLine is such a back-up in the list.
type keptLine struct {
	Name   string
	MadeAt time.Time
}

// lastBackedUp is when a back-up was taken last; zero for never.
func (d *Desk) lastBackedUp() (t time.Time) {
	text, err := os.ReadFile(filepath.Join(d.store.Dir(), lastBackUp))
	if err == nil {
		t, _ = time.Parse(time.RFC3339, strings.TrimSpace(string(text))) // a damaged one is never
	}
	return t
}

type backUpData struct {
	Last time.Time
	Kept []keptLine
	Done *store.BackedUp // what was just put in the data's place, and read back
}

func (d *Desk) showBackUp(w http.ResponseWriter, r *http.Request, done *store.BackedUp) error {
	data := backUpData{Last: d.lastBackedUp(), Done: done}
	for _, name := range d.keptBackUps() {
		if t, err := time.ParseInLocation(beforeLayout, name, time.Local); err == nil {
			data.Kept = append(data.Kept, keptLine{name, t})
		}
	}
	return d.show(w, r, "settings-backup", frame{Title: d.say(r, "shop.backup"), Data: data,
		Here: "/settings/backup"})
}

func (d *Desk) backUpPage(w http.ResponseWriter, r *http.Request) error {
	return d.showBackUp(w, r, nil)
}

// shopFiles are the shop's own files that a back-up takes along: the settings, and what lies beside them.
func (d *Desk) shopFiles() map[string]string {
	files := map[string]string{}
	s := d.shopNow()
	for _, path := range []string{d.shopAt, s.StockFile, s.LogoFile} {
		name := d.besideShop(path)
		if _, err := os.Stat(path); path != "" && err == nil && filepath.Base(name) == name {
			files[name] = path
		}
	}
	return files
}

// backUp sends a back-up of everything. It is made whole first, so that what arrives is not half of it.
func (d *Desk) backUp(w http.ResponseWriter, r *http.Request) error {
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(time.Hour))
	f, err := d.store.TempFile()
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	defer f.Close()
	if err := d.writeBackUp(r.Context(), f); err != nil {
		return err
	}
	at := now()
	text := []byte(at.Format(time.RFC3339) + "\n")
	if err := wholefile.Bytes(filepath.Join(d.store.Dir(), lastBackUp), text); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="sitspan-`+at.Format("2006-01-02")+`.zip"`)
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, err = io.Copy(w, f)
	return ignoreGone(err)
}

func (d *Desk) writeBackUp(ctx context.Context, f *os.File) error {
	b := bufio.NewWriterSize(f, 1<<16)
	return errors.Join(d.store.WriteBackUp(ctx, b, d.shopFiles()), b.Flush(), f.Sync())
}

// checkBackUp takes a back-up's file and reads all of it. Nothing of the data is changed.
func (d *Desk) checkBackUp(w http.ResponseWriter, r *http.Request) error {
	c := http.NewResponseController(w)
	_, _ = c.SetReadDeadline(time.Now().Add(time.Hour)), c.SetWriteDeadline(time.Now().Add(time.Hour))
	const most = 1 << 37
	r.Body = http.MaxBytesReader(w, r.Body, most)
	parts, err := r.MultipartReader()
	if err != nil {
		return &refusal{http.StatusUnsupportedMediaType, d.say(r, "backup.none")}
	}
	part, err := parts.NextPart()
	for err == nil && part.FileName() == "" {
		part, err = parts.NextPart()
	}
	if err != nil {
		return &refusal{http.StatusUnprocessableEntity, d.say(r, "backup.none")}
	}
	f, err := d.store.TempFile()
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	defer f.Close()
	if _, err := io.Copy(f, part); err != nil {
		return d.broken(r, nil, err)
	}
	name, err := d.readBackUp(r, f)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]string{"go": "/settings/backup/check/" + name})
}

// readBackUp reads a back-up's file, and keeps what was unpacked for the page that asks about it.
func (d *Desk) readBackUp(r *http.Request, f *os.File) (name string, err error) {
	info, err := f.Stat()
	if err != nil {
		return "", err
	}
	b, err := d.store.ReadBackUp(r.Context(), f, info.Size())
	if errors.Is(err, store.ErrDamaged) {
		return "", &refusal{http.StatusUnprocessableEntity, d.say(r, "backup.damaged")}
	}
	if err != nil {
		return "", err
	}
	name = randomHex(8)
	d.mu.Lock()
	defer d.mu.Unlock()
	d.dropUnpacked()
	d.unpacked = map[string]*store.BackedUp{name: b}
	return name, nil
}

// dropUnpacked removes what was unpacked and not taken; d.mu is held.
func (d *Desk) dropUnpacked() {
	for _, b := range d.unpacked {
		if err := b.Close(); err != nil {
			d.logf("a back-up that was only looked at is still there: %v", err)
		}
	}
	d.unpacked = nil
}

// checkKept reads one of the back-ups that the desk made itself.
func (d *Desk) checkKept(w http.ResponseWriter, r *http.Request) error {
	name := r.PostFormValue("name")
	if !slices.Contains(d.keptBackUps(), name) {
		return store.ErrNotFound
	}
	f, err := os.Open(filepath.Join(d.store.Dir(), backUpDir, name))
	if err != nil {
		return err
	}
	defer f.Close()
	unpacked, err := d.readBackUp(r, f)
	if err != nil {
		return err
	}
	return redirect(w, r, "/settings/backup/check/"+unpacked)
}

func (d *Desk) unpackedOf(name string) (*store.BackedUp, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	b, there := d.unpacked[name]
	if !there {
		return nil, store.ErrNotFound
	}
	return b, nil
}

// backUpInside shows what a back-up holds, beside what is there now.
func (d *Desk) backUpInside(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("name")
	b, err := d.unpackedOf(name)
	if err != nil {
		return err
	}
	const all = 1 << 20
	riders, err := d.store.Riders(r.Context(), "", all)
	if err != nil {
		return err
	}
	data := struct {
		Name     string
		Inside   *store.BackedUp
		Now      int
		Settings bool
	}{name, b, len(riders), len(b.Shop) > 0}
	return d.show(w, r, "settings-backup-check", frame{Title: d.say(r, "backup.inside"), Data: data,
		Here: "/settings/backup"})
}

// restore puts a back-up in the data's place. What was there is kept as a back-up before. Nobody else changes
// anything meanwhile; afterwards no phone is paired, and no page that was open before may change anything.
func (d *Desk) restore(w http.ResponseWriter, r *http.Request) error {
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(time.Hour))
	b, err := d.unpackedOf(r.PostFormValue("name"))
	if err != nil {
		return err
	}
	if !d.closeGate() {
		return &refusal{http.StatusConflict, d.say(r, "backup.busy")}
	}
	defer d.gate.Unlock()
	if err := d.keepBefore(r.Context()); err != nil {
		return err
	}
	if err := d.store.Restore(r.Context(), b); err != nil {
		return err
	}
	if err := d.anew(); err != nil {
		return err
	}
	if r.PostFormValue("settings") == "yes" {
		if err := d.restoreShop(b); err != nil {
			return err
		}
	}
	d.mu.Lock()
	d.dropUnpacked()
	d.mu.Unlock()
	return d.showBackUp(w, r, b)
}

// closeGate waits a moment until nobody changes anything and nothing is measured.
func (d *Desk) closeGate() bool {
	for range 100 {
		if d.gate.TryLock() {
			if len(d.busyNow()) == 0 {
				return true
			}
			d.gate.Unlock()
		}
		time.Sleep(100 * time.Millisecond)
	}
	return false
}

// keepBefore keeps the present data as a back-up, and drops the oldest of those.
func (d *Desk) keepBefore(ctx context.Context) error {
	dir := filepath.Join(d.store.Dir(), backUpDir)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	path := filepath.Join(dir, now().Format(beforeLayout))
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	if err := errors.Join(d.writeBackUp(ctx, f), f.Close()); err != nil {
		return errors.Join(err, os.Remove(path))
	}
	for _, name := range d.keptBackUps()[min(mostBackUps, len(d.keptBackUps())):] {
		if err := os.Remove(filepath.Join(dir, name)); err != nil {
			return err
		}
	}
	return nil
}

// anew makes pages and phones of the data before harmless, and takes up what is not measured yet.
func (d *Desk) anew() error {
	if err := d.pairs.forget(0); err != nil {
		return err
	}
	if err := os.Remove(filepath.Join(d.store.Dir(), pageKeyName)); err != nil && !os.IsNotExist(err) {
		return err
	}
	key, err := pageKey(d.store.Dir())
	if err != nil {
		return err
	}
	d.setKey(key)
	left, err := d.store.Unmeasured(d.ctx)
	for _, shot := range left {
		d.measure(shot)
	}
	return err
}

// restoreShop puts the shop's own files back. Those that were there stay beside them.
func (d *Desk) restoreShop(b *store.BackedUp) error {
	d.shopSaving.Lock()
	defer d.shopSaving.Unlock()
	if err := os.MkdirAll(filepath.Dir(d.shopAt), 0o700); err != nil {
		return err
	}
	for _, name := range b.Shop {
		data, err := os.ReadFile(b.ShopFile(name))
		if err != nil {
			return err
		}
		to := shop.FileBeside(d.shopAt, name)
		if before, err := os.ReadFile(to); err == nil {
			if err := wholefile.Bytes(to+".before", before); err != nil {
				return err
			}
		}
		if err := wholefile.Bytes(to, data); err != nil {
			return err
		}
	}
	d.shopNow()
	return nil
}
