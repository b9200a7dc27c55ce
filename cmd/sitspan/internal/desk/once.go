package desk

import (
	"net/http"
	"sync"
)

// mostAnswered is how many forms' answers are remembered: more than a counter sends in a day.
const mostAnswered = 1000

// answered remembers where forms led that make something new.
type answered struct {
	mu    sync.Mutex
	forms map[string]*answer
	order []string // the keys of forms, the oldest first
}

// answer is where one form led.
type answer struct {
	mu sync.Mutex // held while something is made: the second click waits for what the first one makes
	to string
}

// once makes something new, and leads to it. The same form sent again, by a second click, leads to what the
// first one made. Where nothing was made there is no place to lead to, and nothing is remembered.
func (d *Desk) once(w http.ResponseWriter, r *http.Request, make func() (to string, err error)) error {
	a := d.answered.of(r.URL.Path, r.PostFormValue("once"))
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.to == "" {
		to, err := make()
		if err != nil || to == "" {
			return err
		}
		a.to = to
	}
	return redirect(w, r, a.to)
}

// of is the answer of one form; a form without a number of its own is always a new one.
func (a *answered) of(path, form string) *answer {
	if form == "" {
		return &answer{}
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	key := path + " " + form
	if known := a.forms[key]; known != nil {
		return known
	}
	if a.forms == nil {
		a.forms = map[string]*answer{}
	}
	if len(a.order) == mostAnswered {
		delete(a.forms, a.order[0])
		a.order = a.order[1:]
	}
	a.forms[key], a.order = &answer{}, append(a.order, key)
	return a.forms[key]
}
