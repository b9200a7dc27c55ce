package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// The system's errors in the fitter's words: one line that names the file, not
// the one that stood in for it, and what to do.
func TestFilesThatAreNotWritten(t *testing.T) {
	for err, want := range map[error]string{
		syscall.ENOSPC: "a/b.pdf was not written: the disk is full; make room, or name another folder",
		syscall.EACCES: "a/b.pdf was not written: writing there is not allowed; change the permissions, or name " +
			"another folder",
		syscall.EROFS: "a/b.pdf was not written: writing there is not allowed; change the permissions, or name " +
			"another folder",
		syscall.ENOTDIR: "a/b.pdf was not written: a part of the name is a file, not a folder; name another folder",
		syscall.EISDIR:  "a/b.pdf was not written: a folder has this name; name another file",
		syscall.ENOENT:  "a/b.pdf was not written: there cannot be a folder there; name another folder",
	} {
		given := fmt.Errorf("writing: %w", &fs.PathError{Op: "write", Path: "a/.sitspan-123", Err: err})
		assert.EqualError(t, notWritten("a/b.pdf", given), want)
	}
	other := errors.New("the alias cannot be printed")
	assert.Equal(t, other, notWritten("a/b.pdf", other), "what is no fault of the disk is said as it was")
	assert.Equal(t, other, recordNotWritten("a/b.json", other))
	assert.EqualError(t, recordNotWritten("a/b.json", syscall.ENOSPC),
		"the record: a/b.json was not written: the disk is full; make room, or name another folder")
	assert.NoError(t, notRead(words.Fault("error.what.stock", nil), "a.csv", nil))
	assert.EqualError(t, notRead(words.Fault("error.what.stock", nil), "a.csv", fs.ErrPermission),
		"a.csv may not be read; needed: the stock; check the file's permissions")
}

func TestFoldersAreTriedFirst(t *testing.T) {
	dir := t.TempDir()
	out, err := openOutputs(filepath.Join(dir, "a"), filepath.Join(dir, "b", "c"))
	require.NoError(t, err)
	assert.Equal(t, filepath.Join(dir, "a"), out.overlays)
	left, err := os.ReadDir(out.overlays)
	require.NoError(t, err)
	assert.Empty(t, left, "the trial leaves nothing")
}

func TestNamesTakeOneLine(t *testing.T) {
	for name, want := range map[string]string{
		"Müller 2.jpg": "Müller 2.jpg", "two\nlines.jpg": `two\nlines.jpg`, "a\x1b[2J.jpg": `a\x1b[2J.jpg`,
		`back\slash.jpg`: `back\slash.jpg`,
	} {
		assert.Equal(t, want, printable(name))
	}
	before := record.Measurement{Photo: "a\nb", Photos: []record.Part{{Photo: "c\td"}},
		Sittings: []record.Part{{Photo: "e\rf"}}}
	after := onOneLine(before)
	assert.Equal(t, []string{`a\nb`, `c\td`, `e\rf`}, []string{after.Photo, after.Photos[0].Photo,
		after.Sittings[0].Photo})
	assert.Equal(t, "c\td", before.Photos[0].Photo, "the record itself keeps the name")
}

func TestOneSlip(t *testing.T) {
	for _, like := range [][2]string{{"depth", "deph"}, {"depth", "deepth"}, {"depth", "dapth"},
		{"trunk", "trun"}} {
		assert.True(t, oneSlip(like[0], like[1]), like)
	}
	for _, unlike := range [][2]string{{"depth", "dehpt"}, {"depth", "dep"}, {"trunk", "stock"}, {"u", ""}} {
		assert.Equal(t, unlike[0] == "u", oneSlip(unlike[0], unlike[1]), unlike)
	}
}

// A reader that goes away, such as head, ends the program at the next thing that
// is printed: what was measured is kept by then.
func TestFilesAreKeptBeforeAnythingIsPrinted(t *testing.T) {
	dir := t.TempDir()
	var there []string
	stdout := writerFunc(func(b []byte) (int, error) {
		entries, err := os.ReadDir(dir)
		for _, e := range entries {
			there = append(there, e.Name())
		}
		return len(b), errors.Join(err, syscall.EPIPE)
	})
	var stderr bytes.Buffer
	p := newProgram(stdout, &stderr)
	p.open = func(intake.Options) (*station, error) { return openBench(intake.Options{}) }
	root := p.rootCommand()
	root.SetArgs([]string{"measure", "--record", dir, "--overlay", dir,
		"internal/record/testdata/schema1-foam.json"})
	ctx := context.Background()
	assert.Equal(t, exitFailure, p.exitStatus(ctx, root.ExecuteContext(ctx)))
	assert.Equal(t, []string{"foam-window-d58ddd16.json", "foam-window-d58ddd16.overlay.jpg"}, there)
	assert.Contains(t, stderr.String(), "the results could not be written")
	for line := range strings.Lines(stderr.String()) {
		assert.True(t, strings.HasPrefix(line, "sitspan: "), line)
	}
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(b []byte) (int, error) { return f(b) }
