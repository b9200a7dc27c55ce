package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"syscall"

	"sitspan/cmd/sitspan/internal/bare"
	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/overlay"
	"sitspan/imprint/photo"
)

// ChildCommand is the hidden command of this program that does one job.
const ChildCommand = "desk-job"

// job is what a child is asked to do, JSON on its standard input. Paths are
// those of the store, made of hashes.
type job struct {
	Kind     string       `json:"kind"` // store.OfPhoto, OfTogether, OfSittings, or bareJob
	Sittings [][]jobPhoto `json:"sittings"`
	Shop     string       `json:"shop"` // path of the shop's file
	SetUp    store.SetUp  `json:"set_up"`
	Limits   photo.Limits `json:"limits"`

	Hand *intake.HandScale `json:"hand,omitempty"` // for store.ByHand
}

// bareJob makes a photo's bare file.
const bareJob = "bare"

type jobPhoto struct {
	Path string `json:"path"`
	Name string `json:"name"` // as the record shall name it
	SHA  string `json:"sha256"`
}

// done is a child's answer, JSON on its standard output: first what was made of
// the job, then its pictures.
type done struct {
	Error     string            `json:"error,omitempty"`
	Record    record.Record     `json:"record"`
	Pictures  map[string][]byte `json:"pictures,omitempty"`
	Covered   []byte            `json:"covered,omitempty"` // the photo's file anew, where it shows what must not be kept
	Bare      []byte            `json:"bare,omitempty"`
	Extension string            `json:"extension,omitempty"`
}

// The longer sides of the pictures that are kept with a record, px.
const (
	overlaySide = 1800
	viewSide    = 2400
	thumbSide   = 360
)

// childCPUSeconds is the processor time after which the system ends a child,
// should its parent no longer look at the clock.
const childCPUSeconds = 120

// ServeChild does the job on in and answers on out. It is all that a child
// process does.
func ServeChild(ctx context.Context, in io.Reader, out io.Writer) error {
	limit := syscall.Rlimit{Cur: childCPUSeconds, Max: childCPUSeconds}
	if err := syscall.Setrlimit(syscall.RLIMIT_CPU, &limit); err != nil {
		return fmt.Errorf("the job's processor time cannot be limited: %w", err)
	}
	var j job
	if err := json.NewDecoder(in).Decode(&j); err != nil {
		return fmt.Errorf("a job for the desk is read from standard input: %w", err)
	}
	answers := json.NewEncoder(out)
	return j.do(ctx, func(d done) error { return answers.Encode(d) })
}

// do answers twice: with the record as soon as it is known, so that a phone need
// not wait for the drawing, and with the pictures.
func (j job) do(ctx context.Context, answer func(done) error) error {
	if j.Kind != bareJob {
		return j.record(ctx, answer)
	}
	if err := answer(j.bare()); err != nil {
		return err
	}
	return answer(done{})
}

func (j job) record(ctx context.Context, answer func(done) error) error {
	o, s, err := j.open(ctx)
	if err != nil {
		return answer(done{Error: err.Error()})
	}
	defer s.Close()
	first := done{Record: o.Record}
	j.rename(&first.Record)
	if err := answer(first); err != nil {
		return err
	}
	second := done{Pictures: pictures(o)}
	if o.Covers() && (j.Kind == store.OfPhoto || j.Kind == store.ByHand) {
		if second.Covered, err = covered(o); err != nil {
			return answer(done{Error: err.Error()})
		}
	}
	return answer(second)
}

// covered is a photo's file without the face of a card.
func covered(o intake.Outcome) ([]byte, error) {
	p := o.Photo()
	img, err := o.Picture(max(p.Width, p.Height))
	if err != nil {
		return nil, err
	}
	return bare.Painted(p, img)
}

func (j job) open(ctx context.Context) (intake.Outcome, *intake.Station, error) {
	if len(j.Sittings) == 0 || len(j.Sittings[0]) == 0 {
		return intake.Outcome{}, nil, errors.New("a job without a photo")
	}
	settings, err := shop.LoadOrDefault(j.Shop)
	if err != nil {
		return intake.Outcome{}, nil, err
	}
	s, err := intake.NewStation(intake.Options{Shop: settings, Medium: j.SetUp.Medium, Pad: j.SetUp.Pad, DepthMM: j.SetUp.DepthMM, Limits: j.Limits})
	if err != nil {
		return intake.Outcome{}, nil, err
	}
	if j.Kind == store.ByHand && j.Hand != nil {
		o, err := s.ByHand(j.Sittings[0][0].Path, *j.Hand)
		if err != nil {
			s.Close()
		}
		return o, s, err
	}
	return j.measure(ctx, s), s, nil
}

func (j job) measure(ctx context.Context, s *intake.Station) intake.Outcome {
	sittings := make([][]string, len(j.Sittings))
	for i, photos := range j.Sittings {
		for _, p := range photos {
			sittings[i] = append(sittings[i], p.Path)
		}
	}
	switch j.Kind {
	case store.OfTogether:
		return s.Together(ctx, sittings[0])
	case store.OfSittings:
		return s.Sittings(ctx, sittings)
	}
	return s.Measure(ctx, sittings[0][0])
}

// pictures draws what can be drawn: a picture that cannot is not worth a record.
func pictures(o intake.Outcome) map[string][]byte {
	out := map[string][]byte{}
	draws := map[string]func() (image.Image, error){
		store.View:  func() (image.Image, error) { return o.Picture(viewSide) },
		store.Thumb: func() (image.Image, error) { return o.Picture(thumbSide) },
	}
	for _, lang := range words.Langs() {
		draws[store.OverlayIn(string(lang))] = func() (image.Image, error) { return o.Overlay(overlaySide, lang) }
	}
	for kind, draw := range draws {
		var b bytes.Buffer
		img, err := draw()
		if err == nil {
			err = overlay.EncodeJPEG(&b, img)
		}
		if err == nil {
			out[kind] = b.Bytes()
		}
	}
	return out
}

// rename calls the photos in a record what they were called, not by their hash.
func (j job) rename(rec *record.Record) {
	names := map[string]string{}
	for _, photos := range j.Sittings {
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

func (j job) bare() done {
	if len(j.Sittings) == 0 || len(j.Sittings[0]) == 0 {
		return done{Error: "a job without a photo"}
	}
	p := j.Sittings[0][0]
	data, err := os.ReadFile(p.Path)
	if err != nil {
		return done{Error: "the photo's file cannot be read"}
	}
	content, extension, err := bare.Make(data, p.Name, j.Limits)
	if err != nil {
		return done{Error: err.Error()}
	}
	return done{Bare: content, Extension: extension}
}
