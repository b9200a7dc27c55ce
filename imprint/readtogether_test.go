package imprint

import (
	"bufio"
	"compress/gzip"
	"context"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
)

// combined puts sights together as they were read, each by itself: what a test has changed in a reading stays.
func combined(t *testing.T, all []*sight, s Settings) *Measurement {
	t.Helper()
	m, err := combine(all, s, func(used []*sight) ([]*sight, error) { return used, nil })
	require.NoError(t, err)
	return m
}

// trained is one of three photos of a drawn imprint, and what the training program read of it with the same weights (PyTorch
// 2.11, on a GPU), by itself and together with the other two.
type trained struct {
	Image, Over     string
	View            [3]float64
	Alone, Together struct {
		Centre [2][2]float64
		LVS    float64 // ln variance of the spacing
		Depth  [2]float64
	}
}

func trainedPhotos(t *testing.T) (photos []trained, in []relief.Tensor) {
	t.Helper()
	f, err := os.Open("relief/testdata/golden.json.gz")
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	var all struct{ Foam []trained }
	require.NoError(t, json.NewDecoder(z).Decode(&all))
	for _, p := range all.Foam {
		w := relief.Window{View: relief.View{X: p.View[0], Y: p.View[1], Height: p.View[2]}}
		for _, v := range decoded(t, p.Image) {
			w.Light = append(w.Light, float64(v))
		}
		x, err := relief.Input(w, relief.FoamChannels)
		require.NoError(t, err)
		copy(x.Values[6*relief.Cells:], decoded(t, p.Over)) // the drawn frame's light has more than a quadratic
		in = append(in, x)
	}
	require.Len(t, in, relief.Photos)
	return all.Foam, in
}

func decoded(t *testing.T, text string) (v []float32) {
	t.Helper()
	raw, err := base64.StdEncoding.DecodeString(text)
	require.NoError(t, err)
	for i := 0; i < len(raw); i += 4 {
		v = append(v, math.Float32frombits(binary.LittleEndian.Uint32(raw[i:])))
	}
	return v
}

// Both nets read what the training program read: to a fiftieth of the readings' own standard uncertainty, though their weights
// are halves here and the training program's sums were rounded to TF32's eleven bits.
func TestTheNetsReadAsInTraining(t *testing.T) {
	photos, in := trainedPhotos(t)
	same := func(got relief.Reading, centre [2][2]float64, lvs float64, depth [2]float64) {
		t.Helper()
		u := math.Exp(lvs / 2)
		for k, s := range []relief.Side{got.Left, got.Right} {
			require.InDelta(t, centre[k][0], s.At.X, u/50)
			require.InDelta(t, centre[k][1], s.At.Y, u/50)
			require.InDelta(t, depth[k], s.Depth, math.Sqrt(s.VarDepth)/50)
		}
		require.InEpsilon(t, u, math.Sqrt(got.VarSpacing), 0.02)
	}
	one, err := loadNet(relief.FoamNet, 1, relief.FoamChannels)
	require.NoError(t, err)
	defer one.Close()
	three, err := loadNet(relief.FoamTogetherNet, relief.Photos, relief.FoamChannels)
	require.NoError(t, err)
	defer three.Close()
	for i, p := range photos {
		r, err := runOnce(one, in[i:i+1])
		require.NoError(t, err)
		same(r[0], p.Alone.Centre, p.Alone.LVS, p.Alone.Depth)
	}
	r, err := runOnce(three, in)
	require.NoError(t, err)
	for i, p := range photos {
		same(r[i], p.Together.Centre, p.Together.LVS, p.Together.Depth)
	}
}

