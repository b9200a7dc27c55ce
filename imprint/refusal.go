package imprint

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
)

// The bounds of what is accepted. Each is an opinion about what a fitter can be asked to do again, not a tolerance.
const (
	leastMarks     = 4    // below, no plane
	wantedMarks    = 7    // below, somebody must look
	bentMM         = 1.2  // withheld error of the worst mark beyond which a frame counts as bent
	buckleMM       = 2.0  // standard uncertainty of the frame's height beyond which it counts as bent
	blurModules    = 0.30 // blur (sigma) in modules of a mark beyond which edges are guesswork
	blurToBlame    = 0.20 // likewise beyond which blur is why marks are missing or lie off their plane: sharp photos have 0.12 at the most
	glareShare     = 0.02 // share of the window burnt out: a patch of 28 mm across, which hides a dent's bottom
	leastSpacing   = 70.0 // mm; three standard deviations beyond the means of MRI pelvimetry are 75 to 155 mm (docs/choice.md)
	mostSpacing    = 190.0
	widestInterval = 6.0 // mm, expanded uncertainty beyond which a number is no help
	widestReading  = 3.6 // mm, likewise of what the relief of foam leaves, in one photo or in several together
	widestInk      = 4.0 // mm, likewise of the ink: another sheet and another sitting take longer than another photo
	widestBeside   = 4.0 // mm, likewise of a picture without the frame, which has nothing else to check it
)

func noFrame(undecoded int) codes.Said {
	switch {
	case undecoded == 1:
		return codes.NoFrameOne.With()
	case undecoded > 1:
		return codes.NoFrameSeveral.With(undecoded)
	}
	return codes.NoFrame.With()
}

// orBlur is a reason against a frame, or blur where the marks are blurred enough to be why.
func orBlur(r codes.Said, blur, module float64) codes.Said {
	if blur <= blurToBlame*module {
		return r
	}
	return codes.BlurToBlame.With(blur, blur/module, r)
}

func implausible(mm float64) codes.Said { return codes.Implausible.With(mm, leastSpacing, mostSpacing) }

// wideInterval says that an interval is too wide, with the best advice that there is.
func (m *Measurement) wideInterval(u, limit float64) codes.Said {
	switch {
	case !m.Advice.None():
		return codes.WideAdvised.With(roundUp(u), limit, m.Advice)
	case m.Medium == calibration.Paper:
		return codes.WideOnPaper.With(roundUp(u), limit)
	}
	return codes.WideInterval.With(roundUp(u), limit)
}

// roundUp rounds to a tenth, up, so that what lies beyond a limit reads so.
func roundUp(v float64) float64 { return math.Ceil(v*10) / 10 }
