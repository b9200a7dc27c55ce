package imprint

import (
	"bufio"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/photo"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
)

// combined puts sights together as they were read, each by itself: what a test has changed in a reading
// stays.
func combined(t *testing.T, all []*sight, s Settings) *Measurement {
	t.Helper()
	m, err := combine(all, s, func(used []*sight) ([]*sight, error) { return used, nil })
	require.NoError(t, err)
	return m
}

// The net for several photos gives each of three equal ones what it gives a single one: only the order of the
// sums differs.
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

// However many photos there are, each gets a reading of its own, in their order: with those that come after
// it, or the first ones again, and never from a group in which it is only filling.
func TestEachPhotoIsReadOnce(t *testing.T) {
	m := meter(t)
	var sights []*sight
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg", "foam-window.jpg",
		"foam-two-lamps.jpg", "foam-two-lamps.jpg"} {
		v, err := m.look(context.Background(), read(t, name), Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		sights = append(sights, v)
	}
	for n, groups := range map[int][][3]int{2: {{0, 1, 0}}, 3: {{0, 1, 2}}, 4: {{0, 1, 2}, {3, 0, 1}},
		5: {{0, 1, 2}, {3, 4, 0}}} {
		together, err := m.readTogether(sights[:n])
		require.NoError(t, err)
		require.Len(t, together, n)
		for g, group := range groups {
			want, err := m.nets.ReadTogether(
				[]relief.Tensor{sights[group[0]].input, sights[group[1]].input, sights[group[2]].input},
			)
			require.NoError(t, err)
			for k := range min(3, n-3*g) {
				v := together[3*g+k]
				require.Same(t, sights[3*g+k].m, v.m)
				require.Equal(
					t,
					want[k].OnFrame(reading.ViewOf(v.camera())),
					v.reading,
					"%d photos, the one at %d",
					n,
					3*g+k,
				)
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
	got, err := m.MeasureTogether(
		context.Background(),
		[]*photo.Photo{read(t, "together/above.jpg"), read(t, "together/side-1.jpg")},
		Settings{Medium: calibration.Foam},
	)
	require.NoError(t, err)
	for _, c := range got.Spacing.Budget {
		if c.Source == codes.LeftCentre.Code {
			require.Equal(t, codes.ReadTogether.With(2, codes.ReadingsOwn.With(1)), c.From)
			return
		}
	}
	t.Fatal("no line for the left centre")
}

// Three bundled photos of one imprint, with known truth, invented and path-traced: together they are surer
// than the best of them, and right by their own word (the claimed uncertainty is the tolerance).
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
	// photo by photo a third of the variance was shared, and three would come to sqrt(0.35 + 0.65/3) of one
	// at best
	require.Less(t, u, math.Sqrt(0.35+0.65/3)*best)
	for i, d := range []*Depression{got.Left, got.Right} {
		require.InDelta(t, one.Depth[i], d.Depth, 2*d.DepthU, "two standard uncertainties")
	}
}

// What equal photos say of the line of centres' angle is what one of them says, but for the share of their
// errors that is not common, and for the factor on the readings' own uncertainties. The cameras' places,
// which one photo alone does not ask for, come on top: their share is what is left where the readings are
// all but free of error. The budget counts what photos have in common for both.
func TestEqualPhotosDoNotSharpenTheAngle(t *testing.T) {
	m := meter(t)
	s := Settings{Medium: calibration.Foam, DepthMM: []float64{15, 15}, DepthU: 0.01}
	look := func(n int, variance float64) (all []*sight) {
		for range n {
			v, err := m.look(context.Background(), read(t, "foam-window.jpg"), s)
			require.NoError(t, err)
			for _, side := range []*relief.Side{&v.reading.Left, &v.reading.Right} {
				side.VarX, side.VarY = variance*side.VarX, variance*side.VarY
			}
			v.conclude(s)
			all = append(all, v)
		}
		return all
	}
	one := look(1, 1)[0].m.Yaw.U
	apart := combined(t, look(3, 1), s).Yaw.U
	cameras := combined(t, look(3, 1e-8), s).Yaw.U
	together, err := combine(look(3, 1), s, m.readTogether)
	require.NoError(t, err)
	shareApart, shareTogether := math.Sqrt((1+2*0.35)/3), 1.0
	of := func(share, factor float64) float64 {
		return math.Hypot(one*share*factor, cameras*share/shareApart)
	}
	require.InEpsilon(t, of(shareApart, 1), apart, 0.01)
	require.InEpsilon(t, of(shareTogether, 1), together.Yaw.U, 0.01)
	require.Less(t, apart, one)
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
