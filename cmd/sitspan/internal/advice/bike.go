package advice

import (
	"strconv"
	"strings"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// ParseBike reads one bike in a line: an optional name, a use, and the trunk's
// angle in degrees, or an allowance in mm with a plus sign and its unit. uDeg is
// the standard uncertainty of an angle.
func ParseBike(text string, uDeg float64) (fit.Bike, error) {
	name, rest, named := strings.Cut(text, "=")
	if !named {
		name, rest = "", text
	}
	i := strings.LastIndex(rest, ":")
	if i < 0 {
		return fit.Bike{}, words.Fault("error.bike.posture", words.Values{"bike": text,
			"form": words.Key("usage.bike.form")})
	}
	use, err := fit.ParseUse(rest[:i])
	if err != nil {
		return fit.Bike{}, words.Fault("error.bike", words.Values{"bike": text, "why": err})
	}
	posture, err := parsePosture(strings.TrimSpace(rest[i+1:]), uDeg)
	if err != nil {
		return fit.Bike{}, words.Fault("error.bike", words.Values{"bike": text, "why": err})
	}
	return fit.Bike{Name: strings.TrimSpace(name), Use: use, Posture: posture}, nil
}

func parsePosture(text string, uDeg float64) (fit.Posture, error) {
	digits, byHand := strings.CutPrefix(text, "+")
	if byHand {
		var unit bool
		if digits, unit = strings.CutSuffix(digits, "mm"); !unit {
			return fit.Posture{}, words.Fault("error.bike.unit", words.Values{"text": text})
		}
	} else {
		digits = strings.TrimSuffix(strings.TrimSuffix(digits, "deg"), "°")
	}
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(digits), ",", ".", 1), 64)
	if err != nil {
		return fit.Posture{}, words.Fault("error.bike.number", words.Values{"text": text,
			"form": words.Key("usage.bike.form")})
	}
	if byHand {
		return fit.AllowanceByHand(v, 0), nil
	}
	return fit.TrunkAngle(v, uDeg), nil
}
