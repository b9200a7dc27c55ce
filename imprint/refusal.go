package imprint

import (
	"fmt"
	"math"
)

// Reason says why a measurement is not, or not yet, to be used: a stable code, what was seen and needed, what to do.
type Reason struct{ Code, Message, Hint string }

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

func noFrame(undecoded int) Reason {
	seen := "no coded mark was found"
	switch {
	case undecoded == 1:
		seen = "one place looks like a mark, but is none of the frame's"
	case undecoded > 1:
		seen = fmt.Sprintf("%d places look like marks, but are none of the frame's", undecoded)
	}
	return Reason{"no_frame", seen + "; the printed frame, or a scan's stated resolution, is needed",
		"lay the printed frame on the pad, all of it in the picture, and take the photo again from above; a bank-size card or a steel rule flat beside the imprint works, too, less well"}
}

func frameOutOfFocus(squares int) Reason {
	return Reason{"blur", fmt.Sprintf("%d squares look like the frame's marks and are too blurred to be read; sharp marks are needed", squares),
		"hold still, tap on the imprint to focus, give it more light"}
}

func fewMarks(n int, spread string) Reason {
	m := fmt.Sprintf("%d of 12 marks were found%s; %d on all sides are needed", n, spread, wantedMarks)
	return Reason{"few_marks", m, "keep hands, cloth and shadows off the frame and the whole frame in the picture"}
}

// orBlur is a reason against a frame, or blur where the marks are blurred enough to be why.
func orBlur(r Reason, blur, module float64) Reason {
	if blur <= blurToBlame*module {
		return r
	}
	b := blurred(blur, blur/module)
	b.Message = fmt.Sprintf("edges are blurred over %.1f px (%.2f of a mark's module), and so %s", blur, blur/module, r.Message)
	return b
}

func bentFrame(worst float64, mark int) Reason {
	return Reason{"bent_frame", fmt.Sprintf("mark %d lies %.1f mm off the plane of the others; a flat frame is needed", mark, worst),
		"press the frame flat or print it on stiffer card, and take the photo again"}
}

func blurred(px, modules float64) Reason {
	m := fmt.Sprintf("edges are blurred over %.1f px (%.2f of a mark's module); below %.2f is needed", px, modules, blurModules)
	return Reason{"blur", m, "hold still, tap on the imprint to focus, give it more light"}
}

func glare(share float64) Reason {
	return Reason{"glare", fmt.Sprintf("%.0f %% of the window is burnt out; below %.0f %% is needed", 100*share, 100*glareShare),
		"turn the lamp or yourself until nothing in the window shines white, or lower the exposure"}
}

func noDent() Reason {
	return Reason{"no_dent", "no depression was found in the window; two are needed",
		"check that this is the imprint, let the rider sit again, and light it from one side"}
}

func placedNowhere(u float64) Reason {
	r := noDent()
	r.Message = fmt.Sprintf("nothing in the window looks like a depression: even the clearer of two could be placed to ± %.0f mm only; two that show are needed", 2*u)
	return r
}

func oneDent() Reason {
	return Reason{"one_dent", "one depression was found; one on either side is needed",
		"centre the frame on the imprint so that both depressions lie in the window, or let the rider sit again"}
}

func onlyOneClear(times float64) Reason {
	return Reason{"one_dent", fmt.Sprintf("one depression shows clearly, the other could be placed %.1f times less well; one like it on either side is needed", times),
		"look at the overlay whether there is a second depression; centre the frame on the imprint, put a lamp low to one side, or let the rider sit again"}
}

func manyDents() Reason {
	return Reason{"many_dents", "more than two depressions of like depth were found; two are needed",
		"smooth the pad or take a fresh sheet, and let the rider sit once without sliding"}
}

func lowRelief(contrast float64) Reason {
	return Reason{"low_relief", fmt.Sprintf("the relief hardly shows (contrast %.1f %%)", 100*contrast), "put a lamp low to one side and take the photo again"}
}

func faintRelief(u, limit float64) Reason {
	return Reason{"low_relief", fmt.Sprintf("the relief shows too little to place two depressions to better than ± %.1f mm; ± %g mm or less is needed", roundUp(u), limit),
		"check that this is the imprint, put a lamp low to one side and take the photo again"}
}

func implausible(mm float64) Reason {
	return Reason{"implausible_spacing", fmt.Sprintf("the distance came out at %.0f mm; between %.0f and %.0f mm is needed", mm, leastSpacing, mostSpacing),
		"look at the overlay: the centres are likely not the sit bones; let the rider sit again"}
}

// freshSheet is what helps where the ink tells too little: no lamp does.
const freshSheet = "let the rider sit once more on a fresh sheet, without sliding, and measure that sheet"

func vagueInk(u, limit float64) Reason {
	return Reason{"wide_interval", fmt.Sprintf("the ink leaves the distance of its two centres open by ± %.1f mm; ± %g mm or less is needed", roundUp(u), limit), freshSheet}
}

// roundUp rounds to a tenth, up, so that what lies beyond a limit reads so.
func roundUp(v float64) float64 { return math.Ceil(v*10) / 10 }

func wideInterval(u, limit float64, advice string) Reason {
	if advice == "" {
		advice = "take further photos with the lamp moved and measure them together"
	}
	return Reason{"wide_interval", fmt.Sprintf("the interval is ± %.1f mm wide; ± %.0f mm or less is needed", roundUp(u), limit), advice}
}

func bottomedOut(u, limit float64) Reason {
	return Reason{"bottomed_out", fmt.Sprintf("a dent bottomed out on the board below the pad, and its deepest point may lie anywhere on the flat: the interval is ± %.1f mm wide; ± %.0f mm or less is needed", roundUp(u), limit),
		"use a thicker or firmer pad and let the rider sit again"}
}

func unclearMedium() Reason {
	return Reason{"medium_unclear", "it could not be told whether this is foam or marking paper", "say --medium foam or --medium paper"}
}

func focalInDoubt(normalised float64) Reason {
	return Reason{"focal_in_doubt", fmt.Sprintf("the focal length in the file contradicts the view of the frame (%.1f standard uncertainties); the camera's height is not to be trusted", normalised),
		"use the photo as the phone took it, not cropped and not sent by a messenger, or say --depth and step back"}
}
