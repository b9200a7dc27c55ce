package report

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
)

// A row keeps its reason as a code with values through the file that rows are sorted in, so that each
// language says it with its numbers; one of which only the words are known is said as they are.
func TestARowSaysItsReasonInALanguage(t *testing.T) {
	said := codes.Implausible.With(212.0, 70.0, 190.0)
	file := archive.File{Path: "a.jpg", Status: record.Refused, Code: said.Code, Form: said.Form,
		Params: said.Params,
		Reason: "in English", Hint: "so"}
	data, err := json.Marshal(RowOf(file))
	require.NoError(t, err)
	var row Row
	require.NoError(t, json.Unmarshal(data, &row))
	for _, lang := range words.Langs() {
		spoken := row.said(lang)
		assert.Contains(t, spoken.Seen, "212", lang)
		if lang != words.English {
			assert.NotEqual(t, row.said(words.English), spoken)
		}
	}
	assert.Equal(t, "only words", (&Row{Code: "of old", Reason: "only words"}).said(words.German).Seen)
}
