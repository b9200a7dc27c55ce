package shop

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/fit"
)

const full = `# Velo Invented, all sections
name: Velo Invented

print:
  date: "2026-03-04"
  scale_x: 0.993   # 198.6 of 200
  scale_x_u: 0.0015
  scale_y: 0.995
  scale_y_u: 0.002
  correlation_xy: 0.5
  bar_mm: 198.6
  bar_y_mm: 149.25
  bar_u_mm: 0.3

pads:
  foam:
    depth_mm: 12
    depth_u_common_mm: 2
    depth_u_difference_mm: 1
    basis: 40 readings of our gauge
  thick foam: {medium: foam, depth_mm: 20}

allowance:
  - {angle_deg: 70, mm: 38, u_mm: 2, basis: our rides}
  - {angle_deg: 20, mm: 2, basis: our rides}

rule:
  level: 0.9

damping: {soft_up_to_kg: 50, firm_from_kg: 90, near_kg: 2, basis: our riders}

stock: lists/stock.csv
`

func TestAllSectionsAreRead(t *testing.T) {
	s, err := Parse([]byte(full), filepath.Join("some", "folder", "shop.yaml"))
	require.NoError(t, err)
	assert.Equal(t, "Velo Invented", s.Name)
	assert.Equal(t, &Print{0.993, 0.0015, 0.995, 0.002, 0.5, "2026-03-04", 198.6, 149.25, 0.3}, s.Print)
	assert.Equal(t, 12.0, s.Pads["foam"].DepthMM)
	assert.Equal(t, 2.0, s.Pads["foam"].DepthUCommonMM)
	assert.Equal(t, "40 readings of our gauge", s.Pads["foam"].Basis)
	thick := s.Pads["thick foam"]
	assert.Equal(t, 20.0, thick.DepthMM)
	assert.Equal(t, 4.0, thick.DepthUCommonMM, "what is not given comes from the built-in foam")
	assert.Equal(t, "shop's settings, basis not stated", thick.Basis)
	assert.Equal(t, []fit.AllowanceRow{{AngleDeg: 20, MM: 2, Basis: "our rides"},
		{AngleDeg: 70, MM: 38, UMM: 2, Basis: "our rides"}}, s.Allowances.Rows())
	assert.Equal(t, fit.Rule{Level: 0.9}, s.Rule)
	assert.Equal(t, fit.DampingTable{SoftUpToKg: 50, FirmFromKg: 90, NearKg: 2, Basis: "our riders"}, s.Damping)
	assert.Equal(t, filepath.Join("some", "folder", "lists", "stock.csv"), s.StockFile)
}

func TestEverySectionIsOptional(t *testing.T) {
	for _, text := range []string{"", "# only a comment\n", "name: A\n",
		"print:\npads:\nallowance:\nrule:\ndamping:\nstock:\n"} {
		s, err := Parse([]byte(text), "shop.yaml")
		require.NoError(t, err, "%q", text)
		want := Default()
		want.Path, want.Name = "shop.yaml", s.Name
		assert.Equal(t, want, s, "%q", text)
	}
	stock, err := Default().Stock()
	require.NoError(t, err)
	assert.True(t, stock.Example)
}

func TestDefaultPads(t *testing.T) {
	pads := Default().Pads
	foam := pads[Foam]
	// the foam profile of the measurement's design: an assumption, marked
	assert.Equal(t, []float64{13, 4, 1.5}, []float64{foam.DepthMM, foam.DepthUCommonMM, foam.DepthUDifferenceMM})
	assert.Contains(t, foam.Basis, "assumption")
	assert.Contains(t, pads[Gel].Basis, "assumption")
	assert.Equal(t, Gel, pads[Gel].Medium)
	assert.Zero(t, pads[Paper].DepthMM, "paper has no depth")
	assert.Zero(t, pads[Paper].DepthUCommonMM)
}

func TestStockAsWidths(t *testing.T) {
	s, err := Parse([]byte("stock: [130, 143, 155.5]\n"), "shop.yaml")
	require.NoError(t, err)
	stock, err := s.Stock()
	require.NoError(t, err)
	assert.Equal(t, []float64{130, 143, 155.5}, stock.Widths())
	advisor, err := s.Advisor()
	require.NoError(t, err)
	_, c, err := advisor.Width(fit.StatedSpacing(125, 1), fit.AllowanceByHand(10, 0))
	require.NoError(t, err)
	assert.Equal(t, 143.0, *c.WidthMM)
}

