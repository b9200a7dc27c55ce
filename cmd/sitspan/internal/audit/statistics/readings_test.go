package statistics

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestReadReadings(t *testing.T) {
	r, err := ReadReadings(
		strings.NewReader("\ufefffile;spacing_mm;u_mm;rider;trunk_deg;width_sold_mm;date;fitter;shelf\n"+
			"a\\b.jpg;121,5;;R1;45;150;2019-05-04;A;3\n"+
			"\n"+
			"./c.jpg;99.5;1,5;R2;;;2020;B;\n"+
			"d.jpg;100\n"),
		"cards.csv",
	)
	require.NoError(t, err)
	require.Empty(t, r.Faults)
	require.Len(t, r.Rows, 3)
	assert.Equal(t, []string{"shelf"}, r.Unread)
	a, c, d := r.Rows[0], r.Rows[1], r.Rows[2]
	assert.Equal(t, "a/b.jpg", a.File)
	assert.Equal(t, 121.5, a.SpacingMM)
	assert.Equal(t, 2.0, a.UMM, "an assumption that docs/audit.md states")
	assert.True(t, a.UAssumed)
	assert.Equal(t, 45.0, *a.TrunkDeg)
	assert.Equal(t, 150.0, *a.SoldMM)
	assert.Equal(t, "2019-05-04 12:00", a.Date.Middle.Format("2006-01-02 15:04"))
	assert.Equal(t, "c.jpg", c.File)
	assert.Equal(t, 1.5, c.UMM)
	assert.False(t, c.UAssumed)
	assert.Equal(t, "2020-07-02", c.Date.Middle.Format("2006-01-02"), "the middle of a year of 366 days")
	assert.Equal(t, 4, c.Line)
	assert.Nil(t, c.TrunkDeg)
	assert.Equal(t, "d.jpg", d.File)
}

// As spreadsheets write it in a country of decimal commas.
func TestReadingsOfSpreadsheets(t *testing.T) {
	const want = "2019/Müller 1.jpg 121.5 1.5 2019-05-04 130 Jörg"
	for name, text := range map[string]string{
		"CSV UTF-8, decimal commas, CR LF": "\ufefffile;spacing_mm;u_mm;width_sold_mm;date;fitter\r\n" +
			"2019\\Müller 1.jpg;121,5;1,5;130;04.05.2019;Jörg\r\n",
		"trailing semicolons": "file;spacing_mm;u_mm;width_sold_mm;date;fitter;;\r\n2019\\Müller " +
			"1.jpg;121,5;1,5;130,0;4.5.2019;Jörg;;\r\n;;;;;;;\r\n",
		"a line that names the separator": "\ufeffsep=;\r\nfile;spacing_mm;u_mm;width_sold_mm;date;fitter\r\n" +
			"2019/Müller 1.jpg;121,5;1,5;130;2019-05-04;Jörg\r\n",
		"tabs": "file\tspacing_mm\tu_mm\twidth_sold_mm\tdate\tfitter\n2019/Müller " +
			"1.jpg\t121,5\t1,5\t130\t4.5.2019\tJörg\n",
		"carriage returns alone": "file;spacing_mm;u_mm;width_sold_mm;date;fitter\r2019/Müller " +
			"1.jpg;121,5;1,5;130;04.05.2019;Jörg\r",
		"quoted, names not composed": "\"File\",\"Spacing_mm\",u_mm,width_sold_mm,date,fitter\n" +
			"\"2019/Mu\u0308ller 1.jpg\",\"121,5\",\"1,5\",130,4.5.2019,Jörg\n",
	} {
		r, err := ReadReadings(strings.NewReader(text), "cards.csv")
		require.NoError(t, err, name)
		require.Empty(t, r.Faults, name)
		require.Len(t, r.Rows, 1, name)
		one := r.Rows[0]
		assert.Equal(
			t,
			want,
			fmt.Sprintf(
				"%s %g %g %s %g %s", one.File, one.SpacingMM, one.UMM, one.Date.Text, *one.SoldMM, one.Fitter,
			),
			name,
		)
	}
	r, err := ReadReadings(strings.NewReader("sep=;\nfile;spacing_mm\n;120\n"), "cards.csv")
	require.NoError(t, err)
	require.Len(t, r.Faults, 1)
	assert.Equal(t, 3, r.Faults[0].Line, "as an editor counts")
	for name, text := range map[string]string{
		"the system's own character set": "file;spacing_mm;fitter\r\na.jpg;121,5;J\xf6rg\r\n",
		"Unicode text, 16 bits":          "\xff\xfef\x00i\x00l\x00e\x00",
	} {
		_, err := ReadReadings(strings.NewReader(text), "cards.csv")
		assert.ErrorContains(t, err, `save it from the spreadsheet as "CSV UTF-8"`, name)
	}
}

