package store

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestASaddleStaysWithItsBike: bikes are saved anew in another order, and the next visit begins with what
// this one ended with.
func TestASaddleStaysWithItsBike(t *testing.T) {
	s := open(t, t.TempDir())
	v, err := s.NewVisit(t.Context(), "Rider 17")
	require.NoError(t, err)
	assert.Empty(t, v.Bikes)
	angle := 45.0
	v.MassKg, v.Complaints = 78, []string{"numbness"}
	v.Bikes = []Bike{{Name: "winter", Posture: Posture{TrunkDeg: &angle}, Saddle: Saddle{Ridden: "an old one",
		Rode: "hard"}}, {Name: "summer"}}
	require.NoError(t, s.SaveVisit(t.Context(), v))
	require.NoError(t, s.TakeSaddle(t.Context(), v.ID, 1, "", &Taken{"Siskin", 150}))
	assert.ErrorIs(t, s.TakeSaddle(t.Context(), v.ID, 1, "", &Taken{"Wren", 140}), ErrChanged)
	require.NoError(t, s.TakeSaddle(t.Context(), v.ID, 1, "", &Taken{"Siskin", 150}), "a second click")
	require.NoError(t, s.KeepRideTest(t.Context(), v.ID, 1, "", "an hour without a pain"))
	assert.ErrorIs(t, s.KeepRideTest(t.Context(), v.ID, 1, "", "it pinched"), ErrChanged)
	assert.ErrorIs(t, s.TakeSaddle(t.Context(), v.ID, 3, "", nil), ErrNotFound)

	v, err = s.Visit(t.Context(), v.ID)
	require.NoError(t, err)
	v.Bikes = []Bike{v.Bikes[1], v.Bikes[0], {Name: "new"}}
	require.NoError(t, s.SaveVisit(t.Context(), v))
	v, err = s.Visit(t.Context(), v.ID)
	require.NoError(t, err)
	assert.Nil(t, v.Bikes[0].Saddle.Taken)
	assert.Equal(t, Saddle{Ridden: "an old one", Rode: "hard", Taken: &Taken{"Siskin", 150},
		Test: "an hour without a pain"}, v.Bikes[1].Saddle)
	assert.Equal(t, Saddle{}, v.Bikes[2].Saddle)

	next, err := s.NewVisit(t.Context(), "Rider 17")
	require.NoError(t, err)
	assert.Equal(t, 1, next.Version)
	assert.Equal(t, 78.0, next.MassKg)
	assert.Equal(t, []string{"numbness"}, next.Complaints)
	require.Len(t, next.Bikes, 3)
	assert.Equal(t, 45.0, *next.Bikes[1].Posture.TrunkDeg)
	assert.Equal(t, Saddle{Ridden: "Siskin, 150 mm", Rode: "an hour without a pain"}, next.Bikes[1].Saddle)
	other, err := s.NewVisit(t.Context(), "Rider 18")
	require.NoError(t, err)
	assert.Empty(t, other.Bikes, "nobody begins with another's")
}