func TestStockBesideTheFile(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "stock.csv"), []byte("width_mm\n140\n"), 0o600))
	path := filepath.Join(dir, FileName)
	require.NoError(t, os.WriteFile(path, []byte("stock: stock.csv\n"), 0o600))
	s, err := Load(path)
	require.NoError(t, err)
	stock, err := s.Stock()
	require.NoError(t, err)
	assert.Equal(t, []float64{140}, stock.Widths())
}

func TestMissingFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), FileName)
	_, err := Load(path)
	assert.ErrorIs(t, err, os.ErrNotExist)
	s, err := LoadOrDefault(path)
	require.NoError(t, err)
	assert.Equal(t, Default(), s)
	require.NoError(t, os.WriteFile(path, []byte("nome: A\n"), 0o600))
	_, err = LoadOrDefault(path)
	assert.Error(t, err, "a file that does not hold is no missing file")
}

// Lines and columns are counted by hand.
func TestFaultsHaveTheirPlace(t *testing.T) {
	tests := []struct {
		name, text   string
		line, column int
		want         string
	}{
		{"unknown key", "name: A\npadz:\n  foam: {depth_mm: 3}\n", 2, 1, `unknown key "padz"`},
		{"unknown key inside", "print:\n  scale_x: 1\n  scale_z: 1\n", 3, 3, `unknown key "scale_z"`},
		{"unknown key in a row", "allowance:\n  - {angle_deg: 1, mm: 2, u: 3}\n", 2, 27, `unknown key "u"`},
		{"decimal comma", "rule:\n  level: 0,95\n", 2, 10,
			`a number is needed here, found "0,95": write decimals with a point`},
		{"word for a number", "rule:\n  level: high\n", 2, 10, `a number is needed here, found "high"`},
		{"value for a section", "rule: 0.95\n", 1, 7, "a section of keys is needed here"},
		{"list for a section", "- name\n", 1, 1, "a section of keys is needed here, found a list"},
		{"key twice", "name: A\nname: B\n", 2, 1, `mapping key "name" already defined`},
		{"no YAML", "name: [A\nrule: b: c\n", 2, 1, "this is not YAML"},
		{"tab", "name: A\n\trule: {}\n", 2, 1, "a tab stands before a key: put spaces there"},
		{"indentation", "print:\n scale_x: 1.0\n   scale_x_u: 0.001\n", 2, 11,
			"begin all keys of a section in the same column"},
		{"no text", "\x00\x01\n", 1, 1, "this is not text in UTF-8"},
		{"another encoding", "name: Z\xfcrich\n", 1, 1, "this is not text in UTF-8"},
		{"second document", "name: A\n---\nname: B\n", 2, 1, "a second document"},
		{"anchor", "name: &a A\n", 1, 7, "anchors (&)"},
		{"scale out of range", "print:\n  scale_x: 0.5\n  scale_x_u: 0.001\n", 2, 12,
			"print.scale_x: is 0.5, needed: 0.95 to 1.05"},
		{"scale missing", "name: A\nprint:\n  scale_x: 1\n", 3, 3, "print.scale_x_u: is missing"},
		{"scale without u", "print:\n  scale_x: 1\n  scale_x_u: 0.001\n  scale_y: 1\n", 2, 3,
			"print.scale_y_u: is missing"},
		{"date", "print:\n  scale_x: 1\n  scale_x_u: 0.001\n  date: 4.3.2026\n", 4, 9,
			"needed: a date as 2026-05-31"},
		{"depth", "pads:\n  foam:\n    depth_mm: 130\n", 3, 15,
			"pads.foam.depth_mm: is 130 mm, needed: 0 to 60 mm"},
		{"not a number", "pads:\n  foam:\n    depth_mm: .nan\n", 3, 15, "pads.foam.depth_mm: is NaN mm"},
		{"certain depth", "pads:\n  foam:\n    depth_u_common_mm: 0\n", 3, 24, "the spread of your readings"},
		{"pad of no medium", "pads:\n  blue:\n    depth_mm: 9\n", 3, 5,
			"pads.blue.medium: is missing, needed: foam, gel or paper"},
		{"unknown medium", "pads:\n  blue:\n    medium: clay\n", 3, 13, `pads.blue.medium: is "clay"`},
		{"allowance row", "allowance:\n  - angle_deg: 15\n    mm: -1\n", 3, 9,
			"allowance[row 1].mm: is -1 mm, needed: 0 to 100 mm"},
		{"allowance falls", "allowance:\n  - {angle_deg: 15, mm: 9}\n  - {angle_deg: 75, mm: 3}\n", 2, 3,
			"more upright never needs less"},
		{"angle twice", "allowance: [{angle_deg: 15, mm: 3}, {angle_deg: 15, mm: 4}]\n", 1, 12,
			"allowance: the angle 15 deg is given twice"},
		{"level", "rule: {level: 95}\n", 1, 15, "rule.level: the level is 95, needed: a probability"},
		{"damping", "damping: {soft_up_to_kg: 90, firm_from_kg: 60}\n", 1, 10, "leave no medium between"},
		{"stock of words", "stock: [wide]\n", 1, 9, `a number is needed here, found "wide"`},
		{"stock of a number", "stock: 150\n", 1, 8, "stock is a path to a CSV file or a list of widths in mm"},
		{"stock width", "stock: [15]\n", 1, 8, "width 1 is 15 mm, needed: 60 to 400 mm"},
		{"empty stock", "stock: []\n", 1, 8, "stock: is empty"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Parse([]byte(tt.text), filepath.Join("a", "shop.yaml"))
			var faults *Faults
			require.ErrorAs(t, err, &faults)
			f := faults.Faults[0]
			assert.Contains(t, f.Why.Error(), tt.want)
			section, _, _ := strings.Cut(tt.text, ":")
			assert.NotRegexp(t, `^`+section+`\S*: `+section+`\b`, f.Why.Error(), "the section is named once")
			assert.Equal(t, []int{tt.line, tt.column}, []int{f.Line, f.Column})
			assert.NotContains(t, f.Error(), "\n", "one line a fault")
			assert.NotContains(t, err.Error(), "document.", "no name of the program's own types")
		})
	}
}

