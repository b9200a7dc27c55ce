package cv

import (
	"bufio"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// stressed are the phones of the stress table.
func stressed() (all []phone) {
	all = append(all, phone{quality: 85})
	for _, a := range []float64{0.5, 1, 1.5, 2} {
		for _, r := range []float64{0.7, 1, 1.5, 2.5} {
			all = append(all, phone{amount: a, radius: r, quality: 85})
		}
	}
	for _, q := range []int{60, 75, 95} {
		all = append(all, phone{quality: q}, phone{amount: 1, radius: 1, quality: q})
	}
	all = append(all, phone{denoise: 10, quality: 85}, phone{denoise: 10, amount: 1, radius: 1.5, quality: 80},
		phone{denoise: 10, lift: 0.4, amount: 1.2, radius: 1, quality: 90}, phone{lift: 0.4, quality: 85})
	for _, long := range []int{1600, 1280, 1024} {
		all = append(all, phone{long: long, quality: 75}, phone{long: long, quality: 75, back: true},
			phone{amount: 1, radius: 1.5, long: long, quality: 75},
			phone{amount: 1, radius: 1.5, long: long, quality: 75, back: true},
			phone{long: long, after: 1, quality: 70})
	}
	return all
}

// stressPhoto is a photo with its marks' true corners.
type stressPhoto struct {
	Name  string                   `json:"name"`
	Marks map[string][4][2]float64 `json:"marks"`
}

// TestStress prints how many marks are usable, beside OpenCV's own module for
// marked squares as an independent reader, and the corners' errors over their
// u. SITSPAN_STRESS names a folder of photos, SITSPAN_CORNERS a file of their
// true corners (a line a photo: name, marks: number to four corners in px) and
// SITSPAN_HALF 1, 2 or 0 for all.
func TestStress(t *testing.T) {
	dir, corners := os.Getenv("SITSPAN_STRESS"), os.Getenv("SITSPAN_CORNERS")
	if dir == "" || corners == "" {
		t.Skip("SITSPAN_STRESS and SITSPAN_CORNERS are not set")
	}
	set := stressPhotos(t, corners)
	for _, f := range stressed() {
		if only := os.Getenv("SITSPAN_ONLY"); only != "" && !strings.Contains(only, f.String()) {
			continue
		}
		tmp := t.TempDir()
		var tally stressTally
		var ours []map[int]bool
		for i, p := range set {
			full := openGrey(t, filepath.Join(dir, p.Name))
			img := f.spoil(t, full)
			writePNG(t, filepath.Join(tmp, fmt.Sprintf("%03d.png", i)), img)
			ours = append(ours, tally.add(t, p, img, f.scale(full.Rect)))
		}
		theirs := otherReader(t, tmp, len(set))
		for i := range set {
			for id := range theirs[i] {
				tally.theirs++
				if !ours[i][id] {
					tally.missed++
					if os.Getenv("SITSPAN_LOUD") != "" {
						fmt.Printf("  missed %s mark %d\n", set[i].Name, id)
					}
				}
			}
			if len(ours[i]) < len(theirs[i]) {
				tally.short++
			}
		}
		tally.print(f.String())
		os.RemoveAll(tmp)
	}
}

func stressPhotos(t *testing.T, corners string) (set []stressPhoto) {
	t.Helper()
	f, err := os.Open(corners)
	require.NoError(t, err)
	defer f.Close()
	half, _ := strconv.Atoi(os.Getenv("SITSPAN_HALF"))
	for lines := bufio.NewScanner(f); lines.Scan(); {
		var p stressPhoto
		require.NoError(t, json.Unmarshal(lines.Bytes(), &p))
		if half == 0 || half == halfOf(p.Name) {
			set = append(set, p)
		}
	}
	return set
}

// halfOf tells which half of the photos a name belongs to: the first 15 of a
// folder of 30 and the first 5 of one of 9 are for developing.
func halfOf(name string) int {
	number, _ := strconv.Atoi(strings.TrimSuffix(filepath.Base(name), ".jpg"))
	if number < 5 || number < 15 && filepath.Dir(name) == "dev" {
		return 1
	}
	return 2
}

// stressTally collects over the photos of one phone.
type stressTally struct {
	photos, ours, theirs, missed, short int
	px, z                               []float64
	elapsed                             time.Duration
}

func (s *stressTally) add(t *testing.T, p stressPhoto, img *image.Gray, scale float64) map[int]bool {
	t.Helper()
	start := time.Now()
	marks, _, err := FindMarks(img)
	s.elapsed += time.Since(start)
	require.NoError(t, err)
	s.photos, s.ours = s.photos+1, s.ours+len(marks)
	seen := map[int]bool{}
	for _, m := range marks {
		seen[m.ID] = true
		for i, c := range p.Marks[strconv.Itoa(m.ID)] {
			x, y := (c[0]+0.5)*scale-0.5, (c[1]+0.5)*scale-0.5
			for _, d := range []float64{m.Corners[i].X - x, m.Corners[i].Y - y} {
				s.px, s.z = append(s.px, d), append(s.z, d/math.Max(0.005, m.U[i]))
			}
		}
	}
	return seen
}

func (s *stressTally) print(name string) {
	inside := 0
	z := make([]float64, len(s.z))
	for i, v := range s.z {
		z[i] = math.Abs(v)
		if z[i] < 2 {
			inside++
		}
	}
	fmt.Printf("%-30s other %4d ours %4d missed %3d in %2d/%d photos  rms %.3f px  "+
		"error over u: rms %.2f median %.2f within 2: %.3f  %.0f ms\n",
		name, s.theirs, s.ours, s.missed, s.short, s.photos, rms(s.px),
		rms(s.z), median(z)/0.6745, float64(inside)/float64(len(z)),
		float64(s.elapsed.Milliseconds())/float64(s.photos))
}

func writePNG(t *testing.T, path string, img *image.Gray) {
	t.Helper()
	f, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, (&png.Encoder{CompressionLevel: png.NoCompression}).Encode(f, img))
	require.NoError(t, f.Close())
}

// otherScript reads the pictures of a folder with OpenCV's own module for
// marked squares and prints a line of numbers for each.
const otherScript = `
import cv2, glob, sys
d = cv2.aruco.Dictionary_get(cv2.aruco.DICT_5X5_50)
for f in sorted(glob.glob(sys.argv[1] + "/*.png")):
    ids = cv2.aruco.detectMarkers(cv2.imread(f, 0), d)[1]
    print(*sorted(set(int(i) for i in ids.ravel() if i < 12)) if ids is not None else ())
`

func otherReader(t *testing.T, dir string, n int) []map[int]bool {
	t.Helper()
	out, err := exec.Command("/usr/bin/python3", "-c", otherScript, dir).Output()
	if err != nil {
		t.Log("OpenCV's Python module is not there: no comparison")
		return make([]map[int]bool, n)
	}
	var all []map[int]bool
	for _, line := range strings.Split(strings.TrimSuffix(string(out), "\n"), "\n") {
		seen := map[int]bool{}
		for _, s := range strings.Fields(line) {
			id, err := strconv.Atoi(s)
			require.NoError(t, err)
			seen[id] = true
		}
		all = append(all, seen)
	}
	require.Len(t, all, n)
	return all
}
