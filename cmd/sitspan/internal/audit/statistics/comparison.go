package statistics

// Comparison is what the differences say of the old way: reading - measurement, in
// mm. Intervals are 95 %.
type Comparison struct {
	// Shared is the standard uncertainty in mm that all new measurements have in
	// common, which no number of files averages away.
	Shared float64 `json:"shared_u_mm"`
	Agreements
	OldRepeat *Repeat   `json:"repeatability_of_readings,omitempty"`
	NewRepeat *Repeat   `json:"repeatability_of_measurements,omitempty"`
	Outliers  []Outlier `json:"outliers"`
	// Without is the same without the outliers; nil where there are none.
	Without *Agreements `json:"without_outliers,omitempty"`
}

// Agreements are bias, limits of agreement and drift of some pairs.
type Agreements struct {
	All          *Agreement `json:"all,omitempty"`
	ByFitter     []Group    `json:"by_fitter"`
	ByYear       []Group    `json:"by_year"`
	Drifts       []Drift    `json:"drift_by_fitter"`
	Proportional *Slope     `json:"proportional_bias,omitempty"`
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
	c.Agreements = agreements(pairs, c.Shared)
	c.OldRepeat = repeatOf(pairs, func(p *Pair) float64 { return p.Old })
	c.NewRepeat = repeatOf(pairs, func(p *Pair) float64 { return p.Now })
	c.Outliers, outliers = nameOutliers(pairs)
	if len(outliers) > 0 {
		without := agreements(WithoutPlaces(pairs, outliers), c.Shared)
		c.Without = &without
	}
	return c, outliers
}

func agreements(pairs []*Pair, shared float64) Agreements {
	return Agreements{
		All:          agreementOf(pairs, shared),
		ByFitter:     groups(pairs, shared, fitterOf),
		ByYear:       groups(pairs, shared, yearOf),
		Drifts:       drifts(pairs),
		Proportional: proportional(pairs),
	}
}

// Best are the agreements without outliers, or all where there are none: what is
// said in words.
func (c *Comparison) Best() *Agreements {
	if c.Without != nil {
		return c.Without
	}
	return &c.Agreements
}

// WithoutPlaces are the pairs whose rows are not among places.
func WithoutPlaces(pairs []*Pair, places map[int]bool) []*Pair {
	var left []*Pair
	for _, p := range pairs {
		if !places[p.N] {
			left = append(left, p)
		}
	}
	return left
}
