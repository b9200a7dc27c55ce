package imprint

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"
	"slices"
	"sync"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/internal/cv"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/reference"
	"sitspan/imprint/relief"
	"sitspan/imprint/spacing"
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

	// Cards are those that were found in photos before their faces were painted over, by the file's SHA-256.
	Cards map[[32]byte]reference.Kept
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

func (s Settings) gauge() spacing.Gauge { return spacing.Gauge{MM: s.DepthMM, U: s.DepthU} }

// Meter measures photos. It holds the nets and may be used from several goroutines. Close it after use.
type Meter struct {
	foam, ink *cv.Net
	together  lateNet // for several photos of foam
}

// NewMeter loads the nets, which takes some 70 ms.
func NewMeter() (*Meter, error) {
	foam, err := loadNet(relief.FoamNet, 1, relief.FoamChannels)
	if err != nil {
		return nil, err
	}
	ink, err := loadNet(relief.InkNet, 1, relief.InkChannels)
	if err != nil {
		foam.Close()
		return nil, err
	}
	return &Meter{foam: foam, ink: ink}, nil
}

// lateNet is a net that is loaded when it is first needed.
type lateNet struct {
	once sync.Once
	net  *cv.Net
	err  error
}

func (l *lateNet) load() (*cv.Net, error) {
	l.once.Do(func() { l.net, l.err = loadNet(relief.FoamTogetherNet, relief.Photos, relief.FoamChannels) })
	return l.net, l.err
}

// Close frees the net, if it was ever loaded; it is not loaded after that.
func (l *lateNet) Close() error {
	l.once.Do(func() { l.err = errors.New("the nets are closed") })
	if l.net == nil {
		return nil
	}
	return l.net.Close()
}

func loadNet(model func() ([]byte, error), photos, channels int) (*cv.Net, error) {
	onnx, err := model()
	if err != nil {
		return nil, err
	}
	return cv.NewNet(onnx, [4]int{photos, channels, relief.Rows, relief.Columns})
}

// Close frees the nets.
func (t *Meter) Close() error { return errors.Join(t.foam.Close(), t.ink.Close(), t.together.Close()) }

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
	m        *Measurement
	photo    *photo.Photo
	grey     *image.Gray
	reading  relief.Reading // on the frame's plane, or on a bare scan's own millimetres
	read     bool           // there is a reading
	window   relief.Window  // of the frame's plane
	input    relief.Tensor  // of the net, made of what was read
	together bool           // the reading was made together with other photos of the imprint
	byInk    bool           // the reading is the ink's density model's, and not the net's
	toPixel  func(relief.Point) homography.Pixel
	onPaper  func(relief.Point) bool // of a bare scan; nil: everywhere
}

// look finds the frame and reads the two centres.
func (t *Meter) look(ctx context.Context, p *photo.Photo, s Settings) (*sight, error) {
	grey := p.Grey()
	v := &sight{m: &Measurement{Verdict: judge.Verdict{Status: Measured}, Medium: s.Medium}, photo: p, grey: grey}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	plane := findPlane(v.m, p, grey)
	without := plane == nil && codes.NoFrame.Is(v.m.Reasons[0]) // not a frame that is there and cannot be used
	if without && p.Density != nil && s.Medium != calibration.Foam {
		return v, t.lookAtBareScan(ctx, v, grey)
	}
	if without {
		if found, err := t.lookAtReference(ctx, v, grey, s); found || err != nil {
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
			v.m.refuse(codes.MediumUnclear.With())
			return v, nil
		}
	}
	if burnt := burntShare(w, v.m.Medium == calibration.Paper); burnt > judge.Glare.Value && plane.Camera != nil { // no lamp is mirrored in a scan
		v.m.refuse(codes.Glare.With(100*burnt, 100*judge.Glare.Value))
		return v, nil
	}
	lower := w
	if v.m.Medium == calibration.Foam {
		if lower, err = rectify(grey, v.below(w.View), w.View); err != nil {
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
	if err := t.readWindow(v, lower); err != nil {
		return v, err
	}
	return v, v.readInk(grey, w.Frame)
}

// below is where a point of the plane that foam is read on, relief.Level under the frame's, lies in the picture.
func (v *sight) below(view relief.View) func(relief.Point) homography.Pixel {
	return func(q relief.Point) homography.Pixel { return v.toPixel(view.OnFrame(q)) }
}

func viewOf(c *homography.Camera) relief.View {
	if c == nil {
		return relief.View{}
	}
	return relief.View{X: c.Position.X, Y: c.Position.Y, Height: c.Height}
}

// readWindow runs the medium's net on the window and its mirror image, and judges what it says. A window of foam is one of the
// plane below the frame's.
func (t *Meter) readWindow(v *sight, w relief.Window) error {
	net, channels := t.foam, relief.FoamChannels
	if v.m.Medium == calibration.Paper {
		net, channels, w.View = t.ink, relief.InkChannels, relief.View{}
	}
	in, err := relief.Input(w, channels)
	if errors.Is(err, relief.ErrNoWindow) {
		v.m.refuse(codes.FewMarksCut.With(v.m.Marks, judge.WantedMarks.Value))
		return nil
	} else if err != nil {
		return err
	}
	readings, err := run(net, in)
	if err != nil {
		return err
	}
	v.reading, v.read, v.input = readings[0], true, in
	if v.m.Medium == calibration.Foam {
		v.reading = v.reading.OnFrame(w.View)
	}
	v.judgeReading(in.Contrast)
	return nil
}

// run gives the net its inputs and their mirror images, and returns the mean of both readings of each.
func run(net *cv.Net, in ...relief.Tensor) ([]relief.Reading, error) {
	readings, err := runOnce(net, in)
	if err != nil {
		return nil, err
	}
	mirrored := make([]relief.Tensor, len(in))
	for i := range in {
		mirrored[i] = in[i].Mirrored()
	}
	again, err := runOnce(net, mirrored)
	if err != nil {
		return nil, err
	}
	for i, r := range readings {
		readings[i] = r.Mean(again[i].Mirrored())
	}
	return readings, nil
}

func runOnce(net *cv.Net, in []relief.Tensor) (readings []relief.Reading, err error) {
	var values []float32
	for _, t := range in {
		values = append(values, t.Values...)
	}
	out, _, err := net.Run(values, [4]int{len(in), in[0].Channels, relief.Rows, relief.Columns})
	if err != nil {
		return nil, err
	}
	for maps := range slices.Chunk(out, relief.OutputChannels*relief.Cells) {
		r, err := relief.Read(maps)
		if err != nil {
			return nil, err
		}
		readings = append(readings, r)
	}
	return readings, nil
}
