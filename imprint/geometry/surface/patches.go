package surface

import "math"

// patchesU is by how many mm all patches may lie deeper or higher than the points beside them, standard
// uncertainty: what a patch shows is partly light on the pad's fabric, which moves with the lamp and the view
// alike in all of them. Over the 50 rendered dotted pads that have 20 patches or more it was -0.21 to +0.09
// mm, 0.05 rms (docs/evidence.md, dotted pads); twice that, since real fabrics are not rendered ones (an
// assumption).
const patchesU = 0.1

// sharedByPatches is the covariance of the errors of two patches, mm^2: what all patches share, and their own
// noise.
func (s *Surface) sharedByPatches(a, b Height, apart float64) float64 {
	return patchesU*patchesU + s.noiseOfPatches(a, b, apart)
}

// noiseOfPatches is what two heights have of one patch's noise, mm^2: two of a size share as much as they
// overlap. Those of two sizes do not overlap, and a point has none.
func (s *Surface) noiseOfPatches(a, b Height, apart float64) float64 {
	if a.Patch == 0 || a.Patch != b.Patch {
		return 0
	}
	return s.PatchFactor * s.PatchFactor * a.U * b.U * overlap(apart, a.Patch)
}

// overlap is the share of a disc that another of its size covers whose middle lies d away (the lens of two
// circles over the circle).
func overlap(d, radius float64) float64 {
	t := d / (2 * radius)
	if t >= 1 {
		return 0
	}
	return 2 / math.Pi * (math.Acos(t) - t*math.Sqrt(1-t*t))
}

func (s *Surface) patched() bool {
	for _, h := range s.heights {
		if h.Patch > 0 {
			return true
		}
	}
	return false
}
