package imprint

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/geometry"
	"sitspan/imprint/homography"
	"sitspan/imprint/internal/native"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
	"sitspan/imprint/scale"
	"sitspan/imprint/spacing"
	"sitspan/imprint/stages"
	"sitspan/imprint/tone"
)

// Settings are the choices that a measurement is made under. The zero Settings detect the medium and take the
// built-in pad profile and an unverified print.
type Settings struct {
	Medium calibration.Medium // empty: detected
	Pad    calibration.Pad    // the pad's profile; zero: the medium's default
	Print  calibration.Print  // scale of the frame's print on card; zero: unverified
	// scale of the frame's print on marking paper; zero: the card's
	PaperPrint calibration.Print
	// mm below the pad's flat surface, by a gauge: none, one for both sides, or left and right
	DepthMM []float64
	DepthU  float64      // standard uncertainty of each, mm; 0 means 1
	Blank   *photo.Photo // the empty pad with the frame, before the rider sat; nil for none
	// those that were found in photos before their faces were painted over, by the file's SHA-256
	Cards map[[32]byte]scale.KeptCard
}

// Check tells what is wrong with the settings, or nil.
func (s Settings) Check() error {
	if len(s.DepthMM) > 2 {
		return errors.New("at most two depths, left and right, are needed")
	}
	for _, d := range s.DepthMM {
		if !(d >= 0 && d <= 60) {
			return errors.New("a depth lies between 0 and 60 mm")
		}
	}
	if !(s.DepthU >= 0 && s.DepthU <= 20) {
		return errors.New("a depth's standard uncertainty lies between 0 and 20 mm")
	}
	return nil
}

// PrintOn is the scale of the print that lies on a medium. Marking paper without a verified print of its
// own has the card's.
func (s Settings) PrintOn(m calibration.Medium) calibration.Print {
	switch {
	case m == calibration.Paper && s.PaperPrint.ScaleX != 0:
		return s.PaperPrint
	case s.Print.ScaleX != 0:
		return s.Print
	}
	return calibration.UnverifiedPrint()
}

// borrowed tells that marking paper takes the card's print, since its own was not verified.
func (s Settings) borrowed(m calibration.Medium) bool {
	return m == calibration.Paper && s.PaperPrint.ScaleX == 0 && s.Print.ScaleX != 0
}

func (s Settings) pad(m calibration.Medium) calibration.Pad {
	if s.Pad.Name == "" || s.Pad.Medium != m {
		return calibration.PadFor(m)
	}
	return s.Pad
}

func (s Settings) gauge() spacing.Gauge { return spacing.Gauge{MM: s.DepthMM, U: s.DepthU} }

func init() {
	photo.UseNative(photo.Native{JPEG: native.JPEG, HEIC: func(c photo.Coded) image.Image {
		return native.HEVC(c.Stream, c.Width, c.Height, c.TileWidth, c.TileHeight)
	}})
}

// Meter measures photos. It holds the nets and may be used from several goroutines. Close it after use.
type Meter struct{ nets *reading.Nets }

// NewMeter is a meter whose nets are loaded when they are first needed, which takes some 40 ms.
func NewMeter() *Meter { return &Meter{reading.NewNets()} }

// Close frees the nets.
func (t *Meter) Close() error { return t.nets.Close() }

// ModelSHA256 names the weights that the readings come from: the sum of their manifest, which holds their own
// sums and their recipe's. The weights themselves, some ten megabytes, are not summed up at each start; a
// test holds them against it.
func ModelSHA256() string {
	h := sha256.Sum256(relief.Manifest)
	return hex.EncodeToString(h[:])
}

// Measure measures one photo or scan. It always returns a measurement: what went wrong is its status and
// reasons. A cancelled context gives an error.
func (t *Meter) Measure(ctx context.Context, p *photo.Photo, s Settings) (*Measurement, error) {
	v, err := t.look(ctx, p, s)
	if err != nil {
		return nil, err
	}
	v.concludeAlone(ctx, s)
	return v.m, nil
}

// sight is one photo on its way to a measurement: all that is known before the spacing is worked out.
type sight struct {
	m         *Measurement
	photo     *photo.Photo
	grey      *image.Gray
	reading   relief.Reading // on the frame's plane, or on a bare scan's own millimetres
	read      bool           // there is a reading
	window    relief.Window  // of the frame's plane
	input     relief.Tensor  // of the net, made of what was read
	together  bool           // the reading was made together with other photos of the imprint
	toned     bool           // a phone's local tone was taken off what was read
	byInk     bool           // the reading is the ink's density model's, and not the net's alone
	inkU      float64        // mm, the density model's own standard uncertainty of the distance
	again     bool           // it shows what an earlier photo of the same imprint shows
	leftOut   bool           // a dotted pad's photo that is no part of what was measured
	unread    func() error   // reads the centres; nil where that was done or there is nothing to read
	concluded bool           // readAll is done with it
	searched  bool           // its dots were looked for
	shown     *geometry.Photo
	toPixel   func(relief.Point) homography.Pixel
	onPaper   func(relief.Point) bool // of a bare scan; nil: everywhere
}

