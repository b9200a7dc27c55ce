package tone

import (
	"image"
	"math"
	"math/rand/v2"
)

// A card in a picture, straight from above: a dark window of 212 x 140 mm in white, black marks on the white,
// a table around. scenePx px are a mm; the picture's middle is the window's.
const (
	scenePx     = 3.0
	sceneWidth  = 1020
	sceneHeight = 810
)

func sceneAt(x, y float64) Pixel {
	return Pixel{(sceneWidth-1)/2. + scenePx*x, (sceneHeight-1)/2. + scenePx*y}
}

func sceneMM(i int) (x, y float64) {
	return (float64(i%sceneWidth) - (sceneWidth-1)/2.) / scenePx,
		(float64(i/sceneWidth) - (sceneHeight-1)/2.) / scenePx
}

// markAt tells whether a place is on one of the black squares, 20 mm a side, every 60 mm round the card.
func markAt(x, y float64) bool {
	near := func(v, middle float64) bool { return math.Abs(v-middle) < 10 }
	side := near(math.Abs(y), 83) && (near(math.Abs(x), 0) || near(math.Abs(x), 60) || near(math.Abs(x), 119))
	return side || near(math.Abs(x), 119) && near(y, 0)
}

// scene is the picture's levels, under light whose logarithm is a quadratic.
func scene(pad float64) []float32 {
	v := make([]float32, sceneWidth*sceneHeight)
	for i := range v {
		x, y := sceneMM(i)
		level := 0.5 // the table
		switch {
		case math.Abs(x) < 106 && math.Abs(y) < 70:
			level = pad
		case markAt(x, y):
			level = 0.15
		case math.Abs(x) < 132 && math.Abs(y) < 96:
			level = 0.8
		}
		light := math.Exp((0.2*x/100 - 0.1*y/70 - 0.15*x*x/1e4) / 2.4)
		v[i] = float32((level+foot)*light - foot)
	}
	return v
}

// card is where white, black and window are.
func card() Card {
	c := Card{PxPerMM: scenePx}
	for y := -92.0; y <= 92; y += 3 {
		for x := -128.0; x <= 128; x += 3 {
			s := Spot{X: x, Y: y, At: []Pixel{sceneAt(x, y)}}
			switch {
			case math.Abs(x) < 102 && math.Abs(y) < 66:
				c.Window = append(c.Window, s.At[0])
			case math.Abs(x) < 110 && math.Abs(y) < 74:
			case inMark(x, y, 8.5):
				c.Black = append(c.Black, s)
			case !inMark(x, y, 14):
				c.White = append(c.White, s)
			}
		}
	}
	return c
}

// inMark tells whether a place is within reach of a mark's middle along both axes.
func inMark(x, y, reach float64) bool {
	for _, m := range [][2]float64{{0, 83}, {60, 83}, {119, 83}, {119, 0}} {
		if math.Abs(math.Abs(x)-m[0]) < reach && math.Abs(math.Abs(y)-m[1]) < reach {
			return true
		}
	}
	return false
}

// saved is the picture with noise of a level and a half in 255, as bytes.
func saved(v []float32) *image.Gray {
	r := rand.New(rand.NewPCG(7, 8))
	g := image.NewGray(image.Rect(0, 0, sceneWidth, sceneHeight))
	for i, x := range v {
		g.Pix[i] = uint8(math.Max(0, math.Min(255, 255*float64(x)+1.5*r.NormFloat64()+0.5)))
	}
	return g
}

// bell is a picture blurred by a Gaussian, mm, worked out by its sum on every sixth pixel: slow, plain, and
// another way than the package's.
func bell(v []float32, sd float64) func(i int) float64 {
	const every = 6
	w, h := sceneWidth/every, sceneHeight/every
	small := make([]float64, w*h)
	for i := range small {
		for k := range every * every {
			small[i] += float64(v[(i/w*every+k/every)*sceneWidth+i%w*every+k%every]) / (every * every)
		}
	}
	small = bellAlong(bellAlong(small, w, h, 1, w, sd*scenePx/every), h, w, w, 1, sd*scenePx/every)
	p := plane{w: w, h: h, k: every, v: make([]float32, w*h)}
	for i, x := range small {
		p.v[i] = float32(x)
	}
	return func(i int) float64 { return p.at(Pixel{float64(i % sceneWidth), float64(i / sceneWidth)}) }
}

// bellAlong blurs lines of n values, step apart in memory.
func bellAlong(v []float64, n, lines, step, line int, sd float64) []float64 {
	out := make([]float64, len(v))
	reach := int(4 * sd)
	for l := range lines {
		for x := range n {
			sum, all := 0.0, 0.0
			for k := -reach; k <= reach; k++ {
				weight := math.Exp(-float64(k*k) / (2 * sd * sd))
				sum, all = sum+weight*v[l*line+mirrored(x+k, n)*step], all+weight
			}
			out[l*line+x*step] = sum / all
		}
	}
	return out
}
