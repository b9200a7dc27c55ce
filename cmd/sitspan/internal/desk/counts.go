package desk

import (
	"context"
	"slices"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
)

// byFrame is the source of a scale that the printed frame gave.
const byFrame = "frame"

// terms are what a visit's photos are measured under now: its pad and gauge, and the shop's prints.
type terms struct {
	set  store.SetUp
	shop shop.Shop
}

func (d *Desk) termsOf(v store.Visit) terms { return terms{v.SetUp, d.shopNow()} }

// since says what has changed since a record was made.
type since string

// What can have changed.
const (
	nothingSince since = ""
	setUpSince   since = "setup" // the pad, or the gauge's readings
	printSince   since = "print" // the bars of the printed frame were measured anew
)

// changed says what has changed since a record was made that its number rests on.
func (t terms) changed(k store.Kept) since {
	s := k.Record.Settings
	m, _ := k.Record.Current()
	switch {
	case !t.set.Same(store.SetUp{Medium: s.Medium, Pad: s.Pad, DepthMM: s.DepthMM}):
		return setUpSince
	case t.printChanged(m):
		return printSince
	}
	return nothingSince
}

// printChanged says whether a measurement by the frame took other readings of its bars than the shop's now.
// Readings that are the same on another day change no number.
func (t terms) printChanged(m record.Measurement) bool {
	now := intake.PrintOf(t.shop, m.Medium)
	switch {
	case m.ScaleSource != byFrame:
		return false
	case m.Print != nil:
		return m.Print.Verified != now.Verified || m.Print.Scale != now.Scale || m.Print.ScaleU != now.ScaleU
	case m.Geometry != nil: // an older record
		return m.Geometry.PrintScale != now.Scale
	}
	return false
}

// outdated says whether a record was made under other terms.
func (t terms) outdated(k store.Kept) bool { return t.changed(k) != nothingSince }

// joint says whether a record is of several photos.
func joint(k store.Kept) bool { return k.Kind == store.OfTogether || k.Kind == store.OfSittings }

// uses says whether a record was made from a shot.
func uses(k store.Kept, s store.Shot) bool {
	if k.ShotID != 0 {
		return k.ShotID == s.ID
	}
	return slices.ContainsFunc(k.Record.Photos, func(p record.Photo) bool {
		return p.SHA256 == s.SHA256 ||
			p.SHA256 == s.Original
	})
}

// renewed is the record in whose place a new one counts: the one that counts, where it is of the same
// photo, or joint like the new one, and was made under another pad or gauge. 0 where there is none.
func (d *Desk) renewed(visitID int64, k store.Kept) int64 {
	v, err := d.store.Visit(d.ctx, visitID)
	if err != nil || v.Current == 0 {
		return 0
	}
	now, err := d.store.Record(d.ctx, v.Current)
	if err != nil || now.Kind != k.Kind || now.ShotID != k.ShotID || !d.termsOf(v).outdated(now) {
		return 0
	}
	return now.ID
}

// settle lets that count which is to be shown, after a photo was measured, left out or taken in: nothing
// that rests on a photo that was left out; a joint measurement of all photos that belong to it, joined
// anew where they are others now.
func (d *Desk) settle(ctx context.Context, visitID int64) {
	if err := d.settleVisit(ctx, visitID); err != nil && ctx.Err() == nil {
		d.logf("what counts could not be settled: %v", err)
	}
}

func (d *Desk) settleVisit(ctx context.Context, visitID int64) error {
	v, err := d.store.Visit(ctx, visitID)
	if err != nil {
		return err
	}
	shots, err := d.store.Shots(ctx, visitID)
	if err != nil {
		return err
	}
	for _, s := range shots {
		if d.isBusy(shotKey(s.ID)) {
			return nil // the last one settles
		}
	}
	records, err := d.store.Records(ctx, visitID)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(records, func(k store.Kept) bool { return k.ID == v.Current })
	if at >= 0 && joint(records[at]) {
		return d.settleJoint(ctx, v, records[at], records, shots)
	}
	lost := func(s store.Shot) bool { return s.LeftOut && uses(records[at], s) }
	if at < 0 || slices.ContainsFunc(shots, lost) {
		if err := d.store.SetCurrent(ctx, visitID, best(records, shots, d.termsOf(v))); err != nil {
			return err
		}
	}
	if at >= 0 {
		if _, reviewer := records[at].Record.Current(); reviewer != "" {
			return nil
		}
	}
	if good := goodToJoin(v, d.termsOf(v), records, shots); len(good) > 0 {
		d.join(store.OfTogether, v.ID, [][]store.Shot{good})
	}
	return nil
}

// How many good photos of one sitting are measured together without being asked, at least and at most:
// one from above and one from either side, and as many again.
const (
	fewestByItself = 3
	mostByItself   = 6
)

