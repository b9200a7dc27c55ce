package notices

import (
	"debug/buildinfo"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func linked(t *testing.T) []Part {
	t.Helper()
	parts, err := Linked("customenv,nodynamic", "sitspan/cmd/sitspan")
	require.NoError(t, err)
	return parts
}

// Each module that the program was linked from has its licence among the notices, as
// the linker itself lists them; the test's own program stands in where none is built.
func TestEveryLinkedModuleHasItsNotice(t *testing.T) {
	program, err := filepath.Abs("../../../bin/sitspan")
	require.NoError(t, err)
	if _, err := os.Stat(program); err != nil {
		program = os.Args[0]
	}
	info, err := buildinfo.ReadFile(program)
	require.NoError(t, err)
	parts := linked(t)
	text := Notices(parts)
	assert.Greater(t, len(parts), 25)
	for _, p := range parts {
		require.NotEmpty(t, p.Texts, p.Path)
		for _, body := range p.Texts {
			assert.Contains(t, text, strings.TrimRight(body.Body, "\n"), p.Path)
		}
	}
	for _, m := range info.Deps {
		if program != os.Args[0] {
			assert.Contains(t, text, "\n"+m.Path+" ")
		}
	}
}

// What is embedded is not found by the linker: the two libraries in the HEIC module, the
// sheet's typeface.
func TestEmbeddedWorksHaveTheirNotices(t *testing.T) {
	text := Notices(linked(t))
	for _, want := range []string{
		"lib/LICENSE.libheif\n", "lib/LICENSE.libde265\n", "GNU LESSER GENERAL PUBLIC LICENSE",
		"SIL OPEN FONT LICENSE", "LICENSE-SIL",
	} {
		assert.Contains(t, text, want)
	}
}

func TestTheOwnLicenceIsSaidInOnePlace(t *testing.T) {
	head, err := os.ReadFile("../../../.package/copyright")
	require.NoError(t, err)
	parts := linked(t)
	list := Copyright(string(head), parts)
	assert.Equal(t, 1, strings.Count(list, "not yet chosen"))
	assert.Contains(t, list, "go mod edit -replace github.com/gen2brain/heic")
	for _, p := range parts {
		assert.Contains(t, list, "\n"+p.Path+" "+p.Version+"\n")
		assert.NotEqual(t, "sitspan", p.Path)
	}
}

func TestAModuleWithoutALicenceIsAnError(t *testing.T) {
	dir := t.TempDir()
	p := Part{Path: "example.org/bare", Version: "v1.0.0", Dir: dir}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "AUTHORS"), []byte("A. Uthor\n"), 0o644))
	assert.ErrorContains(t, p.read(true), "example.org/bare v1.0.0 has no licence's text")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "LICENSE.txt"), []byte("Copyright 2001 A. Uthor\n"),
		0o644))
	require.NoError(t, p.read(true))
	assert.Equal(t, []string{"Copyright 2001 A. Uthor"}, p.holders())
	assert.Equal(t, "AUTHORS", p.Texts[1].Name, "the licence comes first")
}
