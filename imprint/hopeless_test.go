package imprint

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
	"sitspan/imprint/spacing"
)

// Where the first photo that is read is beyond hope the others stay unread, until their readings are all that
// there is; none is read twice.
func TestPhotosStayUnreadAfterOneBeyondHope(t *testing.T) {
	var read []int
	all := []*sight{{m: &Measurement{}}} // refused before there was anything to read
	for k := range 3 {
		all = append(all, &sight{m: &Measurement{}, unread: func() error { read = append(read, k); return nil }})
	}
	require.NoError(t, readAll(all, Settings{}, func(v *sight) bool { return v == all[2] }))
	assert.Equal(t, []int{0, 1, 2}, read, "only the first that is read tells")
	read = nil
	for k := range all {
		all[k].concluded = false
		all[k].unread = func() error { read = append(read, k); return nil }
	}
	all[0].unread = nil
	require.NoError(t, readAll(all, Settings{}, (*sight).hopeless))
	assert.Equal(t, []int{1}, read)
	all[1].read = true // of which nothing can be concluded: it has no reading
	assert.NotPanics(t, func() {
		require.NoError(t, readAll(all, Settings{}, func(*sight) bool { return false }))
	}, "it was concluded before")
	assert.Equal(t, []int{1, 2, 3}, read)
}

// A photo that no net was asked about does not count as measured by itself, nor does its status hide one that
// was.
func TestAPhotoLeftUnreadSaysSo(t *testing.T) {
	unread := &sight{m: &Measurement{Verdict: judge.Verdict{Status: Measured}}}
	alone := &sight{m: &Measurement{Verdict: judge.Verdict{Status: Measured}, Spacing: &spacing.Estimate{}}}
	refused := &sight{m: &Measurement{}}
	refused.m.refuse(codes.NoDent.With())
	surfaceSeen{from: []*sight{unread, alone, refused}}.tellAlone()
	assert.Equal(t, Refused, unread.m.Status)
	assert.Equal(t, []codes.Said{codes.NotRead.With()}, unread.m.Reasons)
	assert.Equal(t, Measured, alone.m.Status)
	assert.Equal(t, []codes.Said{codes.NoDent.With()}, refused.m.Reasons)
}

// Of dots the nets make nothing; a plain pad's photo they read.
func TestDotsAreBeyondHope(t *testing.T) {
	m := meter(t)
	for name, want := range map[string]bool{"dotted/above.jpg": true, "together/above.jpg": false} {
		v, err := m.look(context.Background(), read(t, name), Settings{})
		require.NoError(t, err)
		v.conclude(Settings{})
		assert.Equal(t, want, v.hopeless(), name)
	}
	// the bound alone
	v, err := m.look(context.Background(), read(t, "together/above.jpg"), Settings{})
	require.NoError(t, err)
	for _, times := range []float64{1, 20} {
		v.reading.Left.VarX, v.reading.Right.VarX = times*times, times*times
		v.reading.VarSpacing = 2 * times * times
		v.conclude(Settings{})
		assert.Equal(t, times > 1, v.hopeless(), "u of either centre %g mm", times)
	}
}
