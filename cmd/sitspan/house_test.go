package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// room is what a package may know of the others.
type room struct {
	knows string // packages of ours that it may import, without the module's name
	pure  bool   // it and its tests do without cgo
}

// house is who may know whom; DEVELOPERS.md says why. A package that is not
// here fails the test: give it its row when you make it.
var house = map[string]room{
	"calibration/fault":     {"", true},
	"calibration/gum":       {"", true},
	"calibration":           {"calibration/fault", true},
	"calibration/artwork":   {"calibration calibration/fault", true},
	"calibration/precision": {"", true},

	"fit": {"calibration/fault calibration/gum", true},

	"imprint/codes":  {"", true},
	"imprint/stages": {"", true},
	"imprint/spacing": {
		"calibration calibration/gum imprint/codes imprint/homography imprint/judge", true,
	},
	"imprint/internal/leastsquares": {"", true},
	"imprint/homography":            {"imprint/internal/leastsquares", true},
	"imprint/relief":                {"imprint/spacing", true},
	"imprint/tone":                  {"imprint/internal/blocks imprint/internal/rank imprint/relief", true},
	"imprint/ink":                   {"imprint/internal/leastsquares", true},
	"imprint/photo":                 {"", true},
	"imprint/internal/native":       {"", false},
	"imprint/internal/blocks":       {"imprint/internal/cores", true},
	"imprint/internal/cores":        {"", true},
	"imprint/reference": {
		"imprint/homography imprint/internal/blocks imprint/internal/cores imprint/internal/leastsquares", true,
	},
	"imprint/internal/cv": {
		"calibration imprint/homography imprint/internal/blocks imprint/internal/cores " +
			"imprint/internal/normal", false,
	},
	"imprint": {
		"calibration calibration/gum imprint/codes imprint/geometry imprint/geometry/bundle " +
			"imprint/geometry/dots imprint/geometry/raster imprint/geometry/surface imprint/homography " +
			"imprint/internal/native imprint/judge imprint/photo imprint/reading imprint/relief imprint/scale " +
			"imprint/spacing imprint/stages imprint/tone", false,
	},
	"imprint/overlay": {"imprint/contour imprint/internal/native", false},
	"imprint/geometry": {
		"imprint/geometry/bundle imprint/geometry/dots imprint/geometry/grain " +
			"imprint/geometry/raster imprint/geometry/surface", true,
	},
	"imprint/geometry/bundle":  {"", true},
	"imprint/geometry/dots":    {"imprint/geometry/raster imprint/internal/normal", true},
	"imprint/geometry/grain":   {"imprint/geometry/raster", true},
	"imprint/geometry/raster":  {"", true},
	"imprint/geometry/surface": {"imprint/internal/cores", true},
	"imprint/judge":            {"imprint/codes", true},
	"imprint/contour":          {"", true},
	"imprint/internal/normal":  {"", true},
	"imprint/internal/rank":    {"", true},
	"imprint/reading": {
		"calibration imprint/codes imprint/homography imprint/ink imprint/internal/cv " +
			"imprint/internal/rank imprint/judge imprint/photo imprint/relief imprint/scale " +
			"imprint/tone", false,
	},
	"imprint/scale": {
		"calibration calibration/gum imprint/codes imprint/homography imprint/internal/cores " +
			"imprint/internal/cv imprint/internal/rank imprint/judge imprint/photo imprint/reference " +
			"imprint/spacing", false,
	},

	"cmd/sitspan/internal/wholefile": {"", true},
	"cmd/sitspan/internal/words":     {"", true},
	"cmd/sitspan/internal/record": {
		"cmd/sitspan/internal/wholefile cmd/sitspan/internal/words imprint/codes", true,
	},
	"cmd/sitspan/internal/sentence": {
		"calibration/gum cmd/sitspan/internal/record cmd/sitspan/internal/words imprint/codes " +
			"imprint/spacing", true,
	},
	"cmd/sitspan/internal/store": {
		"cmd/sitspan/internal/lockfile cmd/sitspan/internal/proof cmd/sitspan/internal/record " +
			"cmd/sitspan/internal/words", false,
	},
	"cmd/sitspan/internal/proof": {
		"calibration/gum calibration/precision imprint/codes imprint/spacing", true,
	},
	"cmd/sitspan/internal/framewords": {"calibration/artwork cmd/sitspan/internal/words", true},
	"cmd/sitspan/internal/known": {
		"cmd/sitspan/internal/proof cmd/sitspan/internal/record cmd/sitspan/internal/store imprint/codes", false,
	},
	"cmd/sitspan/internal/shop": {
		"calibration cmd/sitspan/internal/wholefile cmd/sitspan/internal/words fit", true,
	},
	"cmd/sitspan/internal/advice": {
		"calibration/gum cmd/sitspan/internal/record cmd/sitspan/internal/words fit", true,
	},
	"cmd/sitspan/internal/report": {
		"calibration calibration/gum cmd/sitspan/internal/proof cmd/sitspan/internal/record " +
			"cmd/sitspan/internal/sentence cmd/sitspan/internal/words fit imprint/codes imprint/contour", true,
	},
	"cmd/sitspan/internal/intake": {
		"calibration calibration/gum cmd/sitspan/internal/advice cmd/sitspan/internal/proof " +
			"cmd/sitspan/internal/record cmd/sitspan/internal/sentence cmd/sitspan/internal/shop " +
			"cmd/sitspan/internal/words fit imprint imprint/codes imprint/homography imprint/overlay " +
			"imprint/photo imprint/reference imprint/scale imprint/spacing imprint/stages", false,
	},
	"cmd/sitspan/internal/child": {
		"cmd/sitspan/internal/bare cmd/sitspan/internal/fingerprint cmd/sitspan/internal/intake " +
			"cmd/sitspan/internal/record cmd/sitspan/internal/shop cmd/sitspan/internal/wholefile " +
			"cmd/sitspan/internal/words cmd/sitspan/internal/worker imprint/overlay imprint/photo", false,
	},
	"cmd/sitspan/internal/worker": {
		"cmd/sitspan/internal/proof cmd/sitspan/internal/record cmd/sitspan/internal/words", true,
	},
	"cmd/sitspan/internal/fingerprint": {"", true},
	"cmd/sitspan/internal/bare":        {"cmd/sitspan/internal/words imprint/photo", true},
	"cmd/sitspan/internal/review": {
		"calibration calibration/gum cmd/sitspan/internal/record cmd/sitspan/internal/sentence " +
			"cmd/sitspan/internal/words imprint/codes imprint/homography imprint/judge " +
			"imprint/spacing", true,
	},
	"cmd/sitspan/internal/desk": {
		"calibration calibration/artwork calibration/gum calibration/precision cmd/sitspan/internal/advice " +
			"cmd/sitspan/internal/bare " +
			"cmd/sitspan/internal/framewords cmd/sitspan/internal/intake cmd/sitspan/internal/known " +
			"cmd/sitspan/internal/proof cmd/sitspan/internal/record cmd/sitspan/internal/report " +
			"cmd/sitspan/internal/review " +
			"cmd/sitspan/internal/sentence cmd/sitspan/internal/shop cmd/sitspan/internal/store " +
			"cmd/sitspan/internal/wholefile cmd/sitspan/internal/words cmd/sitspan/internal/worker fit " +
			"imprint/codes imprint/contour imprint/photo imprint/reference", false,
	},
	"cmd/sitspan/internal/audit": {
		"calibration/fault calibration/precision cmd/sitspan/internal/advice " +
			"cmd/sitspan/internal/audit/archive " +
			"cmd/sitspan/internal/audit/report cmd/sitspan/internal/audit/statistics " +
			"cmd/sitspan/internal/record cmd/sitspan/internal/words fit", false,
	},
	"cmd/sitspan": {
		"calibration calibration/artwork cmd/sitspan/internal/advice cmd/sitspan/internal/audit " +
			"cmd/sitspan/internal/audit/archive cmd/sitspan/internal/audit/report " +
			"cmd/sitspan/internal/audit/statistics cmd/sitspan/internal/bare " +
			"cmd/sitspan/internal/child cmd/sitspan/internal/desk cmd/sitspan/internal/framewords " +
			"cmd/sitspan/internal/intake cmd/sitspan/internal/known cmd/sitspan/internal/proof " +
			"cmd/sitspan/internal/record " +
			"cmd/sitspan/internal/report cmd/sitspan/internal/sentence cmd/sitspan/internal/shop " +
			"cmd/sitspan/internal/store cmd/sitspan/internal/wholefile cmd/sitspan/internal/words " +
			"cmd/sitspan/internal/worker fit imprint imprint/codes imprint/photo imprint/stages", false,
	},
	"cmd/internal/evidence": {"", true},
	"cmd/internal/notices":  {"", true},
	"cmd/notices":           {"cmd/internal/notices", true},
	"cmd/evidence":          {"cmd/internal/evidence", true},
	"cmd/sitspan/internal/audit/archive": {
		"cmd/sitspan/internal/fingerprint cmd/sitspan/internal/lockfile cmd/sitspan/internal/words " +
			"cmd/sitspan/internal/record cmd/sitspan/internal/sentence cmd/sitspan/internal/wholefile " +
			"cmd/sitspan/internal/worker imprint/codes imprint/photo", false,
	},
	"cmd/sitspan/internal/audit/report": {
		"cmd/sitspan/internal/audit/archive cmd/sitspan/internal/audit/statistics " +
			"cmd/sitspan/internal/record cmd/sitspan/internal/sentence cmd/sitspan/internal/words " +
			"fit imprint/codes", false,
	},
	"cmd/sitspan/internal/audit/statistics": {
		"calibration/fault calibration/precision cmd/sitspan/internal/words fit", true,
	},
	"cmd/sitspan/internal/lockfile": {"cmd/sitspan/internal/words", true},
}

