package reference

import (
	"image"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	// faintShare and faintWave are what every second window must show of a graduation's share and amplitude, for
	// the windows between to be looked at: half a window's length beside a graduation of that length, it does.
	faintShare, faintWave = 0.75 * leastShare, 0.7 * leastWave
	mostGap               = 2 // windows without a graduation within one
)

// looks are the windows along a strip, each looked at when it is first asked for.
type looks struct {
	spectrum
	strip  strip
	img    *image.Gray
	t0     float64   // px along the strip, of the first window
	signal []float64 // by pieces of a hop
	have   []bool    // pieces of the signal
	known  []bool    // windows that were looked at
	seen   []look
}

// look is what a window shows.
type look struct {
	f         float64 // cycles per px
	ok, faint bool
	cycles    int // in a window, about
}

// begin forgets the windows of another strip.
func (l *looks) begin(s strip, t0 float64, windows int) {
	pieces := windows - 1 + windowLength/windowHop
	l.strip, l.t0 = s, t0
	l.signal = slices.Grow(l.signal[:0], pieces*windowHop)[:pieces*windowHop]
	l.seen = slices.Grow(l.seen[:0], windows)[:windows]
	l.have, l.known = slices.Grow(l.have[:0], pieces)[:pieces], slices.Grow(l.known[:0], windows)[:windows]
	clear(l.have)
	clear(l.known)
}

// at is window k.
func (l *looks) at(k int) look {
	if l.known[k] {
		return l.seen[k]
	}
	for p := k; p < k+windowLength/windowHop; p++ {
		if !l.have[p] {
			l.have[p] = true
			copy(l.signal[p*windowHop:], l.strip.signal(l.img, l.t0+float64(p*windowHop), windowHop, 0, 2))
		}
	}
	l.known[k], l.seen[k] = true, l.dominant(l.signal[k*windowHop:][:windowLength])
	return l.seen[k]
}

// worth tells whether a graduation may run through window k. Where one window does not hold enough of it, the
// second to either side shows it, too.
func (l *looks) worth(k int) bool {
	w := l.at(k)
	return w.faint && (w.cycles >= leastPeriods || k >= 2 && l.at(k-2).faint ||
		k+2 < len(l.known) && l.at(k+2).faint)
}

// reach is the first window of so many, in the direction given, beyond which a run through window k cannot
// go: more windows than a gap has show nothing there.
func (l *looks) reach(k, step int) int {
	for gap := 0; k+step >= 0 && k+step < len(l.known); {
		k += step
		if gap++; l.at(k).ok {
			gap = 0
		} else if gap > mostGap {
			break
		}
	}
	return k
}

// scan looks along the strip for the longest stretch of windows with one slowly changing frequency. Every
// second window tells whether its neighbours are worth a look.
func (l *looks) scan(s strip, t0 float64, windows int) (best strip) {
	l.begin(s, t0, windows)
	best = s
	for k := 0; k < windows; k += 2 {
		if !l.worth(k) {
			continue
		}
		first, last := l.reach(k, -1), l.reach(k, 1)
		best = l.longest(first, last, best)
		k = last / 2 * 2 // goes on behind it
	}
	return best
}

// longest is the longest stretch within the windows given with one slowly changing frequency, or the best so
// far where that is longer.
func (l *looks) longest(first, last int, best strip) strip {
	var at, freq []float64
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
	for k := first; k <= last; k++ {
		w := l.at(k)
		if !w.ok || len(freq) > 0 && math.Abs(w.f/freq[len(freq)-1]-1) > 0.04*float64(1+gap) {
			if gap++; gap > mostGap {
				flush()
				gap = 0
			}
			continue
		}
		gap = 0
		at, freq = append(at, l.t0+float64(k*windowHop)+windowLength/2), append(freq, w.f)
	}
	flush()
	return best
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

func newLooks(img *image.Gray) *looks {
	return &looks{img: img, spectrum: spectrum{fft: fourier.NewFFT(windowLength)}}
}

// middles are the places of a window's samples from its middle, and middlesNorm the sum of their squares.
var middles, middlesNorm = func() (m [windowLength]float64, norm float64) {
	for i := range m {
		m[i] = float64(i) - float64(windowLength-1)/2
		norm += m[i] * m[i]
	}
	return m, norm
}()

// dominant is the frequency that carries most of a window's power, with its harmonics; not ok where none
// does, or where the window leaves the picture.
func (s *spectrum) dominant(window []float64) (w look) {
	best, share, height := s.peak(window)
	w.cycles = best
	w.faint = share >= faintShare && height >= faintWave && best != leastCycles && best != mostCycles
	w.ok = w.faint && share >= leastShare && height >= leastWave
	if !w.ok {
		return w
	}
	// The peak between bins, by a parabola through the logarithms.
	power := s.power[:]
	a, b, d := math.Log(power[best-1]+1e-12), math.Log(power[best]+1e-12), math.Log(power[best+1]+1e-12)
	off := 0.0
	if den := a - 2*b + d; den < 0 {
		off = math.Max(-0.5, math.Min(0.5, 0.5*(a-d)/den))
	}
	w.f = (float64(best) + off) / windowLength
	return w
}

// peak is the number of cycles in a window that carries most of its power, the share of it that these and
// their harmonics have, and their amplitude in grey levels; 0 where the window leaves the picture.
func (s *spectrum) peak(window []float64) (best int, share, height float64) {
	const n = windowLength
	var mean, tilt float64
	for i, x := range window[:n] {
		mean += x / n
		tilt += x * middles[i]
	}
	if math.IsNaN(mean) {
		return 0, 0, 0
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
	best = leastCycles
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
	share = near(best, 1) + near(2*best, 2) + near(3*best, 3)
	return best, share / total, math.Sqrt(power[best]) * 4 / n
}
