package desk

import (
	"errors"
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

// aliasOf reads an alias from a form.
func (d *Desk) aliasOf(r *http.Request) (string, error) {
	alias := strings.Join(strings.Fields(r.PostFormValue("alias")), " ")
	if alias == "" || len([]rune(alias)) > mostAlias {
		return "", &refusal{http.StatusUnprocessableEntity, d.say(r, "alias.needed", "most", mostAlias)}
	}
	return alias, nil
}

// newVisit opens a visit: of a rider whom the page knows, or of a new one. Where an alias may be that of
// somebody who was here already, the page asks: two people are never made one in silence.
func (d *Desk) newVisit(w http.ResponseWriter, r *http.Request) error {
	return d.once(w, r, func() (string, error) {
		if id, known := idIn(r, "rider"); known {
			v, err := d.store.NewVisitOf(r.Context(), id)
			return fmt.Sprint("/visits/", v.ID), err
		}
		return d.newRiderOrAsk(w, r)
	})
}

// newRiderOrAsk opens a new rider's visit and says where it is, or asks, and says nothing.
func (d *Desk) newRiderOrAsk(w http.ResponseWriter, r *http.Request) (visit string, err error) {
	alias, err := d.aliasOf(r)
	if err != nil {
		return "", err
	}
	same, err := d.store.Namesakes(r.Context(), alias)
	if err != nil {
		return "", err
	}
	if len(same) > 0 && !(r.PostFormValue("another") == "yes" && !taken(same, alias)) {
		return "", d.showStatus(w, r, http.StatusConflict, "who", frame{
			Title: d.say(r, "who.title", "alias", alias), Here: "/", Data: whoData{alias, same, taken(same, alias)}})
	}
	v, err := d.store.NewVisit(r.Context(), alias)
	return fmt.Sprint("/visits/", v.ID), err
}

// whoData is what the page asks with when an alias may be somebody's.
type whoData struct {
	Alias  string
	Riders []store.RiderLine
	Taken  bool // one of them has the very alias, so that a new rider needs another
}

// taken tells whether one of the riders has an alias, as the store compares them.
func taken(riders []store.RiderLine, alias string) bool {
	for _, l := range riders {
		if strings.EqualFold(l.Alias, alias) {
			return true
		}
	}
	return false
}

// idIn is the number in a form's field.
func idIn(r *http.Request, name string) (id int64, ok bool) {
	_, err := fmt.Sscan(r.PostFormValue(name), &id)
	return id, err == nil && id > 0
}

// renameRider gives a rider another alias. One that may be somebody else's is asked about, and one that is
// leads to merging, which is a page of its own.
func (d *Desk) renameRider(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	alias, err := d.aliasOf(r)
	if err != nil {
		return err
	}
	rider, err := d.store.Rider(r.Context(), id)
	if err != nil {
		return err
	}
	if was := r.PostFormValue("was"); was != "" && was != rider.Alias && alias != rider.Alias {
		return &refusal{http.StatusConflict, d.say(r, "rename.conflict", "theirs", rider.Alias, "mine", alias)}
	}
	err = d.store.Rename(r.Context(), id, alias)
	if errors.Is(err, store.ErrTaken) {
		return &refusal{http.StatusConflict, d.say(r, "rename.taken", "alias", alias)}
	}
	if err != nil {
		return err
	}
	return redirect(w, r, fmt.Sprintf("/riders/%d?saved", id))
}

// mergeData is what the page of merging shows.
type mergeData struct {
	From   store.RiderLine
	Riders []store.RiderLine // to choose from
	Into   *store.RiderLine  // who was chosen
	Query  string
}

// riderLine is one rider as lists show them.
func (d *Desk) riderLine(r *http.Request, id int64) (l store.RiderLine, err error) {
	if l.Rider, err = d.store.Rider(r.Context(), id); err != nil {
		return l, err
	}
	visits, err := d.store.Visits(r.Context(), id)
	if l.Visits = len(visits); l.Visits > 0 {
		l.LastVisit = visits[0].MadeAt
	}
	return l, err
}

// mergePage shows whom a rider can be merged with, and, with one chosen, what that means. It changes nothing.
func (d *Desk) mergePage(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	data := mergeData{Query: r.URL.Query().Get("q")}
	if data.From, err = d.riderLine(r, id); err != nil {
		return err
	}
	var into int64
	if fmt.Sscan(r.URL.Query().Get("into"), &into); into > 0 && into != id {
		l, err := d.riderLine(r, into)
		if err != nil {
			return err
		}
		data.Into = &l
	}
	const most = 20
	riders, err := d.store.Riders(r.Context(), data.Query, most)
	if err != nil {
		return err
	}
	for _, l := range riders {
		if l.ID != id {
			data.Riders = append(data.Riders, l)
		}
	}
	return d.show(w, r, "merge", frame{Title: d.say(r, "merge.title", "alias", data.From.Alias), Data: data})
}

// mergeRiders makes one rider's visits another's, where the page has shown both.
func (d *Desk) mergeRiders(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	into, chosen := idIn(r, "into")
	if !chosen {
		return store.ErrNotFound
	}
	if err := d.store.Merge(r.Context(), id, into); err != nil {
		return err
	}
	return redirect(w, r, fmt.Sprintf("/riders/%d?saved", into))
}
