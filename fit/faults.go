package fit

import "sitspan/calibration/fault"

// What may be wrong with what a width is chosen by.
var (
	BadTrunk = fault.New("trunk", "trunk angle is {angle|full} deg, needed: {low} to {high} deg above the "+
		"horizontal (15 is low and stretched, 75 upright)")
	BadTrunkU    = fault.New("trunk.u", "the trunk angle's uncertainty is {u|full} deg, needed: 0 to 45 deg")
	BadAllowance = fault.New("allowance",
		"allowance is {mm|full} mm, needed: 0 (low and stretched) to {most} mm; 40 is upright")
	BadAllowanceU = fault.New("allowance.u",
		"the allowance's uncertainty is {u|full} mm, needed: 0 to {most} mm")
	BadSpacing = fault.New("spacing",
		"spacing is {mm|full} mm, needed: the distance between the sit bones in mm, about 75 to 155")
	BadMass  = fault.New("mass", "rider's mass is {kg|full} kg, needed: {low} to {high} kg, or none")
	NoBike   = fault.New("bike.none", "no bike given: a width needs a posture, by a trunk angle or an allowance")
	BadBike  = fault.New("bike", "bike \"{bike|line}\": {why}")
	NoSaddle = fault.New("stock.no_saddle",
		"the stock has no saddle on the shelf: every row is sold out, or there is none")
	UnknownUse       = fault.New("use", "use \"{word|line}\" is not known: use one of {known}")
	UnknownComplaint = fault.New("complaint", "complaint \"{word|line}\" is not known: use one of {known}")
)

// What may be wrong with a shop's own tables.
var (
	NoAllowanceRows = fault.New("table.empty",
		"the table of allowances is empty: give at least one row of angle and mm")
	BadAllowanceRow = fault.New("table.row", "the allowance at {angle|full} deg: {what} is "+
		"{value|full} {unit}, needed: {low|full} to {high|full} {unit}")
	AngleTwice = fault.New("table.twice",
		"the angle {angle|full} deg is given twice: keep one row")
	AllowanceFalls = fault.New("table.falls", "the allowance falls from {from|full} mm at {low|full} deg to "+
		"{to|full} mm at {high|full} deg: more upright never needs less")
	BadDampingMass = fault.New("damping.mass",
		"damping: {what} is {kg|full} kg, needed: above 0, at most 400 kg")
	BadNearKg      = fault.New("damping.near", "damping: near_kg is {kg|full} kg, needed: 0 to 50 kg")
	NoMediumDamper = fault.New("damping.no_medium", "soft up to {soft|full} kg and firm from "+
		"{firm|full} kg leave no medium between: the first must be the lower")
	BadLevel = fault.New("level",
		"the level is {level|full}, needed: a probability from 0.5 to below 1, such as 0.95")
	BadWidth = fault.New("stock.width", "width {n} is {mm|full} mm, needed: {low} to {high} mm")
	NoWidths = fault.New("stock.no_width", "no width was given: give at least one in mm")
)

// What may be wrong with a record's choice of a width, or with a stock's file.
var (
	NoPosture          = fault.New("record.posture", "posture needs either trunk_deg or allowance_mm")
	BadSpacingBudget   = fault.New("record.spacing", "spacing: {why}")
	BadAllowanceBudget = fault.New("record.allowance", "allowance: {why}")
	UnknownGrade       = fault.New("record.grade", "grade {word|line} is not known")
	BadStock           = fault.New("stock", "stock: {why}")
	BadStockFile       = fault.New("stock.file", "stock {file}: {why}")
)

// What a cell of a stock's file is expected to hold.
var (
	row      = fault.New("row", "{place}: expected {expected}")
	rowField = fault.New("row.field", "{place}: {field}: expected {expected}")
	rowText  = fault.New("row.text", "{place}: \"{value|line}\": expected {expected}")
	rowCell  = fault.New("row.cell", "{place}: {field}: \"{value|line}\": expected {expected}")

	wantAtMostMB = fault.New("row.megabytes", "at most {most} MB; split the file")
	wantUTF8     = fault.New("row.utf8", "text in UTF-8; save it from the spreadsheet as \"CSV UTF-8\"")
	wantHeader   = fault.New("row.header", "a header with the column width_mm; the file is empty")
	wantWidth    = fault.New("row.width", "a header with the column width_mm (or width_cm, width_in)")
	wantOnce     = fault.New("row.once", "one column for {column}, this is the second")
	wantRow      = fault.New("row.one", "at least one row below the header")
	wantQuotes   = fault.New("row.quotes", "quotes only round a whole cell, doubled inside it (line {line}, "+
		"column {column})")
	wantReadable = fault.New("row.readable", "a readable file: {why}")
	wantSupport  = fault.New("row.support", "at most the width, {width|full} mm")
	wantValue    = fault.New("row.value", "a value; the cell is empty or missing")
	wantCells    = fault.New("row.cells", "{n} cells as in the header, found {found}; a decimal comma needs "+
		"quotes, or ; between the cells")
	wantUnit       = fault.New("row.unit", "the unit in the header: {known}")
	wantNumber     = fault.New("row.number", "a number from {low|full} to {high|full} ({unit})")
	wantUses       = fault.New("row.uses", "uses from: {known}")
	wantRelief     = fault.New("row.relief", "none, channel, cutout, yes or no")
	wantDampers    = fault.New("row.dampers", "dampers from: soft, medium, firm (or all, none)")
	wantClearPrice = fault.New("row.price_clear", "a price whose decimals are clear: 1234.00 or 1234, not 1.234")
	wantPrice      = fault.New("row.price",
		"a price, such as 89.90 or 89,90; the currency belongs in the header: price_eur")
	wantQty = fault.New("row.qty", "a whole number, 0 or more")
)
