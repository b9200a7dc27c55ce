package shop

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/fit"
)

// savedBy writes a file, changes it, and gives what it holds then.
func savedBy(t *testing.T, text string, change func(path string) error) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), FileName)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	require.NoError(t, change(path))
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = Parse(got, path)
	require.NoError(t, err)
	return string(got)
}

func TestIdentityIsSavedInItsPlace(t *testing.T) {
	full := Identity{Name: "Rad & Tat", Address: "Mühlgasse 3\n12345 Erfunden", Logo: "logo.png",
		Languages: []string{"de", "en"}}
	save := func(id Identity) func(string) error {
		return func(path string) error { return SaveIdentity(path, id) }
	}
	tests := []struct {
		name, text, want string
		id               Identity
	}{
		{"none there", "# mine\nrule: {level: 0.9} # r\n",
			"# mine\nrule: {level: 0.9} # r\n\nname: \"Rad & Tat\"\n" +
				"address: \"Mühlgasse 3\\n12345 Erfunden\"\nlogo: \"logo.png\"\nlanguages: [de, en]\n", full},
		{"comments stay", "name: Old # since 1987\nlanguages: [fr, de] # and more\n# the end\n",
			"name: \"New\" # since 1987\nlanguages: [en] # and more\n# the end\n",
			Identity{Name: "New", Languages: []string{"en"}}},
		{"what is taken out", "address: a\nname: Old\nlogo: x.png # drawn\nrule: {level: 0.9}\n",
			"name: \"New\"\n# drawn\nrule: {level: 0.9}\n", Identity{Name: "New"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { assert.Equal(t, tt.want, savedBy(t, tt.text, save(tt.id))) })
	}
}

func TestStockIsNamedInThePlaceOfWidths(t *testing.T) {
	got := savedBy(t, "stock: [130, 140] # shelf\nname: A\n", func(path string) error {
		return SaveStock(path, "stock.csv")
	})
	assert.Equal(t, "stock: \"stock.csv\" # shelf\nname: A\n", got)
	got = savedBy(t, "name: A\n", func(path string) error { return SaveStock(path, "stock.csv") })
	assert.Equal(t, "name: A\n\nstock: \"stock.csv\"\n", got)
}

func TestPadIsSavedAndOthersStay(t *testing.T) {
	p := DefaultPads()[Foam]
	p.DepthMM, p.DepthUCommonMM, p.DepthUDifferenceMM, p.Basis = 12.5, 2, 1, "30 readings"
	const keys = "depth_mm: 12.5\n    depth_u_common_mm: 2\n    depth_u_difference_mm: 1\n    " +
		"card_thickness_mm: " +
		"0.5\n    card_thickness_u_mm: 0.3\n    basis: \"30 readings\"\n"
	for name, tt := range map[string][2]string{
		"no pads": {"name: A\n", "name: A\n\npads:\n  foam:\n    medium: foam\n    " + keys},
		"another": {"pads:\n  blue gel: # mine\n    medium: gel\nname: A\n",
			"pads:\n  foam:\n    medium: foam\n    " + keys + "  blue gel: # mine\n    medium: gel\nname: A\n"},
		"there": {"pads:\n  foam:\n    depth_mm: 11 # read in May\n  blue:\n    medium: gel\n",
			"pads:\n  foam:\n    depth_mm: 12.5 # read in May\n    medium: foam\n    depth_u_common_mm: 2\n" +
				"    depth_u_difference_mm: 1\n    card_thickness_mm: 0.5\n    card_thickness_u_mm: 0.3\n" +
				"    basis: \"30 readings\"\n  blue:\n    medium: gel\n"},
		"in braces": {"pads:\n  foam: {depth_mm: 11} # May\n  blue: {medium: gel}\n",
			"pads:\n  foam: # May\n    medium: foam\n    " + keys + "  blue: {medium: gel}\n"},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, tt[1], savedBy(t, tt[0], func(path string) error { return SavePad(path, Foam, p) }))
		})
	}
}

func TestAllowancesKeepTheirComments(t *testing.T) {
	rows := []fit.AllowanceRow{{AngleDeg: 15, MM: 2, Basis: "ours"}, {AngleDeg: 75, MM: 40, UMM: 2}}
	got := savedBy(t, "name: A\nallowance:\n  # low\n  - {angle_deg: 15, mm: 0} # race\n  # high\n"+
		"  - angle_deg: 75 # city\n    mm: 38\n  - {angle_deg: 80, mm: 41} # gone\n\n# next\nrule: {level: 0.9}\n",
		func(path string) error { return SaveAllowances(path, rows) })
	assert.Equal(t, "name: A\nallowance:\n  # low\n  - {angle_deg: 15, mm: 2, basis: \"ours\"} # race\n  # "+
		"high\n"+
		"  - {angle_deg: 75, mm: 40, u_mm: 2} # city\n  # gone\n\n# next\nrule: {level: 0.9}\n", got)
	got = savedBy(t, "allowance:\n  - {angle_deg: 15, mm: 0} # race\n  - {angle_deg: 75, mm: 40}\n",
		func(path string) error { return SaveAllowances(path, rows) })
	assert.Equal(t, "allowance:\n  - {angle_deg: 15, mm: 2, basis: \"ours\"} # race\n"+
		"  - {angle_deg: 75, mm: 40, u_mm: 2}\n", got)
	falling := []fit.AllowanceRow{{AngleDeg: 15, MM: 20}, {AngleDeg: 75, MM: 10}}
	assert.Error(t, SaveAllowances("x", falling), "more upright is not less wide")
}

func TestCorrectionIsSaved(t *testing.T) {
	got := savedBy(t, "checks: {correct: false} # wait\n", func(path string) error {
		return SaveCorrection(path, true)
	})
	assert.Equal(t, "checks: # wait\n  correct: true\n", got)
}

func TestALogoThatIsNoPictureIsTold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "logo.png")
	require.NoError(t, os.WriteFile(path, []byte("no picture"), 0o644))
	_, err := Shop{LogoFile: path}.Logo()
	assert.EqualError(t, err,
		"the shop's logo "+path+" is no picture that can be printed; needed: a PNG or JPEG")
	_, err = Shop{LogoFile: path + ".gone"}.Logo()
	assert.ErrorContains(t, err, "cannot be read")
	assert.ErrorIs(t, err, os.ErrNotExist)
}
