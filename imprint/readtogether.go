package imprint

import (
	"sitspan/calibration"
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

// readTogether reads photos of one imprint, where that is possible, with the net that sees relief.Photos of them at once: what
// the lamp hides in one, or paint feigns, another tells apart. Each photo gets a reading of its own, of where the bottoms are
// seen in it. Two photos fill the third's place with the first once more, as in training; of more than three the next three
// follow, filled in the same way. The sights returned are copies.
func (t *Meter) readTogether(used []*sight) (read []*sight, err error) {
	if !readableTogether(used) {
		return used, nil
	}
	net, err := t.together.load()
	if err != nil {
		return nil, err
	}
	for first := 0; first < len(used); first += relief.Photos {
		in := make([]relief.Tensor, relief.Photos)
		for k := range in {
			in[k] = used[(first+k)%len(used)].input
		}
		readings, err := run(net, in...)
		if err != nil {
			return nil, err
		}
		for k, r := range readings[:min(relief.Photos, len(used)-first)] {
			v := *used[first+k]
			v.reading, v.together = r.OnFrame(viewOf(v.camera())), true
			read = append(read, &v)
		}
	}
	return read, nil
}
