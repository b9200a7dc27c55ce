package imprint

import (
	"slices"

	"sitspan/calibration"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
)

// readableTogether tells whether the net can read the sights as one: foam, in the frame's own axes.
func readableTogether(used []*sight) bool {
	for _, v := range used {
		if v.m.Medium != calibration.Foam || v.m.Plane == nil {
			return false
		}
	}
	return len(used) > 1
}

// readTogether reads photos of one imprint, where that is possible, all as one. The sights returned are
// copies.
func (t *Meter) readTogether(used []*sight) (read []*sight, err error) {
	if !readableTogether(used) {
		return used, nil
	}
	in := make([]relief.Tensor, len(used))
	for i, v := range used {
		in[i] = v.input
	}
	readings, err := t.nets.ReadTogether(in)
	if err != nil {
		return nil, err
	}
	toned := slices.ContainsFunc(used, func(v *sight) bool { return v.toned })
	for i, r := range readings {
		v := *used[i]
		v.reading, v.together, v.toned = r.OnFrame(reading.ViewOf(v.camera())), true, toned
		read = append(read, &v)
	}
	return read, nil
}
