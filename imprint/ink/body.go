package ink

import (
	"math"
	"slices"
)

// A body's mark is worked out from mechanics and not drawn as a hill. On either side an oblong bone in
// soft tissue, whose skin hangs down as a buttock and a thigh, presses foam. In every column tissue and
// foam are in series, and either is as good as solid where its strain nears a limit. So a mark may be the
// bone's alone or that of a whole buttock. The parameters stand where a dent's stand, the middles first;
// lengths are in mm.
const (
	inToe    = iota + 2 // rad, of the bone from the front-back line, the other way on the other side
	inFront             // ln of the bone's radius of curvature along itself, in front of its lowest point
	inAcross            // ln of that across
	inOut               // how far outward the buttock's lowest point lies from the bone's
	inBehind            // how far behind it
	inRound             // ln of the buttock's radius of curvature across
)

// Those that both sides share.
const (
	ofLean   = 2*perSide + iota // slope to one side: sitting on one side more
	ofBack                      // ln of the bone's radius behind its lowest point over that in front
	ofOblong                    // ln of the buttock's radius from front to back over that across
	ofSink                      // ln of how deep the body's lowest point sinks in
	ofTissue                    // ln of the tissue's thickness under the bone
	ofFoam                      // ln of the foam's thickness
	ofFirm                      // ln of the foam's modulus over the tissue's
	ofThigh                     // ln of how high the thigh lies over the buttock
)

// What hardly matters is settled: our assumptions, in round numbers.
const (
	foamLimit, tissueLimit = 0.95, 0.9 // strains at which foam and tissue are as good as solid
	mostCrushed            = 0.98      // of the way to both limits
	leastTissue            = 0.6       // of that under the bone
	crease                 = 4.0       // mm over which buttock and thigh run into one another
	boneSlope              = 0.5       // of the bone far in front of its lowest point
	bonesEnd               = 60.0      // mm over that point where the bone turns into the pelvis
	thighWidth             = 0.8       // of the buttock's radius
	thighSplay             = 0.2       // rad
	thighsEnd              = 30.0      // mm, radius of curvature of a thigh behind the buttock's lowest point
	touch                  = 0.5       // mm over which touching begins
	thinning               = 2.0       // mm over which the tissue comes to be at its least
)

// bodyStep is the step in a body's parameters by which its pressure is differentiated.
const bodyStep = 1e-4

// bodyFamily is a body's mark on whatever it lies.
var bodyFamily = family{name: "body", body: true, bumps: 0.03}

// body is a seated body with the functions of its parameters taken.
type body struct {
	front                          float64 // +1 where the front is up, -1 where it is down
	sides                          [2]half
	lean, sink, tissue, foam, firm float64
	thigh                          float64
	whole                          float64 // stress where all of the sinking bears on the tissue under the bone
}

// half is one side of a body.
type half struct {
	x, y, side, cos, sin     float64
	ahead, back, across      float64 // radii of the bone
	out, behind, round, long float64 // of the buttock
}

func newBody(p []float64, front float64) *body {
	b := &body{front: front, lean: p[ofLean], sink: math.Exp(p[ofSink]), tissue: math.Exp(p[ofTissue]),
		foam: math.Exp(p[ofFoam]), firm: math.Exp(p[ofFirm]), thigh: math.Exp(p[ofThigh])}
	for k := range b.sides {
		q := p[k*perSide:]
		sin, cos := math.Sincos(q[inToe])
		ahead, round := math.Exp(q[inFront]), math.Exp(q[inRound])
		b.sides[k] = half{x: q[atX], y: q[atY], side: float64(2*k - 1), cos: cos, sin: sin,
			ahead: ahead, back: ahead * math.Exp(p[ofBack]), across: math.Exp(q[inAcross]),
			out: q[inOut], behind: q[inBehind], round: round, long: round * math.Exp(p[ofOblong])}
	}
	b.whole = b.stress(b.sink, b.tissue)
	return b
}

// moved are the bodies with each parameter moved by bodyStep in turn.
func moved(p []float64, front float64) (r []shape) {
	q := slices.Clone(p)
	for j := range atSill {
		q[j] += bodyStep
		r = append(r, newBody(q, front))
		q[j] = p[j]
	}
	return r
}

// stress is that of tissue and foam in series which together give way by overlap, mm, over the tissue's
// modulus. Either's is E e / (1 - e / limit), with e its strain; that they are alike is a quadratic equation.
func (b *body) stress(overlap, tissue float64) float64 {
	foamRoom, tissueRoom := foamLimit*b.foam, tissueLimit*tissue
	overlap = math.Min(overlap, mostCrushed*(foamRoom+tissueRoom))
	stiff, soft := b.firm/b.foam, 1/tissue
	linear := stiff*(1-overlap/tissueRoom) + soft*(1+overlap/foamRoom)
	root := math.Sqrt(math.Max(0, linear*linear+4*(stiff/tissueRoom-soft/foamRoom)*soft*overlap))
	strain := 2 * soft * overlap / (linear + root) / b.foam
	return b.firm * strain / (1 - strain/foamLimit)
}

