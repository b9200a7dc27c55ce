package statistics

// Comparison is what the differences say of the old way: reading - measurement, in
// mm. Intervals are 95 %.
type Comparison struct {
	// Shared is the standard uncertainty in mm that all new measurements have in
	// common, which no number of files averages away.
	Shared       float64      `json:"shared_u_mm"`
	All          *Agreement   `json:"all,omitempty"`
	ByFitter     []Group      `json:"by_fitter"`
	ByYear       []Group      `json:"by_year"`
	Drifts       []Drift      `json:"drift_by_fitter"`
	Proportional *Slope       `json:"proportional_bias,omitempty"`
	OldRepeat    *Repeat      `json:"repeatability_of_readings,omitempty"`
	NewRepeat    *Repeat      `json:"repeatability_of_measurements,omitempty"`
	Outliers     []NamedValue `json:"outliers"`
}

// NamedValue is a file and its value in mm.
type NamedValue struct {
	File  string  `json:"file"`
	Value float64 `json:"mm"`
}

// Compare makes the comparison of pairs. shared are what the new measurements have
// in common: the sums over the pairs of each source's contribution, in mm. outliers
// are the places of the pairs that are named.
func Compare(pairs []*Pair, shared map[string]float64) (c Comparison, outliers map[int]bool) {
	c.Shared = Rounded(sharedU(shared, len(pairs)))
	c.All = agreementOf(pairs, c.Shared)
	c.ByFitter = groups(pairs, c.Shared, fitterOf)
	c.ByYear = groups(pairs, c.Shared, yearOf)
	c.Drifts = drifts(pairs)
	c.Proportional = proportional(pairs)
	c.OldRepeat = repeatOf(pairs, func(p *Pair) float64 { return p.Old })
	c.NewRepeat = repeatOf(pairs, func(p *Pair) float64 { return p.Now })
	c.Outliers, outliers = nameOutliers(pairs)
	return c, outliers
}
