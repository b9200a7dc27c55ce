package shop

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var verified = Print{ScaleX: 0.9915, ScaleXU: 0.0015, ScaleY: 0.99, ScaleYU: 0.002, Date: "2026-05-06",
	BarMM: 198.3, BarYMM: 148.5, BarUMM: 0.3}

func saveInto(t *testing.T, text string, p Print) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), FileName)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o640))
	require.NoError(t, SavePrint(path, OnCard, p))
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o640), info.Mode().Perm(), "the file's mode stays")
	return string(got)
}

// Only the values of the print change: all else is the same, byte for byte.
func TestSavePrintChangesNothingElse(t *testing.T) {
	want := strings.NewReplacer(
		`"2026-03-04"`, `"2026-05-06"`, "scale_x: 0.993 ", "scale_x: 0.9915 ", "scale_y: 0.995", "scale_y: 0.99",
		"  correlation_xy: 0.5\n", "", "bar_mm: 198.6", "bar_mm: 198.3", "bar_y_mm: 149.25", "bar_y_mm: 148.5",
	).Replace(full)
	assert.Equal(t, want, saveInto(t, full, verified))
}

func TestSavePrintKeepsComments(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{
			"comments round and in the section",
			"# top\nname: A # n\n\n# about the print\nprint: # here\n    # why\n    scale_x: 1.0   # read twice\n   " +
				" scale_x_u: 0.001\n    scale_y: 1 # side\n    scale_y_u: 0.001\n# below\nrule: {level: 0.9} # r\n",
			"# top\nname: A # n\n\n# about the print\nprint: # here\n    # why\n    scale_x: 0.9915   # read " +
				"twice\n    scale_x_u: 0.0015\n    # side\n    date: \"2026-05-06\"\n    bar_mm: 198.3\n    bar_u_mm: " +
				"0.3\n# below\nrule: {level: 0.9} # r\n",
		},
		{"no section", "name: A # n\n\n\n",
			"name: A # n\n\nprint:\n  date: \"2026-05-06\"\n  scale_x: 0.9915\n  scale_x_u: 0.0015\n  bar_mm: " +
				"198.3\n  bar_u_mm: 0.3\n"},
		{"no end of line", "name: A", "name: A\n\nprint:\n  date: \"2026-05-06\"\n  scale_x: 0.9915\n  " +
			"scale_x_u: 0.0015\n  bar_mm: 198.3\n  bar_u_mm: 0.3\n"},
		{"only a comment", "# mine\n", "# mine\n\nprint:\n  date: \"2026-05-06\"\n  scale_x: 0.9915\n  " +
			"scale_x_u: 0.0015\n  bar_mm: 198.3\n  bar_u_mm: 0.3\n"},
		{"empty section", "print: # soon\nname: A\n",
			"print: # soon\n  date: \"2026-05-06\"\n  scale_x: 0.9915\n  scale_x_u: 0.0015\n  bar_mm: 198.3\n  " +
				"bar_u_mm: 0.3\nname: A\n"},
		{"section in braces", "print: {scale_x: 1, scale_x_u: 0.001} # old\nname: A\n",
			"print: # old\n  date: \"2026-05-06\"\n  scale_x: 0.9915\n  scale_x_u: 0.0015\n  bar_mm: 198.3\n  " +
				"bar_u_mm: 0.3\nname: A\n"},
		{"a blank line after the section", "print:\n  scale_x: 1\n  scale_x_u: 0.001\n\n\nname: A\n\n",
			"print:\n  scale_x: 0.9915\n  scale_x_u: 0.0015\n  date: \"2026-05-06\"\n  bar_mm: 198.3\n  bar_u_mm: " +
				"0.3\n\n\nname: A\n\n"},
		{"the last goes where others come",
			"print:\n  scale_x: 1\n  scale_x_u: 0.001\n  scale_y: 1\n  scale_y_u: 0.001\n\nname: A\n",
			"print:\n  scale_x: 0.9915\n  scale_x_u: 0.0015\n  date: \"2026-05-06\"\n  bar_mm: 198.3\n  bar_u_mm: " +
				"0.3\n\nname: A\n"},
		{"the middle goes, the order stays",
			"print:\n  bar_mm: 198\n  correlation_xy: 0.5\n  scale_x_u: 0.001 # u\n  scale_x: 1\nname: 'Ä # B'\n",
			"print:\n  bar_mm: 198.3\n  scale_x_u: 0.0015 # u\n  scale_x: 0.9915\n  date: \"2026-05-06\"\n  " +
				"bar_u_mm: 0.3\nname: 'Ä # B'\n"},
		{"braces and no comment", "print: {scale_x: 1, scale_x_u: 0.001}\n\nname: A\n",
			"print:\n  date: \"2026-05-06\"\n  scale_x: 0.9915\n  scale_x_u: 0.0015\n  bar_mm: 198.3\n  bar_u_mm: " +
				"0.3\n\nname: A\n"},
		{"other lines in braces", "rule: {level: 0.9}\nprint:\n    scale_x: 1.0\n    scale_x_u: 0.001",
			"rule: {level: 0.9}\nprint:\n    scale_x: 0.9915\n    scale_x_u: 0.0015\n    date: \"2026-05-06\"\n    " +
				"bar_mm: 198.3\n    bar_u_mm: 0.3"},
		{"CRLF", "name: A\r\nprint:\r\n  scale_x: 1\r\n  scale_x_u: 0.001\r\n",
			"name: A\r\nprint:\r\n  scale_x: 0.9915\r\n  scale_x_u: 0.0015\r\n  date: \"2026-05-06\"\r\n  bar_mm: " +
				"198.3\r\n  bar_u_mm: 0.3\r\n"},
	}
	p := Print{ScaleX: 0.9915, ScaleXU: 0.0015, Date: "2026-05-06", BarMM: 198.3, BarUMM: 0.3}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { assert.Equal(t, tt.want, saveInto(t, tt.text, p)) })
	}
}

func TestSavePrintMakesTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), FileName)
	require.NoError(t, SavePrint(path, OnCard, verified))
	s, err := Load(path)
	require.NoError(t, err)
	assert.Equal(t, &verified, s.Print)
}

// A print on paper is kept beside the one on card, and neither changes the other.
func TestSavePrintKeepsTheOtherPrint(t *testing.T) {
	path := filepath.Join(t.TempDir(), FileName)
	require.NoError(t, SavePrint(path, OnCard, verified))
	paper := Print{ScaleX: 1.004, ScaleXU: 0.0015, Date: "2026-06-07", BarMM: 200.8, BarUMM: 0.3}
	require.NoError(t, SavePrint(path, OnPaper, paper))
	again := verified
	again.Date = "2026-08-09"
	require.NoError(t, SavePrint(path, OnCard, again))
	s, err := Load(path)
	require.NoError(t, err)
	assert.Equal(t, &again, s.Print)
	assert.Equal(t, &paper, s.PrintPaper)
}

func TestSavePrintFollowsALink(t *testing.T) {
	dir := t.TempDir()
	real, link := filepath.Join(dir, "real.yaml"), filepath.Join(dir, FileName)
	require.NoError(t, os.WriteFile(real, []byte("name: A\n"), 0o600))
	require.NoError(t, os.Symlink(real, link))
	require.NoError(t, SavePrint(link, OnCard, verified))
	info, err := os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeSymlink, "the link is still one")
	s, err := Load(real)
	require.NoError(t, err)
	assert.Equal(t, &verified, s.Print)
}

// A file that does not hold, or cannot be changed safely, stays as it is, and
// no other file is left beside it.
func TestSavePrintLeavesWhatItCannotChange(t *testing.T) {
	tests := []struct {
		name, text, want string
		p                Print
	}{
		{"does not hold", "name: A\nnome: B\n", `unknown key "nome"`, verified},
		{"whole file in braces", "{name: A}\n", "by hand:\nprint:\n  date: \"2026-05-06\"\n  scale_x: 0.9915\n",
			verified},
		{"braces over lines", "print: {scale_x: 1,\n  scale_x_u: 0.001}\nname: A\n", "by hand:", verified},
		{"print that does not hold", "name: A\n", "print.scale_x: is 0.5", Print{ScaleX: 0.5, ScaleXU: 0.001}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, FileName)
			require.NoError(t, os.WriteFile(path, []byte(tt.text), 0o600))
			assert.ErrorContains(t, SavePrint(path, OnCard, tt.p), tt.want)
			got, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Equal(t, tt.text, string(got))
			files, err := os.ReadDir(dir)
			require.NoError(t, err)
			assert.Len(t, files, 1)
		})
	}
}

func TestSavePrintIntoAFolderThatIsNotThere(t *testing.T) {
	err := SavePrint(filepath.Join(t.TempDir(), "none", FileName), OnCard, verified)
	assert.ErrorContains(t, err, "shop's settings")
}
