package report

import (
	"encoding/json"
	"io"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// FuzzRecord: whatever a record holds that loads, page, explanation and plot are
// made or refused with an error; nothing panics, and nothing runs on.
func FuzzRecord(f *testing.F) {
	for _, name := range []string{"../record/testdata/schema1-foam.json", "../record/testdata/schema1-scan.json",
		"testdata/advised-1.json"} {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		var compact any
		require.NoError(f, json.Unmarshal(data, &compact))
		data, err = json.Marshal(compact)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Add([]byte(`{"schema":1,"measurement":{"status":"review","spacing_mm":120,"expanded_uncertainty_mm":3,` +
		`"coverage":0.95,"left_mm":[1e300,0],"right_mm":[1e300,0]},` +
		`"recommendations":[{"bike":{"posture":{"trunk_deg":45}},"choice":{"verdict":"clear","width_mm":1e300},` +
		`"models":[{"model":"x"}]}]}`))
	f.Add([]byte(`{"schema":1,"measurement":{"status":"measured","spacing_mm":120,` +
		`"expanded_uncertainty_mm":3,"coverage":0.95,"left":{"cov_mm2":[1e300,0,1e300]},"right":{},` +
		`"scale_source":"frame","width":{"required_mm":140,"verdict":"between_sizes","width_mm":150}}}`))
	f.Add([]byte(`{"schema":1,"measurement":{"status":"review","spacing_mm":4,"expanded_uncertainty_mm":3,` +
		`"coverage":0.95,"left_mm":[-2,0],"right_mm":[2,0],"relief":{"step_mm":5,"columns":2,"rows":2,` +
		`"z_hundredths":[0,100,0,900],"u_hundredths":[-1,0,9,9]}}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		rec, err := record.Parse(data)
		if err != nil {
			return
		}
		_ = WriteSheet(io.Discard, rec, SheetOptions{Lang: words.German})
		_ = Explain(io.Discard, rec, words.English)
		_ = Plot(io.Discard, rec, words.German, SVG)
	})
}
