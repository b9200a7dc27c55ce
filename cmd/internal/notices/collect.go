package notices

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// Part is a module, or Go itself, with the texts that go with it.
type Part struct {
	Path, Version string
	Dir           string // where its source lies
	Texts         []Text // the licences first; never none
}

// Text is one file of a part, word for word.
type Text struct {
	Name string // within the part, such as lib/LICENSE.libheif
	Body string
}

// linkedPackage is what `go list -json` says of a package.
type linkedPackage struct {
	Standard bool
	Module   *struct {
		Path, Version, Dir string
		Main               bool
		Replace            *struct{ Path, Version, Dir string }
	}
}

// Linked lists the parts of the program in a package, without this project's own, in the
// order of their paths. A part that has no licence's text is an error.
func Linked(tags, program string) ([]Part, error) {
	list := exec.Command("go", "list", "-tags", tags, "-deps", "-json=Standard,Module", program)
	list.Stderr = os.Stderr
	out, err := list.Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w", err)
	}
	parts, err := modules(out)
	if err != nil {
		return nil, err
	}
	env, err := exec.Command("go", "env", "GOROOT", "GOVERSION").Output()
	if err != nil {
		return nil, fmt.Errorf("go env: %w", err)
	}
	root, version, _ := strings.Cut(strings.TrimSpace(string(env)), "\n")
	parts = append([]Part{{Path: "Go and its library", Version: version, Dir: root}}, parts...)
	for i := range parts {
		if err := parts[i].read(i > 0); err != nil {
			return nil, err
		}
	}
	return parts, nil
}

// modules are those of the packages that `go list -json` names.
func modules(list []byte) ([]Part, error) {
	seen := map[string]Part{}
	for d := json.NewDecoder(bytes.NewReader(list)); ; {
		var p linkedPackage
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, err
		}
		m := p.Module
		if p.Standard || m == nil || m.Main {
			continue
		}
		part := Part{Path: m.Path, Version: m.Version, Dir: m.Dir}
		if m.Replace != nil {
			part.Version, part.Dir = m.Replace.Version, m.Replace.Dir
		}
		seen[m.Path] = part
	}
	var parts []Part
	for _, p := range seen {
		parts = append(parts, p)
	}
	slices.SortFunc(parts, func(a, b Part) int { return strings.Compare(a.Path, b.Path) })
	return parts, nil
}

var (
	licenceName = regexp.MustCompile(`(?i)^(un)?licen[cs]e|^copying|^third_party_licen[cs]es|^ftl|^gpl`)
	besideName  = regexp.MustCompile(`(?i)^(notice|patents|authors)`)
	notLinked   = regexp.MustCompile(`(?i)^(testdata|_?examples?|\..+)$`)
)

// read finds a part's texts: in all its folders where deep, else at its top.
func (p *Part) read(deep bool) error {
	var beside []Text
	err := filepath.WalkDir(p.Dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() {
			if path != p.Dir && (!deep || notLinked.MatchString(name)) {
				return fs.SkipDir
			}
			return nil
		}
		licence := licenceName.MatchString(name) || inLicences(p.Dir, path)
		if filepath.Ext(name) == ".go" || !licence && !besideName.MatchString(name) {
			return nil
		}
		body, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		within, err := filepath.Rel(p.Dir, path)
		if err != nil {
			return err
		}
		if t := (Text{filepath.ToSlash(within), string(body)}); licence {
			p.Texts = append(p.Texts, t)
		} else {
			beside = append(beside, t)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(p.Texts) == 0 {
		return fmt.Errorf("%s %s has no licence's text in %s; needed: one, or another module", p.Path, p.Version,
			p.Dir)
	}
	p.Texts = append(p.Texts, beside...)
	return nil
}

// inLicences says whether a file lies in a folder for licences.
func inLicences(dir, path string) bool {
	within, err := filepath.Rel(dir, filepath.Dir(path))
	return err == nil && licenceName.MatchString(filepath.Base(within))
}
