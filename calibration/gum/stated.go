package gum

import "math"

// Stated is an expanded uncertainty in mm as it is told to a person: to 0.1 mm, above
// 9.9 mm to whole mm, so that there are at most two significant digits, and up,
// since an uncertainty that is rounded down claims too much (JCGM 100:2008, 7.2.6). What
// lies beyond a limit of one decimal so reads beyond it, too.
func Stated(u float64) float64 {
	const slack = 1e-9 // 2.2 x 10 is 22.000000000000004 in binary
	if tenths := math.Ceil(u*10-slack) / 10; tenths < 10 {
		return tenths
	}
	return math.Ceil(u - slack)
}

// Decimals are those of a number that Stated gave.
func Decimals(stated float64) int {
	if stated < 10 {
		return 1
	}
	return 0
}
