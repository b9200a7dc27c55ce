package desk

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io/fs"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
)

// What a paired device may do.
const (
	mayPhotograph = "photos" // a phone: photos of one visit in, their verdicts out
	mayAll        = "desk"   // a tablet: the whole desk
)

// codeState is what became of a code on the screen.
type codeState string

const (
	codeOpen     codeState = "open"
	codeUsed     codeState = "used"
	codeExpired  codeState = "expired"
	codeReplaced codeState = "replaced" // a newer one for the same visit is on the screen
	codeOld      codeState = "old"      // of a desk that was opened anew since
	codeNone     codeState = ""         // none of ours
)

// pairing keeps the one-time secrets on the screen, and who came in by them. It keeps hashes only: a look
// into its file or the memory gives no way in. Each secret is signed by the desk, so that one that no
// longer holds is told from a guess.
type pairing struct {
	mu       sync.Mutex
	key      []byte
	path     string // of the devices; empty for none
	codes    map[[32]byte]*code
	devices  map[[32]byte]device
	last     int // number of the last code
	failures []time.Time
}

// code is a secret that is, or was, on the screen.
type code struct {
	number int
	may    string
	visit  int64 // that the phone will photograph for; 0 for a tablet
	until  time.Time
	state  codeState
}

// device is a paired phone or tablet.
type device struct {
	ID    int       `json:"id"`
	May   string    `json:"may"`
	Visit int64     `json:"visit,omitempty"` // that its photos belong to
	Asked int64     `json:"asked,omitempty"` // the visit that the desk asks it to come to, 0 for none
	Since time.Time `json:"since"`
	Until time.Time `json:"until"`
}

// The bounds of pairing.
const (
	codeLasts    = 10 * time.Minute
	deviceLasts  = 12 * time.Hour
	codesKept    = 24 * time.Hour // that it can be said what became of one
	mostFailures = 5              // wrong secrets within a minute, from all of the network
)

// deviceFile is where the paired devices are kept: they stay paired when the desk is opened anew.
const deviceFile = "devices.json"

// keptDevice is a device in the file, with the hash of its key.
type keptDevice struct {
	Hash string `json:"hash"`
	device
}

// newPairing takes up the devices that are kept in dir.
func newPairing(dir string, key []byte) (*pairing, error) {
	p := &pairing{key: key, path: filepath.Join(dir, deviceFile), codes: map[[32]byte]*code{},
		devices: map[[32]byte]device{}}
	text, err := os.ReadFile(p.path)
	if errors.Is(err, fs.ErrNotExist) {
		return p, nil
	}
	var list []keptDevice
	if err == nil {
		err = json.Unmarshal(text, &list)
	}
	if err != nil {
		return nil, words.Fault("error.desk.pairs", words.Values{"why": err, "file": p.path})
	}
	for _, k := range list {
		if hash, err := hex.DecodeString(k.Hash); err == nil && len(hash) == 32 {
			p.devices[[32]byte(hash)] = k.device
		}
	}
	return p, nil
}

// save keeps the devices; p.mu is held.
func (p *pairing) save() error {
	list := []keptDevice{}
	for hash, d := range p.devices {
		if now().Before(d.Until) {
			list = append(list, keptDevice{hex.EncodeToString(hash[:]), d})
		}
	}
	text, err := json.Marshal(list)
	if err != nil {
		return err
	}
	return wholefile.Bytes(p.path, text)
}

// signed is a random secret with the desk's own mark.
func (p *pairing) signed(bytes int) string {
	s := randomHex(bytes)
	return s + p.mark(s)
}

const markLength = 16 // hexadecimal digits

func (p *pairing) mark(s string) string {
	m := hmac.New(sha256.New, p.key)
	m.Write([]byte("device " + s))
	return hex.EncodeToString(m.Sum(nil))[:markLength]
}

// ours says whether this desk made a secret, now or before it was opened anew.
func (p *pairing) ours(secret string) bool {
	at := len(secret) - markLength
	return at > 0 && hmac.Equal([]byte(secret[at:]), []byte(p.mark(secret[:at])))
}

