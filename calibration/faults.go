package calibration

import "sitspan/calibration/fault"

// What may be wrong with a print's readings, a scale and a pad.
var (
	BadBarU = fault.New("bar.u", "the bar's reading has an uncertainty of {u|full} mm; above 0, at most "+
		"{most|full} "+
		"mm is needed: read it with a steel rule in millimetres")
	BadBar = fault.New("bar.length", "the {bar|0} mm bar reads {reading|full} mm; {low|1} to {high|1} mm is "+
		"plausible: print at 100 %, not fit to page, and measure in millimetres")
	BarInCentimetres = fault.New("bar.cm",
		"the {bar|0} mm bar reads {reading|2}; was it read in cm? needed: mm, such as {mm|1}")
	BarsDisagree = fault.New("bars.disagree",
		"the two bars disagree: the long one is {long|+1} % off, the short one {short|+1} %")
	BarsOff = fault.New("bars.off",
		"the bars are {off|+1} % off, as of a page that was printed to fit and not at 100 %")
	BadScale = fault.New("print.scale", "the print's scale is {x|full} in x and {y|full} in y; {low|2} to "+
		"{high|2} is plausible: verify the print again")
	BadScaleU = fault.New("print.scale_u", "the print's scale has u = {x|full} in x and {y|full} in y; more "+
		"than 0 and at most {most|2} is needed: verify the print again")
	BadCorrelation = fault.New("print.correlation", "the correlation of the print's two scales is "+
		"{value|full}; -1 to 1 is needed: verify the print again")

	UnknownMedium = fault.New("medium",
		"unknown medium \"{word|line}\"; foam or paper is needed (a gel pad is foam)")
	BadPad       = fault.New("pad", "pad \"{pad|line}\": {why}")
	BadPadLength = fault.New("pad.length",
		"pad \"{pad|line}\": {what} is {value|full} mm; 0 to {most} mm is needed")
	NoPadU = fault.New("pad.u", "pad \"{pad|line}\": the depth has no uncertainty; give the spread of your "+
		"readings in mm, at least that of the gauge")
)
