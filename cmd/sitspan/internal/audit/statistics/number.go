package statistics

import (
	"errors"
	"math"
	"strconv"
	"strings"
)

// parseDecimal reads a finite decimal number, with a point or one comma.
func parseDecimal(s string) (float64, error) {
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	if strings.ContainsAny(s, "xXpP_") {
		return 0, errors.New("not a decimal number")
	}
	v, err := strconv.ParseFloat(s, 64)
	if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		return 0, errors.New("not finite")
	}
	return v, err
}

// Rounded is a value to a thousandth, the last digit that a table needs; -0 is 0.
func Rounded(v float64) float64 { return math.Round(v*1000)/1000 + 0 }
