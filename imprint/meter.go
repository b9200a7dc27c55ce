package imprint

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"

	"sitspan/calibration"
	"sitspan/imprint/homography"
	"sitspan/imprint/internal/cv"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
)

// Settings are the choices that a measurement is made under. The zero Settings detect the medium and take the built-in pad
// profile and an unverified print.
type Settings struct {
	Medium  calibration.Medium // empty: detected
	Pad     calibration.Pad    // the pad's profile; zero: the medium's default
	Print   calibration.Print  // this print's scale; zero: unverified
	DepthMM []float64          // mm below the pad's flat surface, by a gauge: none, one for both sides, or left and right
	DepthU  float64            // standard uncertainty of each, mm; 0 means 1
	Blank   *photo.Photo       // the empty pad with the frame, before the rider sat; nil for none
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

func (s Settings) print() calibration.Print {
	if s.Print.ScaleX == 0 {
		return calibration.UnverifiedPrint()
	}
	return s.Print
}

func (s Settings) pad(m calibration.Medium) calibration.Pad {
	if s.Pad.Name == "" || s.Pad.Medium != m {
		return calibration.PadFor(m)
	}
	return s.Pad
}

// Meter measures photos. It holds the nets and may be used from several goroutines. Close it after use.
type Meter struct {
	foam, ink *cv.Net
}

// NewMeter loads the nets, which takes some 50 ms.
func NewMeter() (*Meter, error) {
	foam, err := cv.NewNet(relief.FoamNet, [4]int{1, relief.FoamChannels, relief.Rows, relief.Columns})
	if err != nil {
		return nil, err
	}
	ink, err := cv.NewNet(relief.InkNet, [4]int{1, relief.InkChannels, relief.Rows, relief.Columns})
	if err != nil {
		foam.Close()
		return nil, err
	}
	return &Meter{foam, ink}, nil
}

// Close frees the nets.
func (t *Meter) Close() error { return errors.Join(t.foam.Close(), t.ink.Close()) }

// ModelSHA256 names the weights that the readings come from: the sum of their manifest, which holds their own sums and their
// recipe's. The weights themselves, some ten megabytes, are not summed up at each start; a test holds them against it.
func ModelSHA256() string {
	h := sha256.Sum256(relief.Manifest)
	return hex.EncodeToString(h[:])
}

// Measure measures one photo or scan. It always returns a measurement: what went wrong is its status and reasons. A
// cancelled context gives an error.
func (t *Meter) Measure(ctx context.Context, p *photo.Photo, s Settings) (*Measurement, error) {
	v, err := t.look(ctx, p, s)
	if err != nil {
		return nil, err
	}
	v.concludeAlone(s)
	return v.m, nil
}

// sight is one photo on its way to a measurement: all that is known before the spacing is worked out.
type sight struct {
	m       *Measurement
	photo   *photo.Photo
	reading relief.Reading // on the frame's plane, or on a bare scan's own millimetres
	read    bool           // there is a reading
	window  relief.Window  // that was read
	byInk   bool           // the reading is the ink's density model's, and not the net's
	toPixel func(relief.Point) homography.Pixel
	onPaper func(relief.Point) bool // of a bare scan; nil: everywhere
}

// look finds the frame and reads the two centres.
func (t *Meter) look(ctx context.Context, p *photo.Photo, s Settings) (*sight, error) {
	v := &sight{m: &Measurement{Status: Measured, Medium: s.Medium}, photo: p}
	grey := p.Grey()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	plane := findPlane(v.m, p, grey)
	without := plane == nil && v.m.Reasons[0].Code == "no_frame" // not a frame that is there and cannot be used
	if without && p.Density != nil && s.Medium != calibration.Foam {
		return v, t.lookAtBareScan(ctx, v, grey)
	}
	if without {
		if found, err := t.lookAtReference(ctx, v, grey); found || err != nil {
			return v, err
		}
	}
	v.m.sayIfSoft(grey)
	v.m.Plane = plane
	if plane == nil || v.m.Status == Refused {
		return v, nil
	}
	v.toPixel = func(q relief.Point) homography.Pixel {
		return plane.Fit.ImageFromPlane(homography.PlanePoint(q))
	}
	w, err := rectify(grey, v.toPixel, viewOf(plane.Camera))
	if err != nil {
		return nil, err
	}
	if v.m.Medium == "" {
		if v.m.Medium = mediumOf(p, w, v.toPixel, plane.Camera == nil); v.m.Medium == "" {
			v.m.refuse(unclearMedium())
			return v, nil
		}
	}
	if burnt := burntShare(w, v.m.Medium == calibration.Paper); burnt > glareShare && plane.Camera != nil { // no lamp is mirrored in a scan
		v.m.refuse(glare(burnt))
		return v, nil
	}
	if s.Blank != nil {
		v.takeOffBlank(&w, s.Blank)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := t.readWindow(v, w); err != nil {
		return v, err
	}
	return v, v.readInk(grey, w.Frame)
}

func viewOf(c *homography.Camera) relief.View {
	if c == nil {
		return relief.View{}
	}
	return relief.View{X: c.Position.X, Y: c.Position.Y, Height: c.Height}
}

// readWindow runs the medium's net on the window and its mirror image, and judges what it says.
func (t *Meter) readWindow(v *sight, w relief.Window) error {
	net, channels := t.foam, relief.FoamChannels
	if v.m.Medium == calibration.Paper {
		net, channels, w.View = t.ink, relief.InkChannels, relief.View{}
	}
	in, err := relief.Input(w, channels)
	if errors.Is(err, relief.ErrNoWindow) {
		v.m.refuse(fewMarks(v.m.Marks, " and much of the window lies outside the picture"))
		return nil
	} else if err != nil {
		return err
	}
	one, err := run(net, in)
	if err != nil {
		return err
	}
	two, err := run(net, in.Mirrored())
	if err != nil {
		return err
	}
	v.reading, v.read, v.window = one.Mean(two.Mirrored()), true, w
	v.judgeReading(in.Contrast)
	return nil
}

func run(net *cv.Net, in relief.Tensor) (relief.Reading, error) {
	out, _, err := net.Run(in.Values, [4]int{1, in.Channels, relief.Rows, relief.Columns})
	if err != nil {
		return relief.Reading{}, err
	}
	return relief.Read(out)
}
