package imprint

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
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
	if blur <= judge.BlurToBlame.Value*module {
		return r
	}
	return codes.BlurToBlame.With(blur, blur/module, r)
}

func implausible(mm float64) codes.Said {
	return codes.Implausible.With(mm, judge.LeastSpacing.Value, judge.MostSpacing.Value)
}

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
