package calibration

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestVerifyPrintTakesScaleAndUncertaintyFromBothBars(t *testing.T) {
	cases := []struct {
		name           string
		read           BarReading
		sx, sy, ux, uy float64
		source         string
	}{
		{"exact", BarReading{X: 200, Y: 150}, 1, 1, 0.0015, 0.002, "0.3/200 and 0.3/150 by hand"},
		{"small", BarReading{X: 198.6, Y: 149.1}, 0.993, 0.994, 0.0015, 0.002, "198.6/200, 149.1/150 by hand"},
		{"own u", BarReading{X: 201, Y: 150.3, U: 0.1}, 1.005, 1.002, 0.0005, 0.1 / 150, "by hand"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p, err := VerifyPrint(c.read)
			require.NoError(t, err)
			assert.InDelta(t, c.sx, p.ScaleX, 1e-12, c.source)
			assert.InDelta(t, c.sy, p.ScaleY, 1e-12, c.source)
			assert.InDelta(t, c.ux, p.UX, 1e-12, c.source)
			assert.InDelta(t, c.uy, p.UY, 1e-12, c.source)
			assert.Zero(t, p.CorrelationXY)
			assert.True(t, p.Verified)
			assert.Empty(t, p.Warnings)
			assert.NoError(t, p.Check())
		})
	}
}

func TestVerifyPrintWithoutTheShortBarWidensY(t *testing.T) {
	p, err := VerifyPrint(BarReading{X: 198.6})
	require.NoError(t, err)
	assert.InDelta(t, 0.993, p.ScaleY, 1e-12)
	// by hand: sqrt(0.0015² + (0.005/sqrt 3)²)
	assert.InDelta(t, math.Sqrt(0.0015*0.0015+0.005*0.005/3), p.UY, 1e-12)
	assert.InDelta(t, p.UX/p.UY, p.CorrelationXY, 1e-12)
	require.Len(t, p.Warnings, 1)
	assert.Equal(t, OneBarOnly, p.Warnings[0].Code)
}

func TestVerifyPrintRefusesWhatNoPrintDoes(t *testing.T) {
	cases := []struct {
		name string
		read BarReading
		says []string
	}{
		{"no reading", BarReading{}, []string{"reads 0 mm", "100 %"}},
		{"half", BarReading{X: 100}, []string{"200 mm bar reads 100 mm", "190.0 to 210.0", "100 %"}},
		{"just beyond", BarReading{X: 189.9}, []string{"189.9"}},
		{"centimetres", BarReading{X: 19.94}, []string{"19.94; was it read in cm?", "such as 199.4"}},
		{"inches", BarReading{X: 7.87}, []string{"7.87", "millimetres"}},
		{"bars swapped", BarReading{X: 150, Y: 200}, []string{"200 mm bar reads 150"}},
		{"short bar wrong", BarReading{X: 200, Y: 120}, []string{"150 mm bar reads 120", "142.5 to 157.5"}},
		{"not a number", BarReading{X: math.NaN()}, []string{"NaN"}},
		{"infinite", BarReading{X: 200, Y: math.Inf(1)}, []string{"+Inf"}},
		{"negative u", BarReading{X: 200, U: -0.1}, []string{"-0.1", "steel rule"}},
		{"u too large", BarReading{X: 200, U: 5}, []string{"5 mm", "at most 2"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p, err := VerifyPrint(c.read)
			require.Error(t, err)
			assert.Equal(t, Print{}, p)
			assert.NotContains(t, err.Error(), "\n")
			for _, part := range c.says {
				assert.ErrorContains(t, err, part)
			}
		})
	}
	for _, edge := range []float64{190, 210} {
		_, err := VerifyPrint(BarReading{X: edge})
		assert.NoError(t, err, "5 %% off is still a print")
	}
}

func TestVerifyPrintDoubtsBarsThatDisagree(t *testing.T) {
	p, err := VerifyPrint(BarReading{X: 200, Y: 147})
	require.NoError(t, err)
	require.Len(t, p.Warnings, 1)
	assert.Equal(t, BarsApart, p.Warnings[0].Code)
	assert.InDelta(t, 2, p.Warnings[0].Value, 0.05, "%")
}

