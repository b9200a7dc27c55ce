package relief

import "math"

// Spacing is the distance of the bottoms, mm, corrected for parallax with the fitted depths, and its standard
// uncertainty, the depths' among it.
func (s Shading) Spacing() (mm, u float64) {
	ex, ey, mm := toward(s.Left.At, s.Right.At)
	by := [6]float64{-ex, -ey, ex, ey}
	v := 0.0
	for i := range by {
		for j := range by {
			v += by[i] * s.Cov[i][j] * by[j]
		}
	}
	return mm, math.Sqrt(math.Max(0, v))
}

// toward is the unit vector from l to r and their distance.
func toward(l, r Point) (ex, ey, mm float64) {
	mm = distance(l, r)
	return (r.X - l.X) / mm, (r.Y - l.Y) / mm, mm
}

// Sighting is where the fitted bottoms are seen on the frame's plane: what the net reads.
type Sighting struct {
	Left, Right Point
	Cov         [4][4]float64 // of left x, left y, right x, right y, mm^2
	Distance, U float64       // mm, with its standard uncertainty
}

// Seen carries the bottoms to the frame's plane, as a camera at v sees them (equation (1) turned round). For
// the fitted photo's own view the depth's error all but drops out: it moves the bottom and the line of sight
// alike.
func (s Shading) Seen(v View) (o Sighting) {
	var by [4][6]float64 // the coordinates seen by the six of Cov
	for k, b := range []Bottom{s.Left, s.Right} {
		at, byDepth := v.seenAt(b.At, b.Depth)
		shrink := 1.0
		if v.Height > 0 {
			shrink = v.Height / (v.Height + b.Depth)
		}
		by[2*k][2*k], by[2*k][4+k] = shrink, byDepth.X
		by[2*k+1][2*k+1], by[2*k+1][4+k] = shrink, byDepth.Y
		*[]*Point{&o.Left, &o.Right}[k] = at
	}
	for i := range by {
		for j := range by {
			for a := range s.Cov {
				for b := range s.Cov {
					o.Cov[i][j] += by[i][a] * s.Cov[a][b] * by[j][b]
				}
			}
		}
	}
	ex, ey, mm := toward(o.Left, o.Right)
	o.Distance = mm
	o.U = math.Sqrt(math.Max(0, quadraticForm(o.Cov, [4]float64{-ex, -ey, ex, ey})))
	return o
}

func quadraticForm(c [4][4]float64, g [4]float64) (v float64) {
	for i := range g {
		for j := range g {
			v += g[i] * c[i][j] * g[j]
		}
	}
	return v
}

// Disagreement is how far the net's reading lies from the shading model's.
type Disagreement struct {
	Net, Physics float64 // the distances on the frame's plane, mm
	U            float64 // standard uncertainty of their difference, mm
	// Ratio is their difference over U: beyond some 2 they disagree.
	Ratio float64
}

// Against compares the net's reading of a window seen from v with this fit. uNet is the standard uncertainty
// of the net's distance, mm, as the caller has found it to be. The two are taken as independent: the fit
// starts from the reading, but its centres are free (centrePrior is far wider than what the shading says
// where it says anything; where it says nothing, U is wide).
func (s Shading) Against(r Reading, uNet float64, v View) Disagreement {
	seen := s.Seen(v)
	d := Disagreement{Net: r.Distance(), Physics: seen.Distance, U: math.Hypot(seen.U, uNet)}
	d.Ratio = math.Abs(d.Net-d.Physics) / d.U
	return d
}

// ShadingStart is a reading as a start for the shading model, depths clipped to what dents have. cardMM is
// what lies between the pad's flat surface and the frame's plane, mm; its depths' uncertainty is the net's
// own with commonU, mm, that all readings share.
func (r Reading) ShadingStart(cardMM, commonU float64) ShadingStart {
	s := ShadingStart{Left: r.Left.At, Right: r.Right.At}
	for k, side := range []Side{r.Left, r.Right} {
		s.Depth[k] = math.Max(leastRead, math.Min(mostDepth/2, side.Depth)) + cardMM
		s.UDepth[k] = math.Hypot(math.Sqrt(side.VarDepth), commonU)
	}
	return s
}

const leastRead = 2.0 // mm
