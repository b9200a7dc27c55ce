// Package child is what a child process does with a job: it decodes, measures and draws, and answers in
// bytes.
//
// Its opinion: only here does a photo from outside become pixels. The parent sees a record, and pictures
// that were made anew from pixels; a file that breaks a decoder breaks this process only.
package child

import (
	"context"
	"encoding/hex"
	"os"
	"path/filepath"
	"runtime/debug"

	"sitspan/cmd/sitspan/internal/bare"
	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/cmd/sitspan/internal/worker"
	"sitspan/imprint/photo"
)

// garbage is how much of the live heap may be garbage, per cent: a photo of 12 megapixels is 36 MB.
const garbage = 40

// bench is where a child measures.
type bench struct {
	station *intake.Station
	limits  photo.Limits
}

// Open makes the station that a child measures at.
func Open(s worker.Settings) (worker.Measurer, error) {
	debug.SetGCPercent(garbage)
	settings := shop.Default()
	if s.Shop != "" {
		var err error
		if settings, err = shop.Load(s.Shop); err != nil {
			return nil, err
		}
	}
	limits := photo.Limits{Bytes: s.MaxBytes, Pixels: s.MaxPixels}
	station, err := intake.NewStation(intake.Options{
		Shop: settings, Medium: s.Medium, Pad: s.Pad, DepthMM: s.DepthMM, DepthU: s.DepthU, Limits: limits,
		Checks: s.Checks,
	})
	if err != nil {
		return nil, err
	}
	return bench{station, limits}.do, nil
}

func (b bench) do(job worker.Job) worker.Answer {
	switch {
	case len(job.Sittings) == 0:
		return b.file(job)
	case len(job.Sittings[0]) == 0:
		return worker.Answer{Error: words.Carry(words.Fault("error.worker.no_photo", nil))}
	case job.Bare:
		return b.bare(job.Sittings[0][0])
	}
	return b.sittings(job)
}

// sittings makes the record of a job's photos and tells it, then the pictures.
func (b bench) sittings(job worker.Job) worker.Answer {
	o, err := b.measure(job)
	if err != nil {
		return worker.Answer{Error: words.Carry(err)}
	}
	a := worker.Answer{Record: o.Record}
	rename(job.Sittings, &a.Record)
	if err := job.Early(a); err != nil {
		return worker.Answer{Error: words.Carry(err)} // nobody listens
	}
	alone := len(job.Sittings) == 1 && len(job.Sittings[0]) == 1
	if alone { // several were looked at one by one
		o.LookForCards()
	}
	a.Pictures = pictures(o, job.Draw)
	switch {
	case o.Covers() && alone:
		if a.Covered, err = covered(o); err != nil {
			return worker.Answer{Error: words.Carry(err)}
		}
	case job.Strip && alone && o.Photo() != nil:
		if a.Bare, a.Extension, err = stripped(o, job.Sittings[0][0]); err != nil {
			return worker.Answer{Error: words.Carry(err)}
		}
	}
	return a
}

// stripped is a photo's file without what measuring does not need.
func stripped(o intake.Outcome, p worker.Photo) ([]byte, string, error) {
	data, err := os.ReadFile(p.Path)
	if err != nil {
		return nil, "", words.Fault("error.worker.photo", nil)
	}
	if content, extension, err := bare.Of(data, o.Photo(), p.Name); err == nil {
		return content, extension, nil
	}
	content, err := covered(o) // a file that is read but cannot be taken apart is written anew
	return content, ".jpg", err
}

// measure measures one photo, several of one imprint, or several sittings.
func (b bench) measure(job worker.Job) (intake.Outcome, error) {
	ctx := context.Background()
	cards := map[[32]byte]intake.KnownCard{}
	var sittings [][]string
	for _, photos := range job.Sittings {
		var paths []string
		for _, p := range photos {
			paths = append(paths, p.Path)
			if sum, err := hex.DecodeString(p.SHA); err == nil && len(sum) == 32 && p.Card != nil {
				cards[[32]byte(sum)] = intake.KnownCard{Card: *p.Card, Width: p.Size[0], Height: p.Size[1]}
			}
		}
		sittings = append(sittings, paths)
	}
	station := b.station.WithCards(cards)
	switch first := sittings[0]; {
	case job.Hand != nil && len(sittings) == 1 && len(first) == 1:
		return station.ByHand(first[0], intake.HandScale(*job.Hand))
	case job.Hand != nil:
		return intake.Outcome{}, words.Fault("error.hand.one", nil)
	case len(sittings) > 1:
		return station.Sittings(ctx, sittings), nil
	case len(first) > 1:
		return station.Together(ctx, first), nil
	default:
		return station.Measure(ctx, first[0]), nil
	}
}

// covered is a photo's file written anew, without the face of a card.
func covered(o intake.Outcome) ([]byte, error) {
	p := o.Photo()
	img, err := o.Picture(max(p.Width, p.Height))
	if err != nil {
		return nil, err
	}
	return bare.Painted(p, img)
}

func (b bench) bare(p worker.Photo) worker.Answer {
	data, err := os.ReadFile(p.Path)
	if err != nil {
		return worker.Answer{Error: words.Carry(words.Fault("error.worker.photo", nil))}
	}
	content, extension, err := bare.Make(data, p.Name, b.limits)
	if err != nil {
		return worker.Answer{Error: words.Carry(err)}
	}
	return worker.Answer{Bare: content, Extension: extension}
}

// rename calls the photos in a record what they were called, not by their hash.
func rename(sittings [][]worker.Photo, rec *record.Record) {
	names := map[string]string{}
	for _, photos := range sittings {
		for _, p := range photos {
			names[p.SHA], names[filepath.Base(p.Path)] = p.Name, p.Name
		}
	}
	set := func(name *string, hash string) {
		if n, known := names[hash]; known {
			*name = n
		} else if n, known := names[filepath.Base(*name)]; known {
			*name = n
		}
	}
	for i := range rec.Photos {
		set(&rec.Photos[i].Name, rec.Photos[i].SHA256)
	}
	m := &rec.Measurement
	set(&m.Photo, "")
	for i := range m.Photos {
		set(&m.Photos[i].Photo, m.Photos[i].SHA256)
	}
	for i := range m.Sittings {
		set(&m.Sittings[i].Photo, m.Sittings[i].SHA256)
	}
}
