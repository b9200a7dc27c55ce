package reading

import (
	"errors"
	"io"
	"slices"
	"sync"

	"sitspan/calibration"
	"sitspan/imprint/internal/net"
	"sitspan/imprint/relief"
)

// Nets are the nets that read windows, each loaded when it is first needed. They may be used from several
// goroutines. Close them after use.
type Nets struct {
	foam, ink lateNet
	together  lateNet // for several photos of foam; it holds the foam net's values
}

// NewNets are all nets.
func NewNets() *Nets {
	n := &Nets{}
	n.foam.read = func() (*net.Net, error) { return loadNet(relief.FoamNet, nil, 1, relief.FoamChannels) }
	n.ink.read = func() (*net.Net, error) { return loadNet(relief.InkNet, nil, 1, relief.InkChannels) }
	n.together.read = func() (*net.Net, error) {
		foam, err := n.foam.load()
		if err != nil {
			return nil, err
		}
		return loadNet(relief.FoamTogetherNet, foam, relief.Photos, relief.FoamChannels)
	}
	return n
}

// Close frees the nets.
func (n *Nets) Close() error { return errors.Join(n.together.Close(), n.foam.Close(), n.ink.Close()) }

// lateNet is a net that is loaded when it is first needed.
type lateNet struct {
	read func() (*net.Net, error)
	once sync.Once
	net  *net.Net
	err  error
}

func (l *lateNet) load() (*net.Net, error) {
	l.once.Do(func() { l.net, l.err = l.read() })
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

func loadNet(model func() (io.Reader, error), values *net.Net, photos, channels int) (*net.Net, error) {
	r, err := model()
	if err != nil {
		return nil, err
	}
	return net.New(r, values, [4]int{photos, channels, relief.Rows, relief.Columns})
}

// Read reads a window with the medium's net, and its mirror image. A window of foam is one of the plane below
// the frame's; the reading is on the frame's. It gives what went into the net, too. The error
// relief.ErrNoWindow says that too little of the window is in the picture.
func (n *Nets) Read(
	w relief.Window,
	medium calibration.Medium,
) (r relief.Reading, in relief.Tensor, err error) {
	late, channels := &n.foam, relief.FoamChannels
	if medium == calibration.Paper {
		late, channels, w.View = &n.ink, relief.InkChannels, relief.View{}
	}
	if in, err = relief.Input(w, channels); err != nil {
		return r, in, err
	}
	of, err := late.load()
	if err != nil {
		return r, in, err
	}
	readings, err := run(of, in)
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
	of, err := n.together.load()
	if err != nil {
		return nil, err
	}
	for first := 0; first < len(photos); first += relief.Photos {
		in := make([]relief.Tensor, relief.Photos)
		for k := range in {
			in[k] = photos[(first+k)%len(photos)]
		}
		some, err := run(of, in...)
		if err != nil {
			return nil, err
		}
		readings = append(readings, some[:min(relief.Photos, len(photos)-first)]...)
	}
	return readings, nil
}

// run gives the net its inputs and, at the same time, their mirror images, and returns the mean of both
// readings of each.
func run(of *net.Net, in ...relief.Tensor) ([]relief.Reading, error) {
	mirrored := make([]relief.Tensor, len(in))
	for i := range in {
		mirrored[i] = in[i].Mirrored()
	}
	var again []relief.Reading
	var failed error
	var other sync.WaitGroup
	other.Go(func() { again, failed = runOnce(of, mirrored) })
	readings, err := runOnce(of, in)
	other.Wait()
	if err = errors.Join(err, failed); err != nil {
		return nil, err
	}
	for i, r := range readings {
		readings[i] = r.Mean(again[i].Mirrored())
	}
	return readings, nil
}

func runOnce(of *net.Net, in []relief.Tensor) (readings []relief.Reading, err error) {
	var values []float32
	for _, t := range in {
		values = append(values, t.Values...)
	}
	out, _, err := of.Run(values, [4]int{len(in), in[0].Channels, relief.Rows, relief.Columns})
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
