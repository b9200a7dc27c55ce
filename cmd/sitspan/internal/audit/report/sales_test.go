package report

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/record"
)

// sold is a row of a saddle that is too narrow by so much, or wide enough.
func sold(rider string, day int, status string, short float64) Row {
	file := fmt.Sprintf("%s-%02d.jpg", rider, day)
	r := Row{
		File: file, Status: status, Rider: rider, Spacing: Number(120), U: Number(1.5), Reading: Number(121),
		En:         Number(0.2),
		Difference: Number(1), Sold: Number(140), Required: Number(140 + short), Holds: Number(0.99),
		Read: &statistics.Reading{File: file, Rider: rider},
	}
	if day > 0 {
		r.Read.Date.Middle = time.Date(2020, 1, day, 12, 0, 0, 0, time.UTC)
	}
	if short > 0 {
		r.Shortfall, r.Holds = Number(short), Number(0.1)
	}
	return r
}

// One row a rider, judged by the latest sale: an older saddle that was too narrow is
// of no interest to who has a wider one by now.
func TestCallBackIsByTheLatestSale(t *testing.T) {
	unsure := sold("unsure", 4, record.Measured, 0)
	unsure.Holds = Number(0.9)
	rows := []Row{
		sold("mended", 1, record.Measured, 8), sold("mended", 2, record.Measured, 0),
		sold("worse", 3, record.Measured, 5), sold("worse", 1, record.Measured, 9),
		sold("review", 1, record.Measured, 7), sold("review", 2, record.Review, 7),
		sold(
			"same day", 5, record.Measured, 2,
		), sold("same day", 5, record.Measured, 6), sold("same day", 5, record.Review, 9),
		sold("undated", 0, record.Measured, 9), sold("undated", 1, record.Measured, 0),
		sold("", 1, record.Measured, 3), sold("", 2, record.Measured, 4),
		sold("copy", 1, archive.Duplicate, 9), unsure,
	}
	c := NewCounter()
	for i := range rows {
		c.Add(i, &rows[i], nil)
	}
	s := c.Statistics(archive.Identity{}, statistics.Readings{})
	var got []string
	for _, b := range s.CallBacks {
		got = append(got, fmt.Sprint(b.File, " ", b.Value))
	}
	assert.Equal(t, []string{"same day-05.jpg 6", "worse-03.jpg 5", "-02.jpg 4", "-01.jpg 3"}, got)
	assert.Equal(t, 1, s.Unsure)
	for i, want := range []bool{false, false, true, false, false, false, false, true, false, false, false, true,
		true, false, false} {
		_, there := c.callBack[i]
		assert.Equal(t, want, there, rows[i].File)
	}
}