// topLevel is what may lie at the top, beside files that begin with a point.
var topLevel = []string{
	"cmd", "imprint", "fit", "calibration", "testdata", "docs", "go.mod", "go.sum", "README.md", "DEVELOPERS.md",
	"Makefile",
}

const (
	module = "sitspan/"
	opencv = "gocv.io/x/gocv"
	tags   = "customenv,nodynamic"
)

// listed is what `go list` says of a package.
type listed struct {
	ImportPath   string
	Standard     bool
	CgoFiles     []string
	Imports      []string
	TestImports  []string
	XTestImports []string
	Deps         []string
}

func goList(t *testing.T, args ...string) map[string]listed {
	t.Helper()
	args = append(
		[]string{
			"list",
			"-buildvcs=false",
			"-tags",
			tags,
			"-deps",
			"-json=ImportPath,Standard,CgoFiles,Imports,TestImports,XTestImports,Deps",
		},
		args...)
	cmd := exec.Command("go", args...)
	cmd.Dir = "../.."
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	require.NoError(t, err, stderr.String())
	packages := make(map[string]listed)
	for decoder := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := decoder.Decode(&p); errors.Is(err, io.EOF) {
			return packages
		}
		require.NoError(t, err)
		packages[p.ImportPath] = p
	}
}