// at is the pressure at (x, y), 1 where all of the sinking bears on the tissue under a bone.
func (b *body) at(x, y float64) float64 {
	skin := b.skin(x, y)
	t := (b.sink - skin - b.lean*x) / touch
	if t < -20 {
		return 0
	}
	if t < 30 {
		t = math.Log1p(math.Exp(t))
	}
	bone := math.Min(b.sides[0].bone(x, y, b.front), b.sides[1].bone(x, y, b.front))
	bone = bonesEnd * (1 - math.Exp(-bone/bonesEnd))
	least := leastTissue * b.tissue
	over := (b.tissue + bone - skin - least) / 2
	tissue := least + over + math.Sqrt(over*over+thinning*thinning)
	return b.stress(t*touch, tissue) / b.whole
}

// skin is the unpressed skin's height over the buttocks' lowest points, mm.
func (b *body) skin(x, y float64) float64 {
	var at [4]float64
	low := math.Inf(1)
	for k := range b.sides {
		at[2*k], at[2*k+1] = b.sides[k].flesh(x, y, b.front, b.thigh)
		low = math.Min(low, math.Min(at[2*k], at[2*k+1]))
	}
	sum := 0.0
	for _, h := range at {
		sum += math.Exp((low - h) / crease)
	}
	return low - crease*math.Log(sum)
}

// bone is the height of one side's bone over its lowest point, mm.
func (h *half) bone(x, y, front float64) float64 {
	out, ahead := h.side*(x-h.x), front*(h.y-y)
	u, v := ahead*h.cos-out*h.sin, out*h.cos+ahead*h.sin
	across := v * v / (2 * h.across)
	if u < 0 {
		return across + u*u/(2*h.back)
	}
	l := boneSlope * h.ahead
	return across + boneSlope*(math.Sqrt(u*u+l*l)-l)
}

// flesh is the height of one side's buttock and of its thigh, mm.
func (h *half) flesh(x, y, front, thigh float64) (buttock, leg float64) {
	out, ahead := h.side*(x-h.x)-h.out, front*(h.y-y)+h.behind
	buttock = out*out/(2*h.round) + ahead*ahead/(2*h.long)
	if ahead < 0 {
		return buttock, out*out/(2*thighWidth*h.round) + thigh + ahead*ahead/(2*thighsEnd)
	}
	out -= thighSplay * ahead
	return buttock, out*out/(2*thighWidth*h.round) + thigh
}

func (b *body) middle(k int) (x, y float64) { return b.sides[k].x, b.sides[k].y }

// expectBody is what is expected of a body and of what it sits on, wide and in round numbers: bones and
// tissue as in the training of the nets (docs/measurement-model.md), pads from a thin mat to a thick cushion.
func expectBody() (r []expectation) {
	for _, e := range []struct {
		i      int
		a      about
		unlike float64
	}{
		{inToe, about{toeIn.mean, 0.3}, 0.15},
		{inFront, about{math.Log(40), 0.9}, 0.1},
		{inAcross, about{math.Log(12), 0.7}, 0.1},
		{inOut, about{10, 10}, 2},
		{inBehind, about{3, 9}, 2},
		{inRound, about{math.Log(80), 0.4}, 0.06},
	} {
		r = append(r, expectation{e.i, -1, e.a.mean, e.a.sd}, expectation{perSide + e.i, -1, e.a.mean, e.a.sd},
			expectation{e.i, perSide + e.i, 0, e.unlike})
	}
	for _, e := range []struct {
		i int
		a about
	}{
		{ofLean, about{0, 0.03}}, {ofBack, about{math.Log(0.6), 0.4}},
		{ofOblong, about{math.Log(1.1), 0.3}}, {ofSink, about{math.Log(20), 0.5}},
		{ofTissue, about{math.Log(15), 0.6}}, {ofFoam, about{math.Log(18), 0.8}},
		{ofFirm, about{math.Log(1.5), 1.3}}, {ofThigh, about{math.Log(14), 0.6}},
		{atSill, about{math.Log(0.08), 0.9}}, // of the pressure under a bone
	} {
		r = append(r, expectation{e.i, -1, e.a.mean, e.a.sd})
	}
	return r
}

// bodyStart are the parameters to start a body from: as expected, but for the middles and the ink, which the
// wide family found.
func bodyStart(wide []float64) []float64 {
	p := slices.Clone(wide)
	clear(p[:atInk])
	clear(p[parameters:])
	for _, e := range expectBody() {
		if e.less < 0 {
			p[e.i] = e.mean
		}
	}
	for s := 0; s <= perSide; s += perSide {
		p[s+atX], p[s+atY] = wide[s+atX], wide[s+atY]
	}
	return p
}
