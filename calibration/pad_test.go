package calibration

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPadsArePlausibleAndSayTheirBasis(t *testing.T) {
	for _, p := range Pads() {
		assert.NoError(t, p.Check(), p.Name)
		assert.NotEmpty(t, p.Basis, p.Name)
	}
	assert.Equal(t, Foam, GelPad().Medium, "a gel pad is read as foam")
}

func TestPadCheckNamesWhatIsWrong(t *testing.T) {
	cases := []struct {
		name  string
		spoil func(*Pad)
		says  string
	}{
		{"medium", func(p *Pad) { p.Medium = "jelly" }, "jelly"},
		{"negative depth", func(p *Pad) { p.DepthMM = -1 }, "-1 mm"},
		{"not a number", func(p *Pad) { p.CardThicknessU = math.NaN() }, "NaN"},
		{"no u", func(p *Pad) { p.DepthUCommon = 0 }, "no uncertainty"},
	}
	for _, c := range cases {
		p := FoamPad()
		c.spoil(&p)
		assert.ErrorContains(t, p.Check(), c.says, c.name)
	}
}

func TestParseMedium(t *testing.T) {
	for name, want := range map[string]Medium{"foam": Foam, " Paper ": Paper} {
		m, err := ParseMedium(name)
		require.NoError(t, err)
		assert.Equal(t, want, m)
	}
	_, err := ParseMedium("gel")
	assert.ErrorContains(t, err, "foam or paper")
}
