package shop

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"

	"sitspan/cmd/sitspan/internal/wholefile"
)

// newFileHead begins a file that SavePrint has to make.
const newFileHead = "# Settings of this shop; every section is optional.\n"

// SavePrint writes a print's section of the settings at path, and makes the
// file where there is none. All else in it, comments included, stays byte for
// byte: the edited text is read back and compared before it replaces the file,
// in one step, so that the file is never half-written.
func SavePrint(path string, of PrintOf, p Print) error {
	target, old, err := readForEdit(path)
	if err != nil {
		return err
	}
	edited, err := withPrint(old, target, of, p)
	if err != nil {
		return err
	}
	return replaceFile(target, edited)
}

// readForEdit reads the file behind any links; a missing one is a new one.
func readForEdit(path string) (target string, data []byte, err error) {
	target, err = filepath.EvalSymlinks(path)
	if errors.Is(err, fs.ErrNotExist) {
		return path, []byte(newFileHead), nil
	}
	if err != nil {
		return "", nil, fmt.Errorf("shop's settings: %w", err)
	}
	data, err = os.ReadFile(target)
	if err != nil {
		return "", nil, fmt.Errorf("shop's settings: %w", err)
	}
	return target, data, nil
}

// withPrint edits the text, and proves that nothing but the print changed.
func withPrint(old []byte, path string, of PrintOf, p Print) ([]byte, error) {
	before, err := Parse(old, path)
	if err != nil {
		return nil, fmt.Errorf("the print was not saved, since the settings do not hold as they are:\n%w", err)
	}
	edited := editPrint(old, of, p)
	after, err := Parse(edited, path)
	if saved := *of.of(&after); err == nil && saved != nil && *saved == p {
		*of.of(&before), *of.of(&after) = nil, nil
		if reflect.DeepEqual(before, after) {
			return edited, nil
		}
	}
	if bad := p.fault(); bad != nil {
		return nil, fmt.Errorf("the print was not saved: %w", bad)
	}
	return nil, fmt.Errorf("the print was not saved, since %s is written in a way that cannot be changed "+
		"without disturbing it; put this into it by hand:\n%s",
		filepath.Base(path), block(of, p.entries()))
}

// fault says what would keep the print from being read back.
func (p Print) fault() error {
	_, err := Parse([]byte(block(OnCard, p.entries())), "print")
	return err
}

// replaceFile writes the file as a whole, keeping its mode.
func replaceFile(path string, data []byte) error {
	if err := wholefile.Bytes(path, data); err != nil {
		return fmt.Errorf("shop's settings: %w", err)
	}
	return nil
}
