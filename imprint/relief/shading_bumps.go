package relief

import "math"

// bumps are free Gaussian bumps on a hexagonal lattice round both dents: what real dents have that two bells
// in a basin do not. Only several photos tell them from paint, so one photo is fitted without. Amplitudes in
// mm of depth.
type bumps struct {
	at []Point
}

const (
	bumpPitch  = 12.0 // mm between neighbours
	bumpSD     = 10.2 // mm, standard deviation of each: neighbours merge into a smooth sheet
	bumpReach  = 28.0 // mm round each dent's start
	bumpPrior  = 1.0  // mm, standard deviation of an amplitude before the fit
	bumpCutoff = 16.0 // of (r/bumpSD)^2, beyond which a bump is nothing
)

// layBumps covers the surroundings of both centres.
func layBumps(centres [2]Point) *bumps {
	b := &bumps{}
	const n = 3 // more rings than fit within bumpReach
	for _, c := range centres {
		for j := -n; j <= n; j++ {
			for i := -n; i <= n; i++ {
				x, y := (float64(i)+float64(j&1)/2)*bumpPitch, float64(j)*bumpPitch*math.Sqrt(3)/2
				if math.Hypot(x, y) <= bumpReach {
					b.at = append(b.at, Point{c.X + x, c.Y + y})
				}
			}
		}
	}
	return b
}

func (b *bumps) count() int {
	if b == nil {
		return 0
	}
	return len(b.at)
}

// one is bump k with unit amplitude.
func (b *bumps) one(k int, x, y float64) (h hump, near bool) {
	const w = 1 / (bumpSD * bumpSD)
	ex, ey := x-b.at[k].X, y-b.at[k].Y
	r := (ex*ex + ey*ey) * w
	if r > bumpCutoff {
		return hump{}, false
	}
	g := math.Exp(-r / 2)
	return hump{g, -ex * w * g, -ey * w * g, (ex*ex*w - 1) * w * g, ex * ey * w * w * g, (ey*ey*w - 1) * w * g},
		true
}

func (b *bumps) addTo(h *hump, amplitudes []float64, x, y float64) {
	for k := range b.count() {
		if g, near := b.one(k, x, y); near {
			h.add(g, amplitudes[k])
		}
	}
}

func (b *bumps) derivatives(dst []slope, x, y float64) {
	for k := range b.count() {
		if g, near := b.one(k, x, y); near {
			dst[k] = slope{g.d, g.x, g.y}
		}
	}
}