// The net for several photos gives each of three equal ones what it gives a single one: only the order of the sums differs.
func TestEqualPhotosAreReadAsOne(t *testing.T) {
	m := meter(t)
	var alone []*sight
	for range relief.Photos {
		v, err := m.look(context.Background(), read(t, "foam-window.jpg"), Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		alone = append(alone, v)
	}
	together, err := m.readTogether(alone)
	require.NoError(t, err)
	for i, v := range together {
		require.True(t, v.together)
		require.False(t, alone[i].together, "a copy")
		require.InDelta(t, alone[i].reading.Left.At.X, v.reading.Left.At.X, 1e-3)
		require.InDelta(t, alone[i].reading.Distance(), v.reading.Distance(), 1e-3)
		require.InEpsilon(t, alone[i].reading.VarSpacing, v.reading.VarSpacing, 1e-3)
	}
}

// However many photos there are, each gets a reading of its own, in their order: with those that come after it, or the first
// ones again, and never from a group in which it is only filling.
func TestEachPhotoIsReadOnce(t *testing.T) {
	m := meter(t)
	net, err := m.together.load()
	require.NoError(t, err)
	var sights []*sight
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg", "foam-window.jpg", "foam-two-lamps.jpg", "foam-two-lamps.jpg"} {
		v, err := m.look(context.Background(), read(t, name), Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		sights = append(sights, v)
	}
	for n, groups := range map[int][][3]int{2: {{0, 1, 0}}, 3: {{0, 1, 2}}, 4: {{0, 1, 2}, {3, 0, 1}}, 5: {{0, 1, 2}, {3, 4, 0}}} {
		together, err := m.readTogether(sights[:n])
		require.NoError(t, err)
		require.Len(t, together, n)
		for g, group := range groups {
			want, err := run(net, sights[group[0]].input, sights[group[1]].input, sights[group[2]].input)
			require.NoError(t, err)
			for k := range min(3, n-3*g) {
				v := together[3*g+k]
				require.Same(t, sights[3*g+k].m, v.m)
				require.Equal(t, want[k].OnFrame(viewOf(v.camera())), v.reading, "%d photos, the one at %d", n, 3*g+k)
			}
		}
	}
}

// Paper has no shading to be read together, and without the frame no two photos have axes in common.
func TestWhatCannotBeReadTogetherIsLeftAsItIs(t *testing.T) {
	m := meter(t)
	for _, c := range []struct {
		photo  string
		medium calibration.Medium
		spoil  func(*sight)
	}{
		{"paper-1.jpg", calibration.Paper, func(*sight) {}},
		{"foam-window.jpg", calibration.Foam, func(v *sight) { v.m.Plane = nil }},
	} {
		var used []*sight
		for range 2 {
			v, err := m.look(context.Background(), read(t, c.photo), Settings{Medium: c.medium})
			require.NoError(t, err)
			c.spoil(v)
			used = append(used, v)
		}
		got, err := m.readTogether(used)
		require.NoError(t, err)
		require.Equal(t, used, got)
	}
}

// What the photos share is said in the budget: all of the variance where they were read together.
func TestReadTogetherTheyShareTheirError(t *testing.T) {
	m := meter(t)
	p := read(t, "foam-window.jpg")
	got, err := m.MeasureTogether(context.Background(), []*photo.Photo{p, p}, Settings{Medium: calibration.Foam})
	require.NoError(t, err)
	for _, c := range got.Spacing.Budget {
		if c.Source == codes.LeftCentre.Code {
			require.Equal(t, codes.ReadTogether.With(2, codes.ReadingsOwn.With(0.65)), c.From)
			return
		}
	}
	t.Fatal("no line for the left centre")
}

// Three bundled photos of one imprint, with known truth, invented and path-traced: together they are surer than the best of
// them, and right by their own word (the claimed uncertainty is the tolerance).
func TestThreePhotosAreSurerThanOne(t *testing.T) {
	m := meter(t)
	s := Settings{Medium: calibration.Foam}
	f, err := os.Open(filepath.Join(photos, "together", "truth.jsonl"))
	require.NoError(t, err)
	defer f.Close()
	var one truth
	var three []*photo.Photo
	best := math.Inf(1)
	for lines := bufio.NewScanner(f); lines.Scan(); {
		require.NoError(t, json.Unmarshal(lines.Bytes(), &one))
		p := read(t, filepath.Join("together", one.Name))
		alone, err := m.Measure(context.Background(), p, s)
		require.NoError(t, err)
		u, _ := alone.Expanded()
		best = math.Min(best, u)
		three = append(three, p)
	}
	require.Len(t, three, 3)
	got, err := m.MeasureTogether(context.Background(), three, s)
	require.NoError(t, err)
	require.Equal(t, Measured, got.Status, "%v", codesOf(got))
	u, _ := got.Expanded()
	require.InDelta(t, one.Spacing, got.Spacing.Value, u)
	// photo by photo a third of the variance was shared, and three would come to sqrt(0.35 + 0.65/3) of one at best
	require.Less(t, u, math.Sqrt(0.35+0.65/3)*best)
	for i, d := range []*Depression{got.Left, got.Right} {
		require.InDelta(t, one.Depth[i], d.Depth, 2*d.DepthU, "two standard uncertainties")
	}
}

// What equal photos say of the line of centres' angle is what one of them says, but for the share of their errors that is not
// common, and for the factor on the readings' own uncertainties.
func TestEqualPhotosDoNotSharpenTheAngle(t *testing.T) {
	m := meter(t)
	s := Settings{Medium: calibration.Foam, DepthMM: []float64{15, 15}, DepthU: 0.01}
	look := func(n int) (all []*sight) {
		for range n {
			v, err := m.look(context.Background(), read(t, "foam-window.jpg"), s)
			require.NoError(t, err)
			v.conclude(s)
			all = append(all, v)
		}
		return all
	}
	one := look(1)[0].m.Yaw.U
	apart := combined(t, look(3), s).Yaw.U
	together, err := combine(look(3), s, m.readTogether)
	require.NoError(t, err)
	for _, c := range []struct{ got, readings float64 }{
		{apart, one * math.Sqrt((1+2*0.35)/3)},
		{together.Yaw.U, one * temperTogether / temper(calibration.Foam)},
	} {
		require.GreaterOrEqual(t, c.got, c.readings, "what the readings leave; the camera's place comes on top of several photos")
		require.Less(t, c.got, one)
	}
}

// Photos that contradict each other are of two imprints, and are not read as if they were of one.
func TestWhatDisagreesIsNotReadTogether(t *testing.T) {
	m := meter(t)
	s := Settings{Medium: calibration.Foam}
	two := []*photo.Photo{read(t, "foam-window.jpg"), read(t, filepath.Join("together", "above.jpg"))}
	got, err := m.MeasureTogether(context.Background(), two, s)
	require.NoError(t, err)
	require.Equal(t, []string{"photos_disagree"}, codesOf(got))
	for _, c := range got.Spacing.Budget {
		require.NotEqual(t, codes.ReadTogether.Key(), c.From.Key())
	}
}