// look finds the frame and reads the two centres.
func (t *Meter) look(ctx context.Context, p *photo.Photo, s Settings) (*sight, error) {
	v, err := t.lookBefore(ctx, p, s)
	if err != nil {
		return v, err
	}
	return v, v.readNow()
}

// readNow reads the centres, if that is still to be done.
func (v *sight) readNow() error {
	read := v.unread
	if v.unread = nil; read == nil {
		return nil
	}
	return read()
}

// lookBefore is look up to the reading of a framed photo's centres, which unread does.
func (t *Meter) lookBefore(ctx context.Context, p *photo.Photo, s Settings) (*sight, error) {
	grey := p.Grey()
	v := &sight{
		m:     &Measurement{Verdict: judge.Verdict{Status: Measured}, Medium: s.Medium},
		photo: p,
		grey:  grey,
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	end := stages.Begin(ctx, stages.Marks)
	plane := v.m.findPlane(p, grey)
	end()
	// not a frame that is there and cannot be used
	without := plane == nil && codes.NoFrame.Is(v.m.Reasons[0])
	if without && p.Density != nil && s.Medium != calibration.Foam {
		return v, t.lookAtBareScan(ctx, v, grey)
	}
	if without {
		if found, err := t.lookAtReference(ctx, v, grey, s); found || err != nil {
			return v, err
		}
	}
	scale.SayIfSoft(&v.m.Verdict, v.m.Marks, grey)
	v.m.Plane = plane
	if plane == nil || v.m.Status == Refused {
		return v, nil
	}
	v.toPixel = func(q relief.Point) homography.Pixel {
		return plane.Fit.ImageFromPlane(homography.PlanePoint(q))
	}
	end = stages.Begin(ctx, stages.Window)
	w, err := reading.Rectify(grey, v.toPixel, reading.ViewOf(plane.Camera), nil)
	if err != nil {
		return nil, err
	}
	if v.m.Medium == "" {
		if v.m.Medium = reading.MediumOf(p, w, v.toPixel, plane.Camera == nil); v.m.Medium == "" {
			v.m.refuse(codes.MediumUnclear.With())
			return v, nil
		}
	}
	// no lamp is mirrored in a scan
	if burnt := reading.BurntShare(w, v.m.Medium == calibration.Paper); burnt > judge.Glare.Value &&
		plane.Camera != nil {
		v.m.refuse(codes.Glare.With(100*burnt, 100*judge.Glare.Value))
		return v, nil
	}
	lower := w
	if v.m.Medium == calibration.Foam {
		if lower, err = v.rectifyBelow(grey, w.View, s.Blank != nil); err != nil {
			return nil, err
		}
	}
	if s.Blank != nil {
		v.takeOffBlank(&w, &lower, s.Blank)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	v.window = w
	end()
	v.unread = func() error {
		end := stages.Begin(ctx, stages.Net)
		err := t.readWindow(v, lower)
		end()
		if err != nil {
			return err
		}
		if v.m.Medium == calibration.Paper {
			defer stages.Begin(ctx, stages.Ink)()
		}
		return v.readInk(grey, w.Frame)
	}
	return v, nil
}

// rectifyBelow is the window of the plane that foam is read on, without the phone's local tone. An empty
// pad's photo has that tone, too, so taking it off takes both.
func (v *sight) rectifyBelow(grey *image.Gray, view relief.View, blank bool) (w relief.Window, err error) {
	var local *tone.Tone
	if !blank {
		local = reading.ToneOf(grey, v.toPixel)
		v.toned = local != nil
	}
	return reading.Rectify(grey, v.below(view), view, local)
}

// below is where a point of the plane that foam is read on, relief.Level under the frame's, lies in the
// picture.
func (v *sight) below(view relief.View) func(relief.Point) homography.Pixel {
	return func(q relief.Point) homography.Pixel { return v.toPixel(view.OnFrame(q)) }
}

// readWindow runs the medium's net on the window and its mirror image, and judges what it says. A window of
// foam is one of the plane below the frame's.
func (t *Meter) readWindow(v *sight, w relief.Window) error {
	r, in, err := t.nets.Read(w, v.m.Medium)
	if errors.Is(err, relief.ErrNoWindow) {
		v.m.refuse(codes.FewMarksCut.With(v.m.Marks, judge.WantedMarks.Value))
		return nil
	} else if err != nil {
		return err
	}
	v.reading, v.read, v.input = r, true, in
	v.judgeReading(in.Contrast)
	return nil
}
