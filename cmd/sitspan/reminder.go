package main

import (
	"context"
	"time"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
)

// addChecks gives a measurement the shop's checks. A data folder that cannot be read is told, and does not
// keep anybody from measuring.
func (p *program) addChecks(ctx context.Context, data string, o *intake.Options) {
	dir, err := (&deskFlags{data: data}).dataDir()
	if err != nil {
		return // there is nowhere to keep a check
	}
	if o.Checks, err = store.KeptIn(ctx, dir); err != nil {
		p.tell("known.unread", words.Values{"why": err})
	}
}

// reminder finds whether a measurement was made with what no check holds for any more. A shop that never
// checked is told so by the sheet and by explain only.
type reminder struct {
	checks []proof.Kept
	pad    string
	shop   shop.Shop
	reason proof.Reason
}

// see looks at one outcome; the first reason stays.
func (r *reminder) see(o outcome) {
	m := o.Record.Measurement
	if r.reason != proof.NotDue || m.Spacing == nil {
		return
	}
	s := proof.Setting{Pad: proof.PadKey(r.pad, m.Medium), Phone: o.Phone, Print: r.shop.PrintKey(m.Medium)}
	if reason := proof.DueOf(r.checks, s, time.Now()); reason != proof.Never {
		r.reason = reason
	}
}
