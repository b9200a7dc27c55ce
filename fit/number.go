package fit

import (
	"math"
	"strconv"
	"strings"
)

// parseDecimal reads a number as spreadsheets write it: with a point or a
// comma as the decimal mark, and, where both occur, with the earlier one as
// the thousands' mark ("1.234,50"). It refuses what strconv would take but no
// spreadsheet means: nan, inf, hexadecimal and exponents.
func parseDecimal(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if s == "" || strings.Trim(s, "+-0123456789.,") != "" {
		return 0, false
	}
	mark := strings.LastIndexAny(s, ".,")
	if mark >= 0 {
		whole, part := s[:mark], s[mark+1:]
		whole, ok := dropThousands(whole, s[mark])
		if !ok {
			return 0, false
		}
		s = whole + "." + part
	}
	f, err := strconv.ParseFloat(s, 64)
	return f, err == nil && !math.IsInf(f, 0)
}

// dropThousands removes the thousands' marks before the decimal mark: each must
// be the other sign than the decimal mark, with three digits after it.
func dropThousands(whole string, decimalMark byte) (string, bool) {
	if !strings.ContainsAny(whole, ".,") {
		return whole, true
	}
	thousands := byte(',')
	if decimalMark == ',' {
		thousands = '.'
	}
	groups := strings.Split(whole, string(thousands))
	for _, g := range groups[1:] {
		if len(g) != 3 {
			return "", false
		}
	}
	joined := strings.Join(groups, "")
	return joined, !strings.ContainsAny(joined, ".,")
}

// ambiguousThousands reports a number such as "1.234" or "1,234", which is one
// thousand in one country and one in the next. It matters for prices only: no
// width or mass reaches a thousand.
func ambiguousThousands(s string) bool {
	mark := strings.IndexAny(s, ".,")
	return mark > 0 && mark == strings.LastIndexAny(s, ".,") && len(s)-mark-1 == 3
}

// roundMM drops what binary arithmetic adds to a length: 1e-6 mm is a thousandth
// of a micrometre, far below anything that a saddle's list states.
func roundMM(mm float64) float64 { return math.Round(mm*1e6) / 1e6 }
