package ink

import "math"

// sillWidth rounds the sill below which pressure leaves no ink, in dents' heights.
const sillWidth = 0.02

// density is the ink's, 0 to 1, under a pressure over the sill, with its derivatives: by the pressure and by
// the logarithms of the saturated density, the gain and the bend. It is a tanh(g q^b): it grows, it
// saturates, and nothing is known of the paper that would say more.
type density struct{ v, slope, byInk, byGain, byBend float64 }

func (m *model) density(p []float64, pressure float64) density {
	q := pressure - m.sill
	root := math.Sqrt(q*q + sillWidth*sillWidth)
	q, dq := (q+root)/2, (1+q/root)/2
	ln := math.Log(q)
	e := math.Exp(p[atGain] + m.bend*ln)
	t := math.Tanh(e)
	s := m.full * (1 - t*t) * e
	return density{m.full * t, s * m.bend / q * dq, m.full * t, s, s * m.bend * ln}
}