func TestWhoMayKnowWhom(t *testing.T) {
	packages := goList(t, "./...")
	for path, p := range packages {
		name, ours := strings.CutPrefix(path, module)
		if !ours {
			continue
		}
		r, known := house[name]
		if !assert.True(t, known, "package %s has no row in the house's table", name) {
			continue
		}
		may := strings.Fields(r.knows)
		for _, other := range p.Imports {
			if other, ours := strings.CutPrefix(other, module); ours {
				assert.Contains(t, may, other, "%s must not know %s", name, other)
			}
		}
		for _, other := range may {
			assert.Contains(
				t,
				p.Imports,
				module+other,
				"%s may know %s and does not: take the permission away",
				name,
				other,
			)
		}
	}
	for name := range house {
		assert.Contains(
			t,
			packages,
			module+name,
			"the house's table has a row for %s, which is not there",
			name,
		)
	}
	require.Contains(t, packages, "sitspan/cmd/sitspan", "the list holds our packages")
}

// What a package is made of does not lean on it: a room of imprint knows the rooms beside it at the most.
func TestNoRoomOfImprintKnowsTheWhole(t *testing.T) {
	rooms := 0
	for path, p := range goList(t, "./imprint/...") {
		name, ours := strings.CutPrefix(path, module)
		if !ours {
			continue
		}
		rooms++
		for _, other := range p.Imports {
			other, ours := strings.CutPrefix(other, module)
			assert.False(
				t,
				ours && strings.HasPrefix(name, other+"/") && strings.HasPrefix(other, "imprint"),
				"%s leans on %s",
				name,
				other,
			)
		}
	}
	require.Greater(t, rooms, 10)
}

