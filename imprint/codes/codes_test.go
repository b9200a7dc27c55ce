package codes

import (
	"encoding/json"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTheTableIsInOrder(t *testing.T) {
	require.Greater(t, len(Table()), 100)
	name := regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	for _, e := range Table() {
		assert.Regexp(t, name, e.Code)
		assert.Regexp(t, `^([a-z][a-z0-9_]*)?$`, e.Form, e.Key())
		seen := map[string]bool{}
		for _, p := range e.Params {
			assert.Regexp(t, name, p.Name, e.Key())
			assert.False(t, seen[p.Name], "%s has %s twice", e.Key(), p.Name)
			seen[p.Name] = true
			assert.Equal(t, p.Holds == Sentence, p.Of != "", "%s: %s", e.Key(), p.Name)
		}
		assert.Same(t, e, Find(e.With()))
	}
	assert.Nil(t, Find(Said{Kind: Reason, Code: "of_tomorrow"}))
	assert.Panics(t, func() { reason("no_frame", "") }, "the same one twice")
}

// A reason that a reviewer has looked at becomes a warning with its own code and form: nothing else may
// have those.
func TestReasonsStayThemselvesAsWarnings(t *testing.T) {
	for _, e := range Table() {
		if e.Kind == Warning {
			assert.Nil(t, Find(Said{Kind: Reason, Code: e.Code, Form: e.Form}), e.Key())
		}
	}
}

func TestSaidComesBackFromJSON(t *testing.T) {
	for _, s := range []Said{
		NoDent.With(), NoFrameSeveral.With(3), BlurToBlame.With(3.25, 0.3,
			FewMarksSide.With(5, 7, LeftSide.With())),
		PadProfile.With("gel"), ReadTogether.With(2, ReadingsOwn.With(0.65)),
	} {
		data, err := json.Marshal(s)
		require.NoError(t, err)
		var back Said
		require.NoError(t, json.Unmarshal(data, &back), "%s", data)
		again, err := json.Marshal(back)
		require.NoError(t, err)
		assert.JSONEq(t, string(data), string(again))
		assert.Equal(t, s.Code, back.Code)
	}
	var s Said
	for _, bad := range []string{`{"params": [1]}`, `{"params": {"a": [1]}}`, `{"params": {"a": null}}`,
		`{"params": {"a": {"code": 1}}}`} {
		assert.Error(t, json.Unmarshal([]byte(bad), &s), bad)
	}
}

// What is shared by more is shared by less, and what one reading has alone belongs to a side.
func TestInfluencesAreSharedInOrder(t *testing.T) {
	for _, code := range Codes(Influence) {
		l := LineOf(code)
		require.NotNil(t, l, code)
		assert.NotEmpty(t, l.Unit, code)
		assert.Equal(t, l.Shared == ByNothing, l.Side != Both, code)
		for by := ByNothing; by < ByArchive; by++ {
			if SharedBy(code, by+1) {
				assert.True(t, SharedBy(code, by), code)
			}
		}
	}
	assert.False(t, SharedBy("of_tomorrow", ByNothing), "what is not known is not shared")
	assert.True(t, OfReading("left_centre", Left))
	assert.False(t, OfReading("left_centre", Right))
	assert.False(t, OfReading("lens", Both), "a lens is no reading's")
}

// The influences that neither a rider's second sitting nor a second picture averages out: one print, one
// scanner, one kind of pad, one phone.
func TestWhatSittingsAndArchivesShare(t *testing.T) {
	var sittings, archive []string
	for _, code := range Codes(Influence) {
		if SharedBy(code, BySittings) {
			sittings = append(sittings, code)
		}
		if SharedBy(code, ByArchive) {
			archive = append(archive, code)
		}
	}
	assert.Equal(t, []string{
		"camera_place", "card_edges", "card_size", "card_thickness", "checked_on_pad", "corrected_by_checks",
		"dent_depth",
		"focal_length", "frame_flatness", "lens",
		"print_scale", "reference_thickness", "rule_graduation", "scan_resolution",
	}, sittings)
	assert.Equal(t, []string{
		"card_thickness", "checked_on_pad", "corrected_by_checks", "dent_depth", "print_scale", "scan_resolution",
	}, archive)
}
