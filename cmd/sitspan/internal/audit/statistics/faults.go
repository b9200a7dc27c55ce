package statistics

import "sitspan/calibration/fault"

// What a cell of a readings' file is expected to hold.
var (
	wantQuotes    = fault.New("reading.quotes", "a row of CSV, each quote closed")
	wantSpacing   = fault.New("reading.spacing", "a distance from 40 to 300 mm")
	wantU         = fault.New("reading.u", "a standard uncertainty from 0 to 50 mm, or nothing")
	wantTrunk     = fault.New("reading.trunk", "the trunk's angle from -20 to 120 degrees, or nothing")
	wantAllowance = fault.New("reading.allowance", "an allowance from 0 to 100 mm, or nothing")
	wantSold      = fault.New("reading.sold", "a saddle's width from 60 to 400 mm, or nothing")

	wantOnePosture = fault.New("reading.both", "trunk_deg or allowance_mm, not both")
	wantOneRow     = fault.New("reading.twice", "one row a file; line {line} has it, too")
	wantValues     = fault.New("reading.values", "at most {n} values, as the header has (with decimal commas: "+
		"semicolons between the values)")
	wantFile   = fault.New("reading.file", "a file's name, from the folder that is audited")
	wantNoRoot = fault.New("reading.root", "a name from the folder that is audited, not from the disk's root")
	wantShort  = fault.New("reading.long", "at most {n} characters")
	wantDate   = fault.New("reading.date", "YYYY-MM-DD, D.M.YYYY, YYYY-MM or YYYY")
)

// What only the archive's files show of a reading to be of no use.
var (
	WantElsewhere = fault.New("reading.elsewhere", "a file of the audited folder, by its name from there")
	WantNoCopy    = fault.New("reading.copy",
		"one reading a picture: this is {file} again, which line {line} has")
)
