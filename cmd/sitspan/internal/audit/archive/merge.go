package archive

import (
	"bytes"
	"context"
	"errors"
	"io"
	"iter"
	"os"
	"strings"

	"sitspan/cmd/sitspan/internal/words"
)

// Join joins the results of all shards of one audit into r, which is open and empty.
// The shards' folders are only read. id is what SameAudit gave.
func (r Results) Join(ctx context.Context, dirs []string, s *Scratch, id Identity) error {
	joined, err := gather(dirs, id.Key(), s)
	if err == nil {
		err = r.takeAll(ctx, dirs, joined)
	}
	if err == nil {
		err = r.WriteIdentity(id)
	}
	return err
}

// SameAudit checks that the folders hold every shard of one audit once, and gives
// the identity of the whole.
func SameAudit(dirs []string) (Identity, error) {
	var whole Identity
	seen := make(map[int]string)
	of := 0
	for i, dir := range dirs {
		id, err := Results{dir}.Identity()
		if err != nil {
			return whole, err
		}
		shard, err := ParseShard(id.Shard)
		if err != nil {
			return whole, words.Fault("error.of_file", words.Values{"file": dir, "why": err})
		}
		if i == 0 {
			whole, of = id, shard.Of
		}
		switch other, twice := seen[shard.Number]; {
		case shard.Of != of:
			return whole, words.Fault("error.merge.of", words.Values{
				"dir": dir, "shard": id.Shard, "first": dirs[0], "of": of,
			})
		case twice:
			return whole, words.Fault("error.merge.twice", words.Values{
				"a": other, "b": dir, "shard": id.Shard,
			})
		case id.Version != whole.Version || id.Model != whole.Model:
			return whole, words.Fault("error.merge.version", words.Values{
				"dir": dir, "version": id.Version, "first": dirs[0], "other": whole.Version,
			})
		case id.Folder != whole.Folder || !bytes.Equal(compact(id.Settings), compact(whole.Settings)):
			return whole, words.Fault("error.merge.settings", words.Values{"dir": dir, "first": dirs[0]})
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
		return whole, words.Fault("error.merge.missing", words.Values{
			"shards": strings.Join(missing, ", "), "of": of,
		})
	}
	whole.Shard = Shard{1, 1}.String()
	return whole, nil
}

// part is a file of a shard.
type part struct {
	Dir   int // the shard's place among the folders
	Entry Entry
	Done  *Done // nil where the content was not read
}

// shards are what several folders of results know together.
type shards struct {
	byName    *Table[part]
	byContent *Table[part] // those whose content was read
}

// gather reads the shards' lists, and checks that everything in them was measured
// before anything is copied.
func gather(dirs []string, key string, s *Scratch) (all shards, err error) {
	all.byName = NewTable(s, func(p *part) []any { return p.Entry.order() })
	all.byContent = NewTable(
		s, func(p *part) []any { return append([]any{p.Entry.SHA256}, p.Entry.order()...) },
	)
	for i, dir := range dirs {
		if shard := (Results{dir}); !shard.Has(filesFile) || !shard.Has(journalFile) {
			return all, words.Fault("error.merge.unlisted", words.Values{"dir": dir})
		}
		unread := func(_ int, e Entry) error { return all.byName.Add(part{i, e, nil}) }
		err := Results{dir}.eachContent(s, unread, func(c content) error {
			if c.Done == nil || c.Done.Key != key {
				return words.Fault("error.merge.unmeasured", words.Values{"dir": dir, "file": c.Entry.Path})
			}
			p := part{i, c.Entry, c.Done}
			return errors.Join(all.byName.Add(p), all.byContent.Add(p))
		})
		if err != nil {
			return all, err
		}
	}
	last := part{Dir: -1}
	for p, err := range all.byName.All() {
		if err != nil {
			return all, err
		}
		if last.Dir >= 0 && p.Dir != last.Dir && p.Entry.Path == last.Entry.Path {
			return all, words.Fault("error.merge.both", words.Values{
				"a": dirs[last.Dir], "b": dirs[p.Dir], "file": p.Entry.Path,
			})
		}
		last = p
	}
	return all, nil
}

// takeAll copies the records and the pictures, and writes the list of the files
// and a journal of them all.
func (r Results) takeAll(ctx context.Context, dirs []string, s shards) error {
	err := WriteLines(r, filesFile, func(yield func(Entry, error) bool) {
		for p, err := range s.byName.All() {
			if err == nil {
				err = ctx.Err()
			}
			if err == nil && p.Entry.Trouble != nil {
				err = r.copyFrom(
					Results{dirs[p.Dir]}, RecordPath(RecordName(p.Entry.Path, pathHash(p.Entry.Path))),
				)
			}
			if !yield(p.Entry, err) {
				return
			}
		}
	})
	if err != nil {
		return err
	}
	return WriteLines(r, journalFile, r.takeContents(ctx, dirs, s))
}

// takeContents copies what the shards know of each content. One that several
// shards measured is taken from the one whose file comes first.
func (r Results) takeContents(ctx context.Context, dirs []string, s shards) iter.Seq2[Done, error] {
	return func(yield func(Done, error) bool) {
		last := ""
		for p, err := range s.byContent.All() {
			if err == nil {
				err = ctx.Err()
			}
			if err != nil {
				yield(Done{}, err)
				return
			}
			if p.Entry.SHA256 == last {
				continue
			}
			last = p.Entry.SHA256
			if !yield(*p.Done, r.take(Results{dirs[p.Dir]}, p.Done)) {
				return
			}
		}
	}
}

// take copies what a shard knows of a content.
func (r Results) take(shard Results, d *Done) error {
	err := r.copyFrom(shard, RecordPath(d.Record))
	if !d.Overlay {
		return err
	}
	return errors.Join(
		err, r.copyFrom(shard, OverlayPath(d.Record)), r.copyFrom(shard, ThumbnailPath(d.Record)),
	)
}

// copyFrom links a file of another folder of results, or copies it where that
// cannot be done.
func (r Results) copyFrom(other Results, name string) error {
	if os.Link(other.Path(name), r.Path(name)) == nil {
		return nil
	}
	from, err := os.Open(other.Path(name))
	if err != nil {
		return err
	}
	defer from.Close()
	return r.WriteWhole(name, func(w io.Writer) error {
		_, err := io.Copy(w, from)
		return err
	})
}
