package desk

import (
	"fmt"
	"net/http"
	"strings"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/store"
)

// mostRiders is how many riders a list shows; a search finds the others.
const mostRiders = 60

// homeData is what the first page shows.
type homeData struct {
	Query  string
	Riders []store.RiderLine
	Most   int
	Due    proof.Reason // why the number is to be checked anew
	First  bool         // nothing is set up yet
}

func (d *Desk) home(w http.ResponseWriter, r *http.Request) error {
	text := r.URL.Query().Get("q")
	riders, err := d.store.Riders(r.Context(), text, mostRiders)
	if err != nil {
		return err
	}
	due, err := d.due(r)
	if err != nil {
		return err
	}
	s := d.shopNow()
	return d.show(w, r, "home", frame{Title: d.say(r, "home.title"), Data: homeData{Query: text, Riders: riders,
		Most: mostRiders, Due: due, First: s.Print == nil && len(riders) == 0 && text == ""}})
}

// mostAlias bounds an alias, characters.
const mostAlias = 60

func (d *Desk) newVisit(w http.ResponseWriter, r *http.Request) error {
	alias := strings.Join(strings.Fields(r.PostFormValue("alias")), " ")
	if alias == "" || len([]rune(alias)) > mostAlias {
		return &refusal{http.StatusUnprocessableEntity, d.say(r, "alias.needed", "most", mostAlias)}
	}
	v, err := d.store.NewVisit(r.Context(), alias)
	if err != nil {
		return err
	}
	return redirect(w, r, fmt.Sprint("/visits/", v.ID))
}
