package reading

import (
	"errors"
	"slices"
	"sync"

	"sitspan/calibration"
	"sitspan/imprint/internal/cv"
	"sitspan/imprint/relief"
)

// Nets are the nets that read windows, each loaded when it is first needed. They may be used from several
// goroutines. Close them after use.
type Nets struct {
	foam, ink lateNet
	together  lateNet // for several photos of foam
}

// NewNets are all nets.
func NewNets() *Nets {
	return &Nets{
		foam:     lateNet{model: relief.FoamNet, photos: 1, channels: relief.FoamChannels},
		ink:      lateNet{model: relief.InkNet, photos: 1, channels: relief.InkChannels},
		together: lateNet{model: relief.FoamTogetherNet, photos: relief.Photos, channels: relief.FoamChannels},
	}
}

// Close frees the nets.
func (n *Nets) Close() error { return errors.Join(n.foam.Close(), n.ink.Close(), n.together.Close()) }

// lateNet is a net that is loaded when it is first needed.
type lateNet struct {
	model            func() ([]byte, error)
	photos, channels int

	once sync.Once
	net  *cv.Net
	err  error
}

func (l *lateNet) load() (*cv.Net, error) {
	l.once.Do(func() { l.net, l.err = loadNet(l.model, l.photos, l.channels) })
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

// Read reads a window with the medium's net, and its mirror image. A window of foam is one of the plane below
// the frame's; the reading is on the frame's. It gives what went into the net, too. The error
// relief.ErrNoWindow says that too little of the window is in the picture.
func (n *Nets) Read(
	w relief.Window,
	medium calibration.Medium,
) (r relief.Reading, in relief.Tensor, err error) {
	late := &n.foam
	if medium == calibration.Paper {
		late, w.View = &n.ink, relief.View{}
	}
	if in, err = relief.Input(w, late.channels); err != nil {
		return r, in, err
	}
	net, err := late.load()
	if err != nil {
		return r, in, err
	}
	readings, err := run(net, in)
	if err != nil {
		return r, in, err
	}
	r = readings[0]
	if medium == calibration.Foam {
		r = r.OnFrame(w.View)
	}
	return r, in, nil
}

// ReadTogether reads photos of one imprint, by what went into the net for each, with the net that sees
// relief.Photos of them at once: what the lamp hides in one, or paint feigns, another tells apart. Each photo
// gets a reading of its own, on the plane below the frame's. Two photos fill the third's place with the first
// once more, as in training; of more than three the next three follow, filled in the same way.
func (n *Nets) ReadTogether(photos []relief.Tensor) (readings []relief.Reading, err error) {
	net, err := n.together.load()
	if err != nil {
		return nil, err
	}
	for first := 0; first < len(photos); first += relief.Photos {
		in := make([]relief.Tensor, relief.Photos)
		for k := range in {
			in[k] = photos[(first+k)%len(photos)]
		}
		some, err := run(net, in...)
		if err != nil {
			return nil, err
		}
		readings = append(readings, some[:min(relief.Photos, len(photos)-first)]...)
	}
	return readings, nil
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
