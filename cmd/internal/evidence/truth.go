package evidence

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
)

// Photo is a line of a set's truth.jsonl: what the scene was made from.
type Photo struct {
	Name     string    `json:"name"`
	Imprint  *int      `json:"imprint"` // photos of one number show one imprint; none: an imprint of its own
	Kind     string    `json:"kind"`    // foam, ink, scan, card, rule
	Shape    string    `json:"shape"`   // body, bell, ball, ridge, flat; none where the set does not say
	Dotted   bool      `json:"dotted"`
	Depth    []float64 `json:"depth_mm"` // left, right, below the pad's flat surface
	Spacing  float64   `json:"spacing_mm"`
	location string
	heights  *grid // of the imprint, beside its first photo; nil where the set has none
}

// Load reads the truth of a folder of photos, in its order. Photos that are not there are an error: a table
// over what happens to lie in a folder is no evidence.
func Load(folder string) ([]Photo, error) {
	data, err := os.ReadFile(filepath.Join(folder, "truth.jsonl"))
	if err != nil {
		return nil, fmt.Errorf("a set needs its truth.jsonl: %w", err)
	}
	var photos []Photo
	for lines := bufio.NewScanner(bytes.NewReader(data)); lines.Scan(); {
		var p Photo
		if err := json.Unmarshal(lines.Bytes(), &p); err != nil {
			return nil, fmt.Errorf("%s, line %d: %w", filepath.Join(folder, "truth.jsonl"), len(photos)+1, err)
		}
		if p.Spacing <= 0 || p.Kind == "" {
			return nil, fmt.Errorf("%s: %q states no spacing_mm or no kind", folder, p.Name)
		}
		p.location = filepath.Join(folder, p.Name)
		if _, err := os.Stat(p.location); err != nil {
			return nil, fmt.Errorf("the truth speaks of a photo that is not there: %w", err)
		}
		if p.heights, err = loadHeights(p.location); err != nil {
			return nil, err
		}
		photos = append(photos, p)
	}
	if len(photos) == 0 {
		return nil, fmt.Errorf("%s: its truth.jsonl is empty", folder)
	}
	return photos, nil
}

// paper says whether the photo shows pressure-marking paper, which has no depth.
func (p Photo) paper() bool { return p.Kind != "foam" }

// pad is the kind as a table's reader knows it.
func (p Photo) pad() string {
	switch {
	case p.Kind == "foam" && p.Dotted:
		return "foam, dotted"
	case p.Kind == "ink":
		return "paper, photographed"
	case p.Kind == "scan":
		return "paper, scanned"
	case p.Kind == "card", p.Kind == "rule":
		return "paper beside a " + p.Kind
	}
	return p.Kind
}

// shape is what was pressed in, as a table's reader knows it.
func (p Photo) shape() string {
	switch p.Shape {
	case "":
		return "not stated"
	case "flat":
		return "bottomed out"
	}
	return p.Shape
}

// imprints gathers the photos of each imprint, in the set's order.
func imprints(photos []Photo) [][]Photo {
	var all [][]Photo
	place := map[string]int{}
	for _, p := range photos {
		key := p.Name
		if p.Imprint != nil {
			key = p.Kind + strconv.Itoa(*p.Imprint)
		}
		at, known := place[key]
		if !known {
			at = len(all)
			place[key], all = at, append(all, nil)
		}
		all[at] = append(all[at], p)
	}
	return all
}