// offer makes a new secret for the screen; the one before for the same is void.
func (p *pairing) offer(may string, visit int64) (secret string, number int) {
	secret = p.signed(16)
	p.mu.Lock()
	defer p.mu.Unlock()
	for hash, c := range p.codes {
		if c.state == codeOpen && c.may == may && c.visit == visit {
			c.state = c.now()
			if c.state == codeOpen {
				c.state = codeReplaced
			}
		}
		if now().Sub(c.until) > codesKept {
			delete(p.codes, hash)
		}
	}
	p.last++
	p.codes[sha256.Sum256([]byte(secret))] = &code{p.last, may, visit, now().Add(codeLasts), codeOpen}
	return secret, p.last
}

// now is what a code is worth at this moment.
func (c *code) now() codeState {
	if c.state == codeOpen && !now().Before(c.until) {
		return codeExpired
	}
	return c.state
}

// blocked says that too many wrong secrets came; they do not count for ever.
func (p *pairing) blocked() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.recentFailures() >= mostFailures
}

func (p *pairing) recentFailures() int {
	n := 0
	for _, t := range p.failures {
		if now().Sub(t) < time.Minute {
			p.failures[n] = t
			n++
		}
	}
	p.failures = p.failures[:n]
	return n
}

// state says what a secret is worth, without using it up. A guess counts as a failure.
func (p *pairing) state(secret string) codeState {
	p.mu.Lock()
	defer p.mu.Unlock()
	_, s := p.find(secret)
	return s
}

// find looks a secret up; p.mu is held. The map is asked by its hash, so the time that it takes tells
// nothing of it.
func (p *pairing) find(secret string) (*code, codeState) {
	if !p.ours(secret) {
		p.failures = append(p.failures, now())
		return nil, codeNone
	}
	c, known := p.codes[sha256.Sum256([]byte(secret))]
	if !known {
		return nil, codeOld
	}
	return c, c.now()
}

// stateOf says what became of a code by its number, for the desk's own page.
func (p *pairing) stateOf(number int) codeState {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, c := range p.codes {
		if c.number == number {
			return c.now()
		}
	}
	return codeOld
}

// admit uses a secret up and gives the device its own key.
func (p *pairing) admit(secret string) (key string, d device, s codeState, err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	c, s := p.find(secret)
	if s != codeOpen {
		return "", d, s, nil
	}
	c.state = codeUsed
	for _, other := range p.devices {
		d.ID = max(d.ID, other.ID)
	}
	key = p.signed(32)
	d = device{ID: d.ID + 1, May: c.may, Visit: c.visit, Since: now(), Until: now().Add(deviceLasts)}
	p.devices[sha256.Sum256([]byte(key))] = d
	return key, d, s, p.save()
}

// of is the device of a request. gone says that it was one once.
func (p *pairing) of(r *http.Request) (d device, gone bool) {
	c, err := r.Cookie(deviceCookie)
	if err != nil {
		return d, false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	d, known := p.devices[sha256.Sum256([]byte(c.Value))]
	if !known || !now().Before(d.Until) {
		return device{}, p.ours(c.Value)
	}
	return d, false
}

// list is the paired devices, in the order in which they came.
func (p *pairing) list() []device {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.SortedFunc(func(yield func(device) bool) {
		for d := range maps.Values(p.devices) {
			if now().Before(d.Until) && !yield(d) {
				return
			}
		}
	}, func(a, b device) int { return a.ID - b.ID })
}

// change changes one device, by its number; it says false where there is none.
func (p *pairing) change(id int, f func(*device)) (bool, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for hash, d := range p.devices {
		if d.ID == id {
			f(&d)
			p.devices[hash] = d
			return true, p.save()
		}
	}
	return false, nil
}

// forget sends one device away, or all with 0; with all, the codes on the screen are void, too.
func (p *pairing) forget(id int) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	maps.DeleteFunc(p.devices, func(_ [32]byte, d device) bool { return id == 0 || d.ID == id })
	if id == 0 {
		for _, c := range p.codes {
			if c.state == codeOpen {
				c.state = codeReplaced
			}
		}
	}
	return p.save()
}

// deviceCookie is a paired device's own key. The prefix binds it to this host and to TLS.
const deviceCookie = "__Host-sitspan_device"

// now is the clock, for tests.
var now = time.Now