func TestOnlyOnePackageKnowsOpenCV(t *testing.T) {
	var importers []string
	for path, p := range goList(t, "./...") {
		if !strings.HasPrefix(path, module) {
			continue
		}
		if slices.Contains(slices.Concat(p.Imports, p.TestImports, p.XTestImports), opencv) {
			importers = append(importers, path)
		}
	}
	assert.Equal(t, []string{"sitspan/imprint/internal/cv"}, importers)
}

func TestPureRoomsReachNoCgo(t *testing.T) {
	packages := goList(t, "-test", "./...")
	reached := 0
	for path, p := range packages {
		name, ours := strings.CutPrefix(strings.TrimSuffix(path, ".test"), module)
		if !ours || !house[name].pure {
			continue
		}
		for _, dep := range p.Deps {
			reached++
			d := packages[dep]
			assert.False(t, !d.Standard && len(d.CgoFiles) > 0, "%s reaches %s, which is cgo", path, dep)
		}
	}
	assert.Positive(t, reached)
	assert.NotEmpty(t, packages[opencv].CgoFiles, "what cgo is can be told")
}

func TestTopLevelHoldsTheHouseOnly(t *testing.T) {
	for _, name := range trackedFiles(t) {
		top, _, _ := strings.Cut(name, "/")
		assert.True(
			t,
			strings.HasPrefix(top, ".") || slices.Contains(topLevel, top),
			"%s does not belong at the top level",
			top,
		)
	}
}

// longestFile is the length in lines that no Go file exceeds.
const longestFile = 450

func TestNoFileIsTooLong(t *testing.T) {
	for _, name := range trackedFiles(t) {
		if filepath.Ext(name) != ".go" {
			continue
		}
		text, err := os.ReadFile(filepath.Join("../..", name))
		if errors.Is(err, os.ErrNotExist) {
			continue // taken out, not committed yet
		}
		require.NoError(t, err)
		assert.LessOrEqual(t, bytes.Count(text, []byte("\n")), longestFile, name)
	}
}

// widest is the number of characters that no line of source has more of.
const widest = 110

func TestNoLineIsTooWide(t *testing.T) {
	n := 0
	for _, name := range trackedFiles(t) {
		switch filepath.Ext(name) {
		case ".go", ".js", ".mjs", ".css", ".html", ".tmpl", ".py", ".sh":
		default:
			continue
		}
		text, err := os.ReadFile(filepath.Join("../..", name))
		if errors.Is(err, os.ErrNotExist) {
			continue // taken out, not committed yet
		}
		require.NoError(t, err)
		for i, line := range strings.Split(string(text), "\n") {
			n++
			assert.LessOrEqual(t, utf8.RuneCountInString(line), widest, "%s:%d", name, i+1)
		}
	}
	require.Greater(t, n, 10_000)
}

// trackedFiles are the repository's files, as git knows them, or all but those
// that git ignores where the sources came without git.
func trackedFiles(t *testing.T) []string {
	t.Helper()
	cmd := exec.Command("git", "-c", "safe.directory=*", "ls-files", "-z")
	cmd.Dir = "../.."
	out, err := cmd.Output()
	if err == nil {
		names := strings.Split(strings.TrimRight(string(out), "\x00"), "\x00")
		require.Contains(t, names, "go.mod")
		return names
	}
	var names []string
	entries, err := os.ReadDir("../..")
	require.NoError(t, err)
	for _, e := range entries {
		if e.Name() != "bin" && e.Name() != "out" {
			names = append(names, e.Name())
		}
	}
	return names
}
