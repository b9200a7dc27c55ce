package audit

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"
)

// Merge joins the results of all shards of one audit into out, which must be new
// or empty, and explains them anew: the rows and the statistics are the bytes
// that a single run gives. The shards' folders are only read.
func Merge(ctx context.Context, dirs []string, out string, v Review) (*Account, error) {
	id, err := sameAudit(dirs)
	if err != nil {
		return nil, err
	}
	joined, err := gather(dirs, id.Key())
	if err != nil {
		return nil, err
	}
	r := results{out}
	if err := r.open(false); err != nil {
		return nil, err
	}
	known, err := r.takeAll(ctx, joined)
	if err != nil {
		return nil, err
	}
	if err := r.writeJSON(runFile, id); err != nil {
		return nil, err
	}
	if err := writeLines(r, filesFile, joined.entries); err != nil {
		return nil, err
	}
	return v.write(r, id, joined.entries, known)
}

// sameAudit checks that the folders hold every shard of one audit once, and gives
// the identity of the whole.
func sameAudit(dirs []string) (Identity, error) {
	var whole Identity
	seen := make(map[int]string)
	of := 0
	for i, dir := range dirs {
		id, err := results{dir}.readIdentity()
		if err != nil {
			return whole, err
		}
		shard, err := ParseShard(id.Shard)
		if err != nil {
			return whole, fmt.Errorf("%s: %w", dir, err)
		}
		if i == 0 {
			whole, of = id, shard.Of
		}
		switch other, twice := seen[shard.Number]; {
		case shard.Of != of:
			return whole, fmt.Errorf("%s holds shard %s, %s one of %d; needed: shards of one audit", dir, id.Shard, dirs[0], of)
		case twice:
			return whole, fmt.Errorf("%s and %s both hold shard %s; needed: each once", other, dir, id.Shard)
		case id.Version != whole.Version || id.Model != whole.Model:
			return whole, fmt.Errorf("%s was made by sitspan %s, %s by %s; needed: one version for all shards", dir, id.Version, dirs[0], whole.Version)
		case id.Folder != whole.Folder || !bytes.Equal(compact(id.Settings), compact(whole.Settings)):
			return whole, fmt.Errorf("%s was made of another folder or under other settings than %s; needed: shards of one audit", dir, dirs[0])
		}
		seen[shard.Number] = dir
	}
	var missing []string
	for n := 1; n <= of; n++ {
		if seen[n] == "" {
			missing = append(missing, Shard{n, of}.String())
		}
	}
	if len(missing) > 0 {
		return whole, fmt.Errorf("the audit is not whole: shard %s is missing; name the folders of all %d", strings.Join(missing, ", "), of)
	}
	whole.Shard = Shard{1, 1}.String()
	return whole, nil
}

// shards are what several folders of results know together.
type shards struct {
	entries []Entry                     // in the order of their paths
	from    map[string]results          // by path
	done    map[string]map[string]*Done // by folder and content
}

// gather reads the shards' lists, and checks that everything in them was measured
// before anything is written.
func gather(dirs []string, key string) (s shards, err error) {
	s.from, s.done = make(map[string]results), make(map[string]map[string]*Done)
	for _, dir := range dirs {
		part, err := readLines[Entry](results{dir}, filesFile)
		if err != nil {
			return s, err
		}
		journal, err := readLines[Done](results{dir}, journalFile)
		if err != nil {
			return s, err
		}
		s.done[dir] = lastOf(journal)
		for _, e := range part {
			if other, twice := s.from[e.Path]; twice {
				return s, fmt.Errorf("%s and %s both have %s; needed: shards of one audit", other.dir, dir, e.Path)
			}
			if d, there := s.done[dir][e.SHA256]; e.Trouble == nil && (!there || d.Key != key) {
				return s, fmt.Errorf("%s: %s is not measured yet; finish that shard by --resume", dir, e.Path)
			}
			s.from[e.Path] = results{dir}
		}
		s.entries = append(s.entries, part...)
	}
	slices.SortFunc(s.entries, func(a, b Entry) int { return cmp.Compare(a.Path, b.Path) })
	return s, nil
}

// takeAll copies the records and the pictures, and writes a journal of them all. A
// content that several shards measured is taken from the one whose file comes
// first.
func (r results) takeAll(ctx context.Context, s shards) (known map[string]*Done, err error) {
	known = make(map[string]*Done)
	for _, e := range s.entries {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := r.take(e, s, known); err != nil {
			return nil, err
		}
	}
	var lines []Done
	for _, hash := range slices.Sorted(maps.Keys(known)) {
		lines = append(lines, *known[hash])
	}
	return known, writeLines(r, journalFile, lines)
}

// take copies what a shard knows of a file.
func (r results) take(e Entry, s shards, known map[string]*Done) error {
	shard := s.from[e.Path]
	if e.Trouble != nil {
		return r.copyFrom(shard, recordPath(recordName(e.Path, pathHash(e.Path))))
	}
	if _, there := known[e.SHA256]; there {
		return nil
	}
	d := s.done[shard.dir][e.SHA256]
	known[e.SHA256] = d
	if err := r.copyFrom(shard, recordPath(d.Record)); err != nil {
		return err
	}
	if !d.Overlay {
		return nil
	}
	return errors.Join(r.copyFrom(shard, overlayPath(d.Record)), r.copyFrom(shard, thumbnailPath(d.Record)))
}

// copyFrom links a file of another folder of results, or copies it where that
// cannot be done.
func (r results) copyFrom(other results, name string) error {
	if os.Link(other.path(name), r.path(name)) == nil {
		return nil
	}
	from, err := os.Open(other.path(name))
	if err != nil {
		return err
	}
	defer from.Close()
	return r.writeWhole(name, func(w io.Writer) error {
		_, err := io.Copy(w, from)
		return err
	})
}

// compact is JSON without the spaces of its layout.
func compact(data []byte) []byte {
	var b bytes.Buffer
	if json.Compact(&b, data) != nil {
		return data
	}
	return b.Bytes()
}
