// Package intake is the one place where files become records: it reads a photo, measures it under the shop's
// settings, chooses the width where a posture is known, and says how to draw it. `measure`, the desk and the
// audit all go through it, so that the same picture gets the same answer everywhere.
package intake

import (
	"context"
	"image"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"sitspan/calibration"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
	"sitspan/imprint"
	"sitspan/imprint/codes"
	"sitspan/imprint/photo"
	"sitspan/imprint/stages"
)

// Version is the tool's version, set when it is built.
var Version = "dev"

// Options are what all photos of a station are measured under.
type Options struct {
	Shop    shop.Shop    // print, pads, allowances, rule, damping, stock
	Medium  string       // "", "foam" or "paper"
	Pad     string       // name of a pad profile, or "" for the medium's own
	DepthMM []float64    // none, one or two depths by a gauge, mm below the pad's flat surface
	DepthU  float64      // standard uncertainty of each, mm; 0 means 1
	Posture *fit.Posture // nil: no width is chosen
	Stock   *fit.Stock   // nil: the shop's
	Blank   string       // photo of the empty pad, or ""
	Limits  photo.Limits
	Checks  []proof.Kept // of the shop's own, with known distances
}

// Station measures files under one set of options. It is safe for concurrent use; Close it after use.
type Station struct {
	options  Options
	settings imprint.Settings
	advisor  fit.Advisor
	meter    *imprint.Meter
}

// NewStation checks the options.
func NewStation(o Options) (*Station, error) {
	s := &Station{options: o}
	var err error
	if s.settings, err = settingsOf(o); err != nil {
		return nil, err
	}
	if s.advisor, err = advisorOf(o); err != nil {
		return nil, err
	}
	if o.Blank != "" {
		if s.settings.Blank, err = photo.Read(o.Blank, o.Limits); err != nil {
			return nil, err
		}
	}
	s.meter = imprint.NewMeter()
	return s, nil
}

// Close frees the nets.
func (s *Station) Close() error { return s.meter.Close() }

func advisorOf(o Options) (fit.Advisor, error) {
	if o.Stock != nil {
		sh := o.Shop
		sh.StockFile, sh.WidthsMM = "", nil
		a, err := sh.Advisor()
		a.Stock = *o.Stock
		return a, err
	}
	return o.Shop.Advisor()
}

func settingsOf(o Options) (s imprint.Settings, err error) {
	s.DepthMM, s.DepthU = o.DepthMM, o.DepthU
	if o.Medium != "" {
		if s.Medium, err = calibration.ParseMedium(o.Medium); err != nil {
			return s, err
		}
	}
	if s.Pad, err = padOf(o); err != nil {
		return s, err
	}
	if s.Medium == "" && o.Pad != "" {
		s.Medium = s.Pad.Medium
	}
	for _, p := range []struct {
		of   *shop.Print
		into *calibration.Print
	}{{o.Shop.Print, &s.Print}, {o.Shop.PrintPaper, &s.PaperPrint}} {
		if p.of == nil {
			continue
		}
		*p.into = printOf(*p.of)
		if err = p.into.Check(); err != nil {
			return s, words.Fault("error.settings.print", words.Values{"file": o.Shop.Path, "why": err})
		}
	}
	return s, s.Check()
}

// padOf is the named profile, or the shop's own for foam.
func padOf(o Options) (calibration.Pad, error) {
	name := o.Pad
	if name == "" {
		name = shop.Foam
		if o.Medium == shop.Paper {
			name = shop.Paper
		}
	}
	p, known := o.Shop.Pads[name]
	if !known {
		return calibration.Pad{}, words.Fault("error.settings.pad", words.Values{"name": name})
	}
	medium := calibration.Foam
	if p.Medium == shop.Paper {
		medium = calibration.Paper
	}
	pad := calibration.Pad{Name: name, Medium: medium, DepthMM: p.DepthMM, DepthUCommon: p.DepthUCommonMM,
		DepthUDifference: p.DepthUDifferenceMM,
		CardThickness:    p.CardThicknessMM, CardThicknessU: p.CardThicknessUMM, Basis: p.Basis}
	return pad, pad.Check()
}

func printOf(p shop.Print) calibration.Print {
	c := calibration.Print{ScaleX: p.ScaleX, ScaleY: p.ScaleY, UX: p.ScaleXU, UY: p.ScaleYU,
		CorrelationXY: p.CorrelationXY, Verified: true}
	if c.ScaleY == 0 {
		if v,
			err := calibration.VerifyPrint(calibration.BarReading{X: p.ScaleX * calibration.ControlFrame.BarX.Nominal,
			U: p.ScaleXU * calibration.ControlFrame.BarX.Nominal}); err == nil {
			return v
		}
		c.ScaleY, c.UY, c.CorrelationXY = c.ScaleX, c.UX, 1
	}
	return c
}

