package desk

import (
	"math"
	"net/http"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/imprint/contour"
)

// strongestMM is how many mm lie between the stronger contour lines.
const strongestMM = 5

// contourLine is a line of equal depth as the picture shows it.
type contourLine struct {
	MM     int          `json:"mm"` // below the frame's plane
	Strong bool         `json:"strong"`
	Px     [][2]float64 `json:"px"` // of the upright picture
}

// contours are the lines of a record's surface, a mm apart, where several photos gave one.
func (d *Desk) contours(w http.ResponseWriter, r *http.Request) error {
	k, err := d.recordOf(r)
	if err != nil {
		return err
	}
	lines := contoursOf(k.Record)
	if lines == nil {
		return store.ErrNotFound
	}
	return writeJSON(w, http.StatusOK, lines)
}

// hasContours says whether there is a surface, and how the picture shows it.
func hasContours(rec record.Record) bool {
	m, _ := rec.Current()
	return rec.Relief() != nil && m.Geometry != nil && m.Geometry.Camera != nil && m.Geometry.Camera[2] > 0
}

func contoursOf(rec record.Record) (lines []contourLine) {
	if !hasContours(rec) {
		return nil
	}
	m, _ := rec.Current()
	relief := rec.Relief()
	grid := contour.Grid{Step: relief.StepMM, Columns: relief.Columns, Rows: relief.Rows, Z: relief.Depths()}
	least, largest, _ := grid.Range()
	for mm := int(math.Ceil(least)); mm <= int(math.Floor(largest)); mm++ {
		for _, l := range grid.Lines(float64(mm)) {
			line := contourLine{MM: mm, Strong: mm%strongestMM == 0}
			for _, p := range l {
				line.Px = append(line.Px, shown(m.Geometry, p.X, p.Y, float64(mm)))
			}
			lines = append(lines, line)
		}
	}
	return lines
}

// shown is where a picture shows a point of the surface, z mm below the frame's plane, to a tenth of a px:
// the line of sight from the camera to it goes through the plane there.
func shown(g *record.Geometry, x, y, z float64) [2]float64 {
	c := g.Camera
	part := c[2] / (c[2] + z)
	px := imageFromPlane(g, c[0]+part*(x-c[0]), c[1]+part*(y-c[1]))
	return [2]float64{math.Round(10*px[0]) / 10, math.Round(10*px[1]) / 10}
}
