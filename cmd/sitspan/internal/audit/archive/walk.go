package archive

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
	"sitspan/imprint/photo"
)

// walk finds a folder's files, those of its subfolders too, in no order. A folder
// that cannot be listed is an entry, since what is in it would else be dropped in
// silence. skip is a folder that is not entered: the audit's own.
//
// Links to files are followed, links to folders are not: their files are counted
// where they lie, and a link that leads back up would never end.
func walk(ctx context.Context, folder, skip string, found func(Entry) error) error {
	return walker{folder, skip, found}.list(ctx, "")
}

type walker struct {
	folder, skip string
	found        func(Entry) error
}

// namesAtOnce is how many names of a folder are held in memory.
const namesAtOnce = 1024

func (w walker) list(ctx context.Context, dir string) error {
	f, err := os.Open(filepath.Join(w.folder, dir))
	if err != nil {
		return w.unlisted(dir, err)
	}
	defer f.Close()
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		names, err := f.ReadDir(namesAtOnce)
		for _, e := range names {
			if err := w.visit(ctx, filepath.Join(dir, e.Name()), e.Type()); err != nil {
				return err
			}
		}
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return w.unlisted(dir, err)
		}
	}
}

func (w walker) unlisted(dir string, err error) error {
	if dir == "" {
		return words.Fault("error.audit.unlisted", words.Values{"why": err})
	}
	return w.add(dir, 0, unreadableFolder(err))
}

// visit takes one name of a folder. kind is as the folder lists it: a link is
// not followed for it.
func (w walker) visit(ctx context.Context, raw string, kind fs.FileMode) error {
	path := filepath.Join(w.folder, raw)
	if kind.IsDir() {
		switch {
		case sameFile(path, w.skip):
			return nil
		case isResults(path):
			return w.add(raw, 0, passed(codes.AuditResults.With()))
		}
		return w.list(ctx, raw)
	}
	info, err := os.Stat(path)
	switch {
	case err != nil && kind&fs.ModeSymlink != 0:
		return w.add(raw, 0, brokenLink(err))
	case err != nil:
		return w.add(raw, 0, readTrouble(err))
	case info.IsDir():
		return w.add(raw, 0, passed(codes.LinkToFolder.With()))
	}
	return w.add(raw, info.Size(), nil)
}

func (w walker) add(raw string, size int64, t *Trouble) error {
	raw = filepath.ToSlash(raw)
	e := Entry{Path: printablePath(raw), Size: size, Trouble: t}
	if e.Path != raw {
		e.Raw = []byte(raw)
	}
	return w.found(e)
}

// sameFile says whether two names mean the same folder; an empty one means none.
func sameFile(a, b string) bool {
	if b == "" {
		return false
	}
	one, err1 := os.Stat(a)
	two, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(one, two)
}

// isResults says whether a folder holds what an audit left: its overlays are no
// imprints.
func isResults(dir string) bool {
	id, err := Results{dir}.read()
	return err == nil && id.Tool == toolName
}

func unreadableFolder(err error) *Trouble {
	if errors.Is(err, fs.ErrPermission) {
		return trouble(codes.FolderDenied.With())
	}
	return trouble(codes.FolderShut.With())
}

func brokenLink(err error) *Trouble {
	if errors.Is(err, syscall.ELOOP) || strings.Contains(err.Error(), "too many levels") {
		return trouble(codes.LinkLoop.With())
	}
	return trouble(codes.BrokenLink.With())
}

// readTrouble says why a file cannot be read, in photo's words where they are.
func readTrouble(err error) *Trouble {
	var r *photo.ReadError
	switch {
	case errors.As(err, &r):
		return trouble(codes.OfFile(string(r.Code), r.Form).With(r.Seen, r.Needed, r.Hint))
	case errors.Is(err, fs.ErrPermission):
		return trouble(codes.FileDenied.With())
	}
	return trouble(codes.FileShut.With())
}

// identify reads the content of an entry and takes its hash, and gives the further
// pages that it has. What is no regular file, or larger than a photo may be, is not
// opened: photo says why.
func identify(folder string, e *Entry, buffer []byte) (pages []Entry) {
	if e.Trouble != nil {
		return nil
	}
	path := filepath.Join(folder, e.raw())
	info, err := os.Stat(path)
	if err != nil || !info.Mode().IsRegular() || info.Size() > photo.DefaultBytes {
		e.Trouble = withoutReading(path)
		return nil
	}
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		e.Trouble = readTrouble(err)
		return nil
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.CopyBuffer(h, io.LimitReader(f, photo.DefaultBytes+1), buffer)
	if err != nil {
		e.Trouble = readTrouble(err)
		return nil
	}
	sum := [32]byte(h.Sum(nil))
	e.Size, e.SHA256 = n, hex.EncodeToString(sum[:])
	for k, all := 2, len(photo.Pages(f)); k <= all; k++ {
		pages = append(pages, e.page(k, sum))
	}
	return pages
}

// withoutReading asks photo why it would not read a file; it looks at the kind
// and the size first.
func withoutReading(path string) *Trouble {
	_, err := photo.Read(path, photo.Limits{})
	if err == nil {
		return trouble(codes.FileChanged.With())
	}
	return readTrouble(err)
}
