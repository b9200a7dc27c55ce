package desk

import (
	"net/http"
	"sync"
)

// mostAnswered is how many forms' answers are remembered: more than a counter sends in a day.
const mostAnswered = 1000

// answered remembers where forms led that make something new.
type answered struct {
	mu    sync.Mutex // held while something is made: the second click waits for what the first one makes
	led   map[string]string
	order []string // the keys of led, the oldest first
}

// once makes something new, and leads to it. The same form sent again, by a second click, leads to what the
// first one made. Where nothing was made there is no place to lead to, and nothing is remembered.
func (d *Desk) once(w http.ResponseWriter, r *http.Request, make func() (to string, err error)) error {
	form := r.PostFormValue("once")
	key := r.URL.Path + " " + form
	d.answered.mu.Lock()
	defer d.answered.mu.Unlock()
	if to, again := d.answered.led[key]; again && form != "" {
		return redirect(w, r, to)
	}
	to, err := make()
	if err != nil || to == "" {
		return err
	}
	if form != "" {
		d.answered.add(key, to)
	}
	return redirect(w, r, to)
}

func (a *answered) add(key, to string) {
	if a.led == nil {
		a.led = map[string]string{}
	}
	if len(a.order) == mostAnswered {
		delete(a.led, a.order[0])
		a.order = a.order[1:]
	}
	a.led[key], a.order = to, append(a.order, key)
}
