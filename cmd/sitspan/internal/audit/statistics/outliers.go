package statistics

import "sitspan/calibration/precision"

// outlierLevel is the chance of naming an outlier in a sample that has none.
const outlierLevel = 0.05

// MostOutliers is how many are looked for: of more, it is not single readings that
// are odd.
const MostOutliers = 500

// nameOutliers names the pairs whose difference the rest do not explain, and gives
// their places.
func nameOutliers(pairs []*Pair) ([]NamedValue, map[int]bool) {
	named := []NamedValue{}
	found, err := precision.Outliers(differencesOf(pairs), outlierLevel, min(MostOutliers, max(1, len(pairs)/10)))
	if err != nil {
		return named, nil
	}
	places := make(map[int]bool)
	for _, o := range found {
		p := pairs[o.Index]
		named = append(named, NamedValue{p.File, Rounded(o.Value)})
		places[p.N] = true
	}
	return named, places
}
