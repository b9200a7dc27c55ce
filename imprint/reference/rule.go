package reference

import (
	"errors"
	"image"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/dsp/fourier"

	"sitspan/imprint/homography"
)

// ErrNoRule says that no millimetre graduation was found.
var ErrNoRule = errors.New("no millimetre graduation was found")

// Rule is a millimetre graduation and the plane that it lies on.
type Rule struct {
	Pose
	// Outline holds the corners in px, clockwise or not, of what the rule covers, as far as its edges are seen.
	Outline [4]homography.Pixel
	// Period is the graduation's in mm: 1 or 0.5.
	Period float64
	// Length is how much of the graduation was read, mm.
	Length float64
	// TiltAcrossU is the standard uncertainty in degrees of the camera's tilt across the rule, which only the
	// graduation lines' own directions tell.
	TiltAcrossU float64
}

func findRule(img *image.Gray, f *field, focal homography.Focal) (*Rule, error) {
	for _, s := range f.strips(img) {
		g, ok := s.graduation(img)
		if !ok {
			continue
		}
		period, inward, ok := g.period(img)
		if !ok {
			continue
		}
		r, err := fitRule(img, g, period, focal)
		if err != nil {
			continue
		}
		r.Outline = f.body(r, g, inward)
		return r, nil
	}
	return nil, ErrNoRule
}

const (
	windowLength = 256 // px along the edge: of one spectrum
	windowHop    = 64
	leastCycles  = 9    // of a graduation in one window
	mostCycles   = 105  // above, the period is under 2.4 px
	leastShare   = 0.40 // of a spectrum's power that the graduation and its harmonics must have
	leastPeriods = 25   // that a graduation must show in all
	mostStrips   = 8
)

// stripOffsets are how far from a straight edge graduations are looked for, px.
var stripOffsets = []float64{-44, -30, -20, -12, -6, 6, 12, 20, 30, 44}

// bandOffsets likewise from a line along which edges cross.
var bandOffsets = []float64{-12, 0, 12}

// strip is a stretch beside a straight edge on which something is periodic.
type strip struct {
	ox, oy, dx, dy float64 // px: origin and direction; the normal is (-dy, dx)
	from, to       float64 // px along
	at, frequency  []float64
	periods        float64
}

// point is the pixel at t along and n beside the strip.
func (s strip) point(t, n float64) homography.Pixel {
	return homography.Pixel{X: s.ox + t*s.dx - n*s.dy, Y: s.oy + t*s.dy + n*s.dx}
}

// strips are the stretches with the most periods, best first, one of each place. The lines are looked along
// on all cores.
func (f *field) strips(img *image.Gray) []strip {
	lines := slices.Concat(f.lines, f.bands)
	beside := make([][]strip, len(lines))
	var next atomic.Int64
	var group sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(lines)) {
		group.Go(func() {
			search := newSpectrum()
			for i := next.Add(1) - 1; i < int64(len(lines)); i = next.Add(1) - 1 {
				offsets := stripOffsets
				if i >= int64(len(f.lines)) {
					offsets = bandOffsets
				}
				beside[i] = f.stripsBeside(img, lines[i], offsets, search)
			}
		})
	}
	group.Wait()
	all := slices.Concat(beside...)
	slices.SortStableFunc(all, func(a, b strip) int {
		switch {
		case a.periods > b.periods:
			return -1
		case a.periods < b.periods:
			return 1
		}
		return 0
	})
	var kept []strip
	for _, s := range all {
		if len(kept) == mostStrips {
			break
		}
		if !slices.ContainsFunc(kept, s.besides) {
			kept = append(kept, s)
		}
	}
	return kept
}

// stripsBeside are the stretches along one line, so many px beside it.
func (f *field) stripsBeside(img *image.Gray, l line, offsets []float64, search *spectrum) (found []strip) {
	x, y := l.point(0)
	o := f.full(x, y)
	s := strip{ox: o.X, oy: o.Y, dx: -l.sin, dy: l.cos}
	t0, t1 := float64(l.first)*binAlong*f.scale-windowLength/2,
		float64(l.first+len(l.support))*binAlong*f.scale+windowLength/2
	if t1-t0 < windowLength {
		return nil
	}
	for _, off := range offsets {
		one := s
		p := s.point(0, off)
		one.ox, one.oy = p.X, p.Y
		one.scan(img, search, t0, t1)
		if one.periods >= leastPeriods {
			found = append(found, one)
		}
	}
	return found
}

// besides tells whether two strips run side by side within 5 px with the same frequency.
func (s strip) besides(o strip) bool {
	m := o.point((o.from+o.to)/2, 0)
	off := -(m.X-s.ox)*s.dy + (m.Y-s.oy)*s.dx
	return math.Abs(off) < 5 && math.Abs(s.dx*o.dy-s.dy*o.dx) < 0.02 &&
		math.Abs(median(s.frequency)/median(o.frequency)-1) < 0.1
}