// Outcome is a record and what can be drawn of it.
type Outcome struct {
	Record record.Record
	photo  *photo.Photo
	made   *imprint.Measurement
}

// Phone is the model of the camera that took the photo, empty where it is not known.
func (o Outcome) Phone() string {
	if o.photo == nil {
		return ""
	}
	return o.photo.Model
}

// Overlay draws the measurement on its photo, the longer side at most maxSide px, in a language. It fails
// where there is no photo.
func (o Outcome) Overlay(maxSide int, lang words.Lang) (image.Image, error) {
	if o.photo == nil {
		return nil, words.Fault("error.no_picture_to_draw", nil)
	}
	return drawing{lang}.draw(o, maxSide)
}

// Measure measures the photo or scan in a file. It never fails: what went wrong is in the record.
func (s *Station) Measure(ctx context.Context, path string) Outcome {
	p, err := s.read(ctx, path)
	if err != nil {
		return s.failed(filepath.Base(path), err)
	}
	return toldPages(s.measure(ctx, p), p)
}

func (s *Station) read(ctx context.Context, path string) (*photo.Photo, error) {
	defer stages.Begin(ctx, stages.Decode)()
	return photo.Read(path, s.options.Limits)
}

// toldPages warns where a file has further pages that were not measured.
func toldPages(o Outcome, photos ...*photo.Photo) Outcome {
	m := &o.Record.Measurement
	for _, p := range photos {
		if p.Pages > 1 && m.Status != record.Failed {
			m.Warnings = append(m.Warnings, sentence.Warning(codes.FirstPage.With(p.Pages)))
			break
		}
	}
	return o
}

func (s *Station) measure(ctx context.Context, p *photo.Photo) Outcome {
	m, err := s.meter.Measure(ctx, p, s.settings)
	if err != nil {
		return s.failed(p.Name, err)
	}
	return s.outcome(m, p)
}

// Together measures several photos of one imprint as one.
func (s *Station) Together(ctx context.Context, paths []string) Outcome {
	photos, bad, err := s.readAll(ctx, paths)
	if err != nil {
		return s.failed(bad, err)
	}
	m, err := s.meter.MeasureTogether(ctx, photos, s.settings)
	if err != nil {
		return s.failed(filepath.Base(paths[0]), err)
	}
	return toldPages(s.outcome(m, photos...), photos...)
}

// Sittings measures repeated sittings, each by one photo or more.
func (s *Station) Sittings(ctx context.Context, sittings [][]string) Outcome {
	var all [][]*photo.Photo
	var flat []*photo.Photo
	for _, paths := range sittings {
		photos, bad, err := s.readAll(ctx, paths)
		if err != nil {
			return s.failed(bad, err)
		}
		all, flat = append(all, photos), append(flat, photos...)
	}
	m, err := s.meter.MeasureSittings(ctx, all, s.settings)
	if err != nil {
		name := "sittings"
		if len(flat) > 0 {
			name = flat[0].Name
		}
		return s.failed(name, err)
	}
	o := s.outcome(m, flat...)
	for i, photos := range all {
		o.Record.Measurement.Sittings[i].Photo = sittingName(photos)
	}
	return toldPages(o, flat...)
}

// sittingName is what a sitting's photos are called, as they were given.
func sittingName(photos []*photo.Photo) string {
	names := make([]string, len(photos))
	for i, p := range photos {
		names[i] = filepath.Base(p.Name)
	}
	return strings.Join(names, ",")
}

// atOnce is how many files are decoded side by side, on however many cores: see package imprint.
const atOnce = 4

// readAll reads files, several at a time; bad names the first that cannot be read.
func (s *Station) readAll(ctx context.Context, paths []string) (photos []*photo.Photo, bad string,
	err error) {
	photos, failed := make([]*photo.Photo, len(paths)), make([]error, len(paths))
	var group sync.WaitGroup
	slots := make(chan struct{}, atOnce)
	for i, path := range paths {
		slots <- struct{}{}
		group.Go(func() {
			defer func() { <-slots }()
			photos[i], failed[i] = s.read(ctx, path)
		})
	}
	group.Wait()
	for i, err := range failed {
		if err != nil {
			return nil, filepath.Base(paths[i]), err
		}
	}
	return photos, "", nil
}

// now is the clock, for tests.
var now = time.Now