func TestAllValuesThatDoNotHoldAreReportedAtOnce(t *testing.T) {
	_, err := Parse([]byte("pads:\n  foam: {depth_mm: 99}\nrule: {level: 2}\nprint: {scale_x: 3, scale_x_u: "+
		"0.001}\n"), "shop.yaml")
	var faults *Faults
	require.ErrorAs(t, err, &faults)
	require.Len(t, faults.Faults, 3)
	assert.Equal(t, []int{2, 3, 4}, []int{faults.Faults[0].Line, faults.Faults[1].Line, faults.Faults[2].Line})
	assert.True(t, strings.HasPrefix(err.Error(),
		"shop.yaml:2:20: pads.foam.depth_mm: is 99 mm, needed: 0 to 60 mm\n"), err.Error())
}

func FuzzParse(f *testing.F) {
	for _, seed := range []string{
		full, "", "stock: [130, 140]\n", "print: {scale_x: 1, scale_x_u: 0.001}\n", "a: &x [*x]\n",
		"name: |\n  a\n  b\n",
		"? a\n: b\n", "pads:\n  'a b': {medium: gel}\n", "allowance:\n- angle_deg: 1e400\n", "<<: {}\n",
		"!!map {}\n", "name: \"\\\n", "{", "---\n...\n",
	} {
		f.Add([]byte(seed))
	}
	p := Print{ScaleX: 0.993, ScaleXU: 0.0015, Date: "2026-05-06", BarMM: 198.6, BarUMM: 0.3}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Parse(data, "shop.yaml")
		if err != nil {
			checkFaults(t, err)
			return
		}
		if s.Rule.Validate() != nil || s.Damping.Validate() != nil || len(s.Allowances.Rows()) == 0 {
			t.Fatalf("settings that do not hold were let in: %+v", s)
		}
		edited, err := changed(data, "shop.yaml", changeOfPrint(OnCard, p))
		if err != nil {
			return // refused, with the lines to put in by hand
		}
		after, err := Parse(edited, "shop.yaml")
		if err != nil || *after.Print != p || after.Name != s.Name {
			t.Fatalf("saved settings do not read back: %v", err)
		}
	})
}

func checkFaults(t *testing.T, err error) {
	var faults *Faults
	require.ErrorAs(t, err, &faults)
	require.NotEmpty(t, faults.Faults)
	for _, f := range faults.Faults {
		if f.Line < 1 || f.Column < 1 || f.Why == nil || strings.ContainsAny(f.Why.Error(), "\r\n") {
			t.Fatalf("no place or more than a line: %#v", f)
		}
	}
}