// Every bad row is told with its file, line, column, value and what was expected,
// and the good ones are kept.
func TestFaultsOfReadings(t *testing.T) {
	header := "file,spacing_mm,u_mm,trunk_deg,allowance_mm,width_sold_mm,date\n"
	for row, want := range map[string][]string{
		"a.jpg,wide,,,,,":          {`cards.csv:2:7: spacing_mm: "wide": expected a distance from 40 to 300 mm`},
		"a.jpg,,,,,,":              {`cards.csv:2:7: spacing_mm: expected a distance`},
		"a.jpg,12.1,,,,,":          {`spacing_mm: "12.1"`},
		"a.jpg,NaN,,,,,":           {`"NaN"`},
		"a.jpg,0x78,,,,,":          {`"0x78"`},
		",120,,,,,":                {`file: expected a file's name`},
		"/etc/a.jpg,120,,,,,":      {`not from the disk's root`},
		`C:\a.jpg,120,,,,,`:        {`not from the disk's root`},
		"a.jpg,120,-1,,,,":         {`u_mm: "-1"`},
		"a.jpg,120,1,200,,,":       {`trunk_deg: "200": expected the trunk's angle`},
		"a.jpg,120,1,45,20,,":      {`allowance_mm: "20": expected trunk_deg or allowance_mm, not both`},
		"a.jpg,120,1,,20,15,":      {`width_sold_mm: "15"`},
		"a.jpg,120,1,,,150,4.5.19": {`date: "4.5.19": expected YYYY-MM-DD`},
		"a.jpg,120,1,,,150,4/5/19": {`date: "4/5/19": expected YYYY-MM-DD, D.M.YYYY, YYYY-MM or YYYY`},
		"a.jpg,120,5,1,5,,,,1": {`cards.csv:2:20: "1": expected at most 7 values,` +
			` as the header has (with decimal commas: semicolons`, "not both"},
		"a.jpg,wide,-1,,,15,never": {"spacing_mm", "u_mm", "width_sold_mm", "date"},
		`"a.jpg,120,1,,,150,2019`:  {"expected a row of CSV"},
		"good.jpg,120,1,45,,150,\n" +
			"good.jpg,121,,,,,": {`cards.csv:3:1: file: "good.jpg": expected one row a file; line 2 has it, too`},
	} {
		r, err := ReadReadings(strings.NewReader(header+row+"\n"), "cards.csv")
		require.NoError(t, err, row)
		var got []string
		for _, f := range r.Faults {
			got = append(got, f.Error())
		}
		require.Len(t, got, len(want), "%s: %v", row, got)
		all := strings.Join(got, "\n")
		for _, w := range want {
			assert.Contains(t, all, w, row)
		}
		assert.Len(
			t, r.Rows, strings.Count(row, "good.jpg")-strings.Count(row, "\ngood.jpg"), "the good rows of %s",
			row,
		)
	}
}

func TestReadingsThatCannotBeRead(t *testing.T) {
	for text, want := range map[string]string{
		"":                          "there is no header",
		"photo,mm\na.jpg,120\n":     "has no column file",
		"file,date\na.jpg,2019\n":   "has no column spacing_mm",
		"file,file,spacing_mm\n":    "twice",
		"file,spacing_mm\n\xff,1\n": "no text in UTF-8",
	} {
		_, err := ReadReadings(strings.NewReader(text), "cards.csv")
		assert.ErrorContains(t, err, want)
		assert.ErrorContains(t, err, "cards.csv")
	}
}

func FuzzReadReadings(f *testing.F) {
	f.Add("file,spacing_mm,u_mm,date\na.jpg,120,1,2019-05-04\n")
	f.Add("file;spacing_mm\n\"a\nb\";1,5\n")
	f.Add("file\tspacing_mm\n\"\n")
	f.Add("\ufeffsep=;\rfile;spacing_mm;date\r./a.jpg;121,5;4.5.2019\r")
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ReadReadings(strings.NewReader(text), "cards.csv")
		if err != nil {
			return
		}
		for _, row := range r.Rows {
			if year := row.Date.Middle.Year(); row.Date.Text != "" &&
				(yearOf(&Pair{Reading: &row}) != fmt.Sprintf("%04d", year) || year < 1900) {
				t.Errorf("a date that is none was kept: %+v", row)
			}
			if row.File == "" || !(row.SpacingMM >= 40 && row.SpacingMM <= 300) || !(row.UMM >= 0) ||
				row.Line < 2 {
				t.Errorf("a row that cannot be used was kept: %+v", row)
			}
		}
	})
}

func TestTooManyReadings(t *testing.T) {
	text := "file,spacing_mm\n" + strings.Repeat("\"\",\n", MostReadings)
	_, err := ReadReadings(strings.NewReader(text), "cards.csv")
	require.NoError(t, err, "empty rows are none")
	var b strings.Builder
	b.WriteString("file,spacing_mm\n")
	for i := range MostReadings + 1 {
		fmt.Fprintf(&b, "%d,120\n", i)
	}
	_, err = ReadReadings(strings.NewReader(b.String()), "cards.csv")
	require.ErrorContains(t, err, "more than 300000 rows; needed: fewer; audit the subfolders by themselves")
}