// goodToJoin are the present sitting's photos that are to be measured together without being asked: all
// that are good, where it was not tried with them yet. A person who chose one photo instead has the last
// word.
func goodToJoin(v store.Visit, t terms, records []store.Kept, shots []store.Shot) (good []store.Shot) {
	for _, of := range usable(records, shots) {
		if of[0].Sitting == v.Sitting {
			good = slices.DeleteFunc(of, func(s store.Shot) bool { return !isGood(records, s, t) })
		}
	}
	tried := slices.ContainsFunc(records, func(k store.Kept) bool {
		return k.Kind == store.OfTogether && !t.outdated(k) && rests(k, good, shots)
	})
	if len(good) < fewestByItself || len(good) > mostByItself || tried {
		return nil
	}
	return good
}

// isGood says whether a photo has a number without doubts, or is a good part of one, under the present pad
// and gauge.
func isGood(records []store.Kept, s store.Shot, t terms) (good bool) {
	for _, k := range records {
		if k.ShotID == s.ID && k.Kind == store.OfPhoto {
			m := k.Record.Measurement
			good = (m.Status == record.Measured || isPart(m)) && !t.outdated(k)
		}
	}
	return good
}

// rests says whether a joint record is of some of the photos, and of none that is left out.
func rests(k store.Kept, of, all []store.Shot) bool {
	some := slices.ContainsFunc(of, func(s store.Shot) bool { return uses(k, s) })
	return some && !slices.ContainsFunc(all, func(s store.Shot) bool { return s.LeftOut && uses(k, s) })
}

// settleJoint joins anew where the photos are others now, or the pad or the gauge is.
func (d *Desk) settleJoint(ctx context.Context, v store.Visit, now store.Kept, records []store.Kept,
	shots []store.Shot) error {
	t := d.termsOf(v)
	sittings := usable(records, shots)
	if now.Kind == store.OfTogether {
		sittings = slices.DeleteFunc(sittings, func(of []store.Shot) bool {
			return !slices.ContainsFunc(shots, func(s store.Shot) bool {
				return s.Sitting == of[0].Sitting &&
					uses(now, s)
			})
		})
	}
	for i, of := range sittings { // a doubtful one waits to be asked for
		sittings[i] = slices.DeleteFunc(of, func(s store.Shot) bool {
			return !uses(now, s) && !isGood(records, s, t)
		})
	}
	sittings = slices.DeleteFunc(sittings, func(of []store.Shot) bool { return len(of) == 0 })
	kept, further := 0, false
	for _, s := range slices.Concat(sittings...) {
		if uses(now, s) {
			kept++
		} else {
			further = true
		}
	}
	m, reviewer := now.Record.Current()
	lost := kept < len(now.Record.Photos)
	further = further && len(slices.Concat(sittings...)) <= mostByItself
	if !lost && !t.outdated(now) && (!further || reviewer != "") {
		return nil
	}
	possible := len(sittings) > 1 || now.Kind == store.OfTogether && len(sittings) == 1 && len(sittings[0]) > 1
	if m.Spacing == nil { // it was tried, and gave none
		possible = false
	}
	if lost || !possible {
		if err := d.store.SetCurrent(ctx, v.ID, best(records, shots, d.termsOf(v))); err != nil {
			return err
		}
	}
	if possible {
		d.join(now.Kind, v.ID, sittings)
	}
	return nil
}

// best is the record of a single photo that is the best to count: under the present pad and gauge, looked
// at by a person, without doubts, the latest. 0 where no photo has a number.
func best(records []store.Kept, shots []store.Shot, t terms) (id int64) {
	most := 0
	for _, k := range records {
		m, reviewer := k.Record.Current()
		in := slices.ContainsFunc(shots, func(s store.Shot) bool { return s.ID == k.ShotID && !s.LeftOut })
		if m.Spacing == nil || !in {
			continue
		}
		worth := 1
		if !t.outdated(k) {
			worth += 4
		}
		if reviewer != "" {
			worth += 2
		}
		if m.Status == record.Measured {
			worth++
		}
		if worth >= most {
			most, id = worth, k.ID
		}
	}
	return id
}

// usable are the photos that can be joined, by sitting.
func usable(records []store.Kept, shots []store.Shot) (sittings [][]store.Shot) {
	latest := map[int64]store.Kept{}
	for _, k := range records {
		if k.ShotID != 0 && k.Kind == store.OfPhoto {
			latest[k.ShotID] = k
		}
	}
	for _, s := range shots { // in the order in which they came, so the sittings' too
		k, measured := latest[s.ID]
		if !measured || !joinable(s, k) {
			continue
		}
		if n := len(sittings); n > 0 && sittings[n-1][0].Sitting == s.Sitting {
			sittings[n-1] = append(sittings[n-1], s)
		} else {
			sittings = append(sittings, []store.Shot{s})
		}
	}
	return sittings
}

// unused is how many photos a joint measurement does not rest on.
func unused(photos []record.Part) (n int) {
	for _, p := range photos {
		if !p.Used {
			n++
		}
	}
	return n
}
