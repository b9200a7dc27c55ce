package artwork

import "sitspan/calibration/fault"

// What may be wrong with what is asked for.
var (
	NoDotSheet    = fault.New("frame.dots", "there is no sheet {n} of dots; 1 to {most} is needed")
	UnknownPaper  = fault.New("frame.paper", "unknown paper \"{word|line}\"; a4 or letter is needed")
	UnknownEnding = fault.New("frame.ending", "{file} ends in \"{ending|line}\"; .pdf, .svg or .png is needed: "+
		"name the file by its format")
	BadDensity = fault.New("frame.density", "a density of {dpi|full} dpi is asked for; {low} to {high} is "+
		"drawn: choose another or print the PDF")
)
