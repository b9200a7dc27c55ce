package surface

import "math"

// alike is how a surface's heights resemble each other over a distance: Matern's correlation with smoothness
// 7/2 (Rasmussen and Williams, equation 4.16), a surface with three derivatives. Over 34 rendered pads of
// five kinds the heights were likelier so than with smoothness 5/2 or with all derivatives; with these last
// its u was half of the errors.
//
// It is read from a table, since a surface asks for it ten million times, by the cubics that have its values
// and its slopes: to 1e-12, of an amplitude of 100 mm 1e-8 mm^2.
func alike(d, length float64) float64 { return likenessOver(length).at(d) }

// likeness is how many steps of the table one mm takes: of many places the length is divided by once.
type likeness float64

func likenessOver(length float64) likeness { return likeness(math.Sqrt(7) / length * alikeSteps) }

func (l likeness) at(d float64) float64 {
	at := d * float64(l)
	if !(at < alikeReach*alikeSteps) {
		return 0
	}
	i := int(at)
	c, t := &alikeTable[i], at-float64(i)
	return c[0] + t*(c[1]+t*(c[2]+t*c[3]))
}

const (
	alikeReach = 40  // lengths over root 7; beyond, 3e-14 is left
	alikeSteps = 256 // for each
)

var alikeTable = func() (table [alikeReach * alikeSteps][4]float64) {
	const h = 1.0 / alikeSteps
	value := func(i int) float64 {
		t := float64(i) * h
		return (1 + t*(1+t*(0.4+t/15))) * math.Exp(-t)
	}
	slope := func(i int) float64 {
		t := float64(i) * h
		return -h * t * (3 + t*(3+t)) / 15 * math.Exp(-t)
	}
	for i := range table {
		rise, a, b := value(i+1)-value(i), slope(i), slope(i+1)
		table[i] = [4]float64{value(i), a, 3*rise - 2*a - b, a + b - 2*rise}
	}
	return table
}()

// alikeByLength is its derivative by the length's logarithm.
func alikeByLength(d, length float64) float64 {
	t := math.Sqrt(7) * d / length
	return t * t * (3 + t*(3+t)) / 15 * math.Exp(-t)
}
