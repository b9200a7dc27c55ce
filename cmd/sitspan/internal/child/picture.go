package child

import (
	"bytes"
	"context"
	"image"
	"io"
	"time"

	"github.com/disintegration/imaging"

	"sitspan/cmd/sitspan/internal/fingerprint"
	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/cmd/sitspan/internal/worker"
	"sitspan/imprint/overlay"
	"sitspan/imprint/photo"
)

// The thumbnails that are left in files.
const (
	thumbnailSide    = 320 // px, the longer side
	thumbnailQuality = 72  // JPEG
)

// file measures the photo in a file and leaves its pictures.
func (b bench) file(job worker.Job) worker.Answer {
	start := time.Now()
	p, err := photo.ReadPage(string(job.Path), job.Page, b.limits)
	decoded := time.Since(start).Seconds()
	if err != nil {
		return worker.Answer{Record: b.station.Unread(string(job.Path), err).Record, Seconds: decoded,
			DecodeSeconds: decoded}
	}
	o := b.station.MeasurePhoto(context.Background(), p)
	a := worker.Answer{Record: o.Record, Fingerprint: fingerprint.Of(p.Colour(4 * 32)).String(),
		DecodeSeconds: decoded}
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
	picture, err := o.Overlay(intake.OverlaySide, words.English)
	if err != nil {
		return words.Fault("error.overlay.undrawn", words.Values{"why": err})
	}
	if job.Overlay != "" {
		if err := writeJPEG(job.Overlay, picture, intake.OverlayQuality); err != nil {
			return err
		}
	}
	if job.Thumbnail == "" {
		return nil
	}
	small := imaging.Fit(withoutLoupes(picture, p), thumbnailSide, thumbnailSide, imaging.Box)
	return writeJPEG(job.Thumbnail, small, thumbnailQuality)
}

// withoutLoupes is the overlay's photo; below it are the loupes, too small to see in a thumbnail.
func withoutLoupes(overlay image.Image, p *photo.Photo) image.Image {
	b := overlay.Bounds()
	b.Max.Y = min(b.Max.Y, b.Min.Y+(b.Dx()*p.Height+p.Width/2)/p.Width)
	if whole, ok := overlay.(*image.NRGBA); ok {
		return whole.SubImage(b)
	}
	return imaging.Crop(overlay, b)
}

func writeJPEG(path string, m image.Image, quality int) error {
	return wholefile.Write(path, func(w io.Writer) error { return overlay.EncodeJPEGAt(w, m, quality) })
}

// pictures draws what is wanted and can be drawn: a picture that cannot is not worth a record.
func pictures(o intake.Outcome, wanted []worker.Drawing) map[string][]byte {
	out := map[string][]byte{}
	for _, d := range wanted {
		var b bytes.Buffer
		img, err := draw(o, d)
		if err == nil {
			err = overlay.EncodeJPEG(&b, img)
		}
		if err == nil {
			out[d.Name] = b.Bytes()
		}
	}
	return out
}

func draw(o intake.Outcome, d worker.Drawing) (image.Image, error) {
	if d.Lang == "" {
		return o.Picture(d.Side)
	}
	lang, err := words.Parse(d.Lang)
	if err != nil {
		return nil, err
	}
	return o.Overlay(d.Side, lang)
}