func TestUnverifiedPrintIsOneWithinHalfAPercentAndSaysSo(t *testing.T) {
	p := UnverifiedPrint()
	assert.InDelta(t, 1, p.ScaleX, 0)
	assert.InDelta(t, 1, p.ScaleY, 0)
	// JCGM 100:2008, 4.3.7: rectangular, half-width 0.005
	assert.InDelta(t, 0.005/math.Sqrt(3), p.UX, 1e-15)
	assert.InDelta(t, p.UX, p.UY, 0)
	assert.False(t, p.Verified)
	require.Len(t, p.Warnings, 1)
	assert.Equal(t, Warning{NeverMeasured, 0.5}, p.Warnings[0])
	assert.NoError(t, p.Check())
}

func TestLengthUAlongTheAxesIsLengthTimesU(t *testing.T) {
	p, err := VerifyPrint(BarReading{X: 198.6, Y: 149.1})
	require.NoError(t, err)
	assert.InDelta(t, 125*p.UX, p.LengthU(Point{-60, 3}, Point{65, 3}), 1e-12)
	assert.InDelta(t, 80*p.UY, p.LengthU(Point{7, -40}, Point{7, 40}), 1e-12)
	assert.Zero(t, p.LengthU(Point{1, 2}, Point{1, 2}))
	q := UnverifiedPrint() // one error in both axes scales every length alike
	assert.InDelta(t, 100*q.UX, q.LengthU(Point{}, Point{60, 80}), 1e-12)
}

// The law of propagation against random draws of the two scales (JCGM 101).
func TestLengthUAgreesWithMonteCarlo(t *testing.T) {
	p, err := VerifyPrint(BarReading{X: 199})
	require.NoError(t, err)
	a, b := Point{-60, -20}, Point{55, 35}
	const draws = 200_000
	rng := rand.New(rand.NewPCG(7, 11))
	var sum, sumSquares float64
	for range draws {
		ex, e := rng.NormFloat64(), rng.NormFloat64()
		ey := p.CorrelationXY*ex + math.Sqrt(1-p.CorrelationXY*p.CorrelationXY)*e
		drawn := Print{ScaleX: p.ScaleX + p.UX*ex, ScaleY: p.ScaleY + p.UY*ey}
		l := distance(drawn.True(a), drawn.True(b))
		sum += l
		sumSquares += l * l
	}
	mean := sum / draws
	u := math.Sqrt(sumSquares/draws - mean*mean)
	// u of a standard deviation from n draws is u / sqrt(2n); five of these
	assert.InDelta(t, p.LengthU(a, b), u, 5*u/math.Sqrt(2*draws))
}

func TestReadingABarUndoesThePrintersScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sx := rapid.Float64Range(0.951, 1.049).Draw(t, "sx")
		sy := rapid.Float64Range(0.951, 1.049).Draw(t, "sy")
		p, err := VerifyPrint(BarReading{X: 200 * sx, Y: 150 * sy})
		if err != nil {
			t.Fatal(err)
		}
		q := p.True(Point{40, -30})
		if math.Abs(q.X-40*sx) > 1e-9 || math.Abs(q.Y+30*sy) > 1e-9 {
			t.Fatalf("got %v", q)
		}
	})
}

func TestPrintCheckNamesWhatIsWrong(t *testing.T) {
	good := UnverifiedPrint()
	cases := []struct {
		name  string
		spoil func(*Print)
		says  string
	}{
		{"scale", func(p *Print) { p.ScaleX = 2 }, "scale is 2 in x"},
		{"scale missing", func(p *Print) { p.ScaleY = 0 }, "0 in y"},
		{"u", func(p *Print) { p.UY = 0 }, "u ="},
		{"u not a number", func(p *Print) { p.UX = math.NaN() }, "NaN"},
		{"correlation", func(p *Print) { p.CorrelationXY = 1.5 }, "correlation"},
	}
	for _, c := range cases {
		p := good
		c.spoil(&p)
		assert.ErrorContains(t, p.Check(), c.says, c.name)
	}
}
