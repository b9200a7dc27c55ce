package desk

import (
	"slices"

	"sitspan/cmd/sitspan/internal/store"
)

// imprintData is what the imprint's page shows.
type imprintData struct {
	Strip   stripData
	Stage   *stage
	SetUp   setUpForm
	Pads    []string
	Primary string // the one thing to do next; empty where there is something to wait for
}

// The things to do next.
const (
	toPair    = "pair"   // a phone
	toAsk     = "ask"    // a phone that is elsewhere
	toChoose  = "choose" // photos
	toAdd     = "add"    // a further photo
	toAnew    = "anew"   // measure anew, by the bars as they were read last
	toKeep    = "keep"   // confirm, or keep what was moved
	toCount   = "count"  // let this measurement count
	toGoOn    = "go on"  // to the choice
	toNothing = ""       // wait
)

// next is the one thing to do next; phones says whether this desk lets some in.
func (d imprintData) next(v store.Visit, phones bool) string {
	s := d.Stage
	switch {
	case s == nil && (d.Strip.Waiting || d.Strip.phone(func(l phoneLine) bool { return l.Here || l.Comes })):
		return toNothing
	case s == nil && phones && d.Strip.phone(func(phoneLine) bool { return true }):
		return toAsk
	case s == nil && phones:
		return toPair
	case s == nil:
		return toChoose
	case s.LeftOut:
		return toNothing
	case s.Old == printSince:
		return toAnew
	case s.ByHand || s.CanMove && s.M.Spacing != nil && s.Reviewer == "":
		return toKeep
	case s.M.Spacing == nil:
		return toAdd
	case s.Kept.ID != v.Current:
		return toCount
	}
	return toGoOn
}

// First says whether a phone is the first of those that can be asked to come.
func (d imprintData) First(l phoneLine) bool {
	at := slices.IndexFunc(d.Strip.Phones, func(l phoneLine) bool { return l.May == mayPhotograph })
	return at >= 0 && d.Strip.Phones[at].ID == l.ID
}

// phone says whether a paired phone is so.
func (s stripData) phone(is func(phoneLine) bool) bool {
	return slices.ContainsFunc(s.Phones, func(l phoneLine) bool { return l.May == mayPhotograph && is(l) })
}
