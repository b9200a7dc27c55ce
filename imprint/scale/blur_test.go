package scale

import (
	"image"
	"math"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
)

// A step edge under a Gaussian blur of known standard deviation; the box filters that imaging uses for one
// are good to a few per cent, and a central difference of a pixel either way widens it by 1/3 px^2 (the
// variance of a box two pixels wide).
func TestEdgesKnowTheirBlur(t *testing.T) {
	step := image.NewGray(image.Rect(0, 0, 1600, 1200))
	for i := range step.Pix {
		step.Pix[i] = 40
		if (i%1600/200+i/1600/200)%2 == 1 {
			step.Pix[i] = 200
		}
	}
	// ink's own grain had 2.0 at the most in 3-megapixel photos, shaken pictures without a mark 3.1 at the
	// least
	for sigma, want := range map[float64]bool{1: false, 2: false, 3.1: true, 5: true} {
		got, soft := isSoft(grayOf(imaging.Blur(step, sigma)))
		assert.InEpsilon(t, math.Sqrt(sigma*sigma+1.0/3), got, 0.1)
		assert.Equal(t, want, soft, "%v px", sigma)
	}
	_, soft := isSoft(step)
	assert.False(t, soft)
	_, soft = isSoft(image.NewGray(image.Rect(0, 0, 800, 600)))
	assert.False(t, soft, "where there are no edges, nothing is said")
}

func grayOf(img image.Image) *image.Gray {
	g := image.NewGray(img.Bounds())
	n := imaging.Clone(img)
	for i := range g.Pix {
		g.Pix[i] = n.Pix[4*i]
	}
	return g
}

// Marks that are hidden, or on a bent frame, are sharp.
func TestSharpMarksAreNotBlamedOnBlur(t *testing.T) {
	few := codes.FewMarksSide.With(5, judge.WantedMarks.Value, codes.LeftSide.With())
	require.Equal(t, few, orBlur(few, 0.12*10, 10), "0.12 modules: the most that sharp photos had")
	r := orBlur(few, 0.28*10, 10)
	require.Equal(t, "blur", r.Code, "0.28 modules: the least that shaken photos with few marks had")
	require.InDelta(t, 0.28, r.Params["modules"], 1e-9)
	require.Equal(t, few, r.Params["so"])
	require.Equal(t, "bent_frame", orBlur(codes.BentFrame.With(3, 1.5), 1.2, 10).Code)
}

// Where marks can be read and none of them measured, blur is named as soon as nothing in the picture is
// sharp, and only then.
func TestBlurIsNamedWhereNoMarkCanBeMeasured(t *testing.T) {
	squares := image.NewGray(image.Rect(0, 0, 1600, 1200))
	for i := range squares.Pix {
		squares.Pix[i] = uint8(40 + 160*((i%1600/200+i/1600/200)%2))
	}
	for sigma, want := range map[float64]string{0.8: "few_marks", 5: "blur"} {
		var none, some judge.Verdict
		none.Refuse(codes.FewMarksSoft.With(0, judge.WantedMarks.Value, 3))
		SayIfSoft(&none, 0, grayOf(imaging.Blur(squares, sigma)))
		require.Len(t, none.Reasons, 1)
		require.Equal(t, want, none.Reasons[0].Code, "%v px", sigma)

		some.Refuse(codes.FewMarks.With(3, judge.WantedMarks.Value))
		SayIfSoft(&some, 3, grayOf(imaging.Blur(squares, sigma)))
		require.Equal(t, "few_marks", some.Reasons[0].Code, "the marks found tell of blur themselves")
	}
}