func median(v []float64) float64 {
	c := slices.Clone(v)
	slices.Sort(c)
	return c[len(c)/2]
}

// scan looks along the strip for the longest stretch of windows with one slowly changing frequency.
func (s *strip) scan(img *image.Gray, search *spectrum, t0, t1 float64) {
	signal := s.signal(img, t0, int(t1-t0), 0, 2)
	var at, freq []float64
	best := *s
	flush := func() {
		if n := len(at); n > 0 {
			periods := 0.0
			for _, f := range freq {
				periods += f * windowHop
			}
			if periods += freq[n-1] * (windowLength - windowHop); periods > best.periods {
				best.at, best.frequency, best.periods = slices.Clone(at), slices.Clone(freq), periods
				best.from, best.to = at[0]-windowLength/2, at[n-1]+windowLength/2
			}
		}
		at, freq = at[:0], freq[:0]
	}
	gap := 0
	for k := 0; k+windowLength <= len(signal); k += windowHop {
		f, ok := search.dominant(signal[k : k+windowLength])
		if ok && len(freq) > 0 && math.Abs(f/freq[len(freq)-1]-1) > 0.04*float64(1+gap) {
			ok = false
		}
		if !ok {
			if gap++; gap > 2 {
				flush()
				gap = 0
			}
			continue
		}
		gap = 0
		at, freq = append(at, t0+float64(k)+windowLength/2), append(freq, f)
	}
	flush()
	*s = best
}

// signal is the grey level along the strip from t0, px by px, averaged over lines n +- half beside it.
func (s *strip) signal(img *image.Gray, t0 float64, count int, n, half float64) []float64 {
	out := make([]float64, max(0, count))
	lines := max(1, int(half*2/1.5))
	for k := range lines {
		beside := n + half*(2*(float64(k)+0.5)/float64(lines)-1)
		for i := range out {
			out[i] += at(img, s.point(t0+float64(i), beside))
		}
	}
	for i := range out {
		out[i] /= float64(lines)
	}
	return out
}

// hann is the window that spectra are taken under.
var hann = func() (w [windowLength]float64) {
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/windowLength)
	}
	return w
}()

// spectrum takes spectra of windows, one after another.
type spectrum struct {
	fft   *fourier.FFT
	v     [windowLength]float64
	c     [windowLength/2 + 1]complex128
	power [windowLength/2 + 1]float64
}

func newSpectrum() *spectrum { return &spectrum{fft: fourier.NewFFT(windowLength)} }

// middles are the places of a window's samples from its middle, and middlesNorm the sum of their squares.
var middles, middlesNorm = func() (m [windowLength]float64, norm float64) {
	for i := range m {
		m[i] = float64(i) - float64(windowLength-1)/2
		norm += m[i] * m[i]
	}
	return m, norm
}()

// dominant is the frequency in cycles per px that carries most of a window's power, with its harmonics; not
// ok where none does, or where the window leaves the picture.
func (s *spectrum) dominant(window []float64) (f float64, ok bool) {
	const n = windowLength
	var mean, tilt float64
	for i, x := range window[:n] {
		mean += x / n
		tilt += x * middles[i]
	}
	if math.IsNaN(mean) {
		return 0, false
	}
	for i, x := range window[:n] {
		s.v[i] = (x - mean - tilt/middlesNorm*middles[i]) * hann[i]
	}
	s.fft.Coefficients(s.c[:], s.v[:])
	power, total := s.power[:], 0.0
	for k := 5; k < len(power); k++ {
		power[k] = real(s.c[k])*real(s.c[k]) + imag(s.c[k])*imag(s.c[k])
		total += power[k]
	}
	best := leastCycles
	for k := leastCycles; k <= mostCycles; k++ {
		if power[k] > power[best] {
			best = k
		}
	}
	near := func(k, w int) (sum float64) {
		for j := max(5, k-w); j <= min(len(power)-1, k+w); j++ {
			sum += power[j]
		}
		return sum
	}
	share := near(best, 1) + near(2*best, 2) + near(3*best, 3)
	// amplitude in grey levels under Hann's window
	if share < leastShare*total || math.Sqrt(power[best])*4/n < 0.7 {
		return 0, false
	}
	if best == leastCycles || best == mostCycles {
		return 0, false
	}
	// The peak between bins, by a parabola through the logarithms.
	a, b, d := math.Log(power[best-1]+1e-12), math.Log(power[best]+1e-12), math.Log(power[best+1]+1e-12)
	off := 0.0
	if den := a - 2*b + d; den < 0 {
		off = math.Max(-0.5, math.Min(0.5, 0.5*(a-d)/den))
	}
	return (float64(best) + off) / n, true
}
