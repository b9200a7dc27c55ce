package desk

import (
	"crypto/sha256"
	"crypto/subtle"
	"net/http"
	"sync"
	"time"
)

// What a paired device may do.
const (
	mayPhotograph = "photos" // a phone: photos in, their verdicts out
	mayAll        = "desk"   // a tablet: the whole desk
)

// pairing keeps the one-time secrets on the screen, and who came in by them.
// It keeps hashes only: what is compared in constant time is of equal length,
// and a look into the memory gives no way in.
type pairing struct {
	mu       sync.Mutex
	offered  map[string]offer // by what it allows
	devices  map[[32]byte]device
	failures []time.Time
}

type offer struct {
	hash  [32]byte
	until time.Time
}

type device struct {
	may   string
	until time.Time
}

// The bounds of pairing.
const (
	offerLasts   = 10 * time.Minute
	deviceLasts  = 12 * time.Hour
	mostFailures = 5 // wrong secrets within a minute, from all of the network
)

func newPairing() *pairing {
	return &pairing{offered: map[string]offer{}, devices: map[[32]byte]device{}}
}

// offer makes a new secret for the screen; the one before is void.
func (p *pairing) offer(may string) (secret string) {
	secret = randomHex(16)
	p.mu.Lock()
	defer p.mu.Unlock()
	p.offered[may] = offer{sha256.Sum256([]byte(secret)), now().Add(offerLasts)}
	return secret
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

// known says whether a secret is on the screen now, without using it up.
func (p *pairing) known(secret string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	_, ok := p.match(secret)
	if !ok {
		p.failures = append(p.failures, now())
	}
	return ok
}

// match compares with every offer, always with all of them.
func (p *pairing) match(secret string) (may string, ok bool) {
	hash := sha256.Sum256([]byte(secret))
	for m, o := range p.offered {
		if subtle.ConstantTimeCompare(hash[:], o.hash[:]) == 1 && now().Before(o.until) {
			may, ok = m, true
		}
	}
	return may, ok
}

// admit uses a secret up and gives the device its own.
func (p *pairing) admit(secret string) (key, may string, ok bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	may, ok = p.match(secret)
	if !ok {
		p.failures = append(p.failures, now())
		return "", "", false
	}
	delete(p.offered, may)
	key = randomHex(32)
	p.devices[sha256.Sum256([]byte(key))] = device{may, now().Add(deviceLasts)}
	return key, may, true
}

// may says what the device of a request may do; nothing for a stranger.
func (p *pairing) may(r *http.Request) string {
	c, err := r.Cookie(deviceCookie)
	if err != nil {
		return ""
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	d, known := p.devices[sha256.Sum256([]byte(c.Value))]
	if !known || now().After(d.until) {
		return ""
	}
	return d.may
}

// count is how many devices are paired.
func (p *pairing) count() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.devices)
}

// forget sends all devices away.
func (p *pairing) forget() {
	p.mu.Lock()
	defer p.mu.Unlock()
	clear(p.devices)
	clear(p.offered)
}

// deviceCookie is a paired device's own key. The prefix binds it to this host
// and to TLS.
const deviceCookie = "__Host-sitspan_device"

// now is the clock, for tests.
var now = time.Now
