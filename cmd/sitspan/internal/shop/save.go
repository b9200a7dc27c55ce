package shop

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"

	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
)

// newFileHead begins a file that SavePrint has to make.
const newFileHead = "# Settings of this shop; every section is optional.\n"

// SavePrint writes a print's section of the settings at path, and makes the
// file where there is none. All else in it, comments included, stays byte for
// byte: the edited text is read back and compared before it replaces the file,
// in one step, so that the file is never half-written.
func SavePrint(path string, of PrintOf, p Print) error {
	return save(path, changeOfPrint(of, p))
}

// change is one thing that is to be different in the settings.
type change struct {
	what   words.Key        // what is not saved where it fails, as a sentence begins: the print
	edit   func(*tree) bool // puts it into the file
	set    func(*Shop)      // puts it into the settings as they are read
	byHand string           // what a person would write
}

func changeOfPrint(of PrintOf, p Print) change {
	return change{"error.settings.what.print", func(t *tree) bool {
		return t.setSection(string(of),
			p.entries())
	},
		func(s *Shop) { *of.of(s) = &p }, block(of, p.entries())}
}

// save makes a change in the file at path.
func save(path string, c change) error {
	target, old, err := readForEdit(path)
	if err != nil {
		return err
	}
	edited, err := changed(old, target, c)
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
		return "", nil, words.Fault("error.settings", words.Values{"why": err})
	}
	data, err = os.ReadFile(target)
	if err != nil {
		return "", nil, words.Fault("error.settings", words.Values{"why": err})
	}
	return target, data, nil
}

// changed edits the text, and proves that nothing but the change came of it.
func changed(old []byte, path string, c change) ([]byte, error) {
	want, err := Parse(old, path)
	if err != nil {
		return nil, words.Fault("error.settings.unsaved_before", words.Values{"what": c.what, "why": err})
	}
	c.set(&want)
	edited := edit(old, c.edit)
	if got, err := Parse(edited, path); err == nil && reflect.DeepEqual(got, want) {
		return edited, nil
	}
	if _, err := Parse([]byte(c.byHand), filepath.Base(path)); err != nil {
		return nil, words.Fault("error.settings.unsaved", words.Values{"what": c.what, "why": err})
	}
	return nil, words.Fault("error.settings.by_hand", words.Values{
		"what": c.what, "file": filepath.Base(path), "text": c.byHand,
	})
}

// replaceFile writes the file as a whole, keeping its mode.
func replaceFile(path string, data []byte) error {
	if err := wholefile.Bytes(path, data); err != nil {
		return words.Fault("error.settings", words.Values{"why": err})
	}
	return nil
}
