package audit

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"sitspan/cmd/sitspan/internal/audit/report"
)

func TestChangeOf(t *testing.T) {
	for _, c := range []struct {
		old, now float64
		also     *float64
		want     string
	}{
		{140, 150, nil, report.Wider}, {150, 150, nil, report.Same}, {160, 150, nil, report.Narrower},
		{140, 150, report.Number(140), report.Open}, {150, 150, report.Number(140), report.Same},
		{130, 150, report.Number(140), report.Wider}, {155, 150, report.Number(140), report.Narrower},
	} {
		assert.Equal(t, c.want, changeOf(c.old, c.now, c.also), "%+v", c)
	}
}
