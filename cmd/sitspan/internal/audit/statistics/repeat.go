package statistics

import "sitspan/calibration/precision"

// Repeat is the repeatability of several readings of one rider (ISO 5725).
type Repeat struct {
	Riders   int      `json:"riders"`
	Readings int      `json:"readings"`
	SD       float64  `json:"sd_mm"`
	Interval Interval `json:"sd_interval_mm"`
	Limit    float64  `json:"limit_mm"` // two single ones differ by more in 5 % of cases
}

// repeatOf pools the riders with several imprints. Imprints of one fitter and
// rider are a group, since another fitter is another condition.
func repeatOf(pairs []*Pair, value func(*Pair) float64) *Repeat {
	parts := PartsOf(pairs, func(p *Pair) string {
		if p.Rider == "" {
			return ""
		}
		return p.Rider + "\x00" + p.Fitter
	})
	var groups [][]float64
	for _, n := range SortedNames(parts) {
		if len(parts[n]) < 2 {
			continue
		}
		var g []float64
		for _, p := range parts[n] {
			g = append(g, value(p))
		}
		groups = append(groups, g)
	}
	p, err := precision.PooledRepeatability(groups)
	if err != nil {
		return nil
	}
	return &Repeat{
		Riders:   p.Groups,
		Readings: p.Readings,
		SD:       Rounded(p.SD),
		Interval: interval(p.Interval),
		Limit:    Rounded(p.Limit()),
	}
}
