package main

import (
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"os"
	"runtime/debug"
	"time"

	"github.com/disintegration/imaging"
	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/fingerprint"
	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/cmd/sitspan/internal/worker"
	"sitspan/imprint/photo"
)

// workerName is the hidden command that measures for another process of this
// program; see package worker.
const workerName = "measure-worker"

// Bounds of a worker's pictures and memory.
const (
	thumbnailSide    = 320 // px, the longer side
	thumbnailQuality = 72  // JPEG
	workerGarbage    = 40  // per cent of the live heap that may be garbage: a photo of 12 megapixels is 36 MB
)

func (p *program) workerCommand() *cobra.Command {
	return &cobra.Command{
		Use:    workerName,
		Short:  "Measure photos for another process, in lines of JSON",
		Hidden: true,
		Args:   noArguments,
		RunE: func(*cobra.Command, []string) error {
			open := p.openWorker
			if open == nil {
				open = openMeasurer
			}
			return worker.Serve(os.Stdin, os.Stdout, open)
		},
	}
}

// openMeasurer makes the station that a worker measures at.
func openMeasurer(s worker.Settings) (worker.Measurer, error) {
	debug.SetGCPercent(workerGarbage)
	intake.Version = toolVersion() // for the records
	settings := shop.Default()
	if s.Shop != "" {
		var err error
		if settings, err = shop.Load(s.Shop); err != nil {
			return nil, err
		}
	}
	station, err := intake.NewStation(intake.Options{Shop: settings, Medium: s.Medium, Pad: s.Pad, DepthMM: s.DepthMM, DepthU: s.DepthU})
	if err != nil {
		return nil, err
	}
	return func(job worker.Job) worker.Answer { return measureJob(station, job) }, nil
}

// measureJob measures one photo and leaves its pictures.
func measureJob(s *intake.Station, job worker.Job) worker.Answer {
	start := time.Now()
	p, err := photo.Read(string(job.Path), photo.Limits{})
	decoded := time.Since(start)
	if err != nil {
		return worker.Answer{Record: s.Unread(string(job.Path), err).Record, Seconds: decoded.Seconds(), DecodeSeconds: decoded.Seconds()}
	}
	o := s.MeasurePhoto(context.Background(), p)
	a := worker.Answer{Record: o.Record, Fingerprint: fingerprint.Of(p.Colour(4 * 32)).String(), DecodeSeconds: decoded.Seconds()}
	if err := leavePictures(o, p, job); err != nil {
		a.OverlayError = err.Error()
	}
	a.Seconds = time.Since(start).Seconds()
	return a
}

// leavePictures draws the overlay and reduces it to the thumbnail.
func leavePictures(o intake.Outcome, p *photo.Photo, job worker.Job) error {
	if job.Overlay == "" && job.Thumbnail == "" {
		return nil
	}
	picture, err := o.Overlay(overlaySide, words.English)
	if err != nil {
		return fmt.Errorf("the overlay was not drawn: %w", err)
	}
	if job.Overlay != "" {
		if err := writeJPEG(job.Overlay, picture, overlayQuality); err != nil {
			return err
		}
	}
	if job.Thumbnail == "" {
		return nil
	}
	return writeJPEG(job.Thumbnail, imaging.Fit(withoutLoupes(picture, p), thumbnailSide, thumbnailSide, imaging.Box), thumbnailQuality)
}

// withoutLoupes is the overlay's photo; below it are the loupes, too small to see
// in a thumbnail.
func withoutLoupes(overlay image.Image, p *photo.Photo) image.Image {
	b := overlay.Bounds()
	b.Max.Y = min(b.Max.Y, b.Min.Y+(b.Dx()*p.Height+p.Width/2)/p.Width)
	return imaging.Crop(overlay, b)
}

func writeJPEG(path string, m image.Image, quality int) error {
	return wholefile.Write(path, func(w io.Writer) error { return jpeg.Encode(w, m, &jpeg.Options{Quality: quality}) })
}
