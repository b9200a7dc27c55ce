package archive

import "cmp"

// content is a file whose content was read, and what is known of that content.
type content struct {
	Entry Entry
	N     int   // the file's place in files.jsonl, from 0
	First int   // that of the first file with this content
	Done  *Done // nil where it is not measured yet
}

// eachContent gives the files of files.jsonl whose content was read, those of one
// content together and in the order of their names, with what the journal says.
// trouble is given the others, in the order of all names; it may be nil.
func (r Results) eachContent(s *Scratch, trouble func(n int, e Entry) error, each func(content) error) error {
	files, err := r.filesByContent(s, trouble)
	if err != nil {
		return err
	}
	sorted, err := sortedJournal(r, s)
	if err != nil {
		return err
	}
	journal := OpenBeside(sorted.All())
	defer journal.Close()
	var last content
	for c, err := range files.All() {
		if err != nil {
			return err
		}
		if c.Entry.SHA256 == last.Entry.SHA256 {
			c.First, c.Done = last.First, last.Done
		} else if c, err = c.know(journal); err != nil {
			return err
		}
		if err := each(c); err != nil {
			return err
		}
		last = c
	}
	return nil
}

// know looks a content up at its first file.
func (c content) know(journal *Beside[Done]) (content, error) {
	c.First = c.N
	d, there, err := journal.Find(func(d *Done) int { return cmp.Compare(d.SHA256, c.Entry.SHA256) })
	if there {
		c.Done = &d
	}
	return c, err
}

func (r Results) filesByContent(s *Scratch, trouble func(n int, e Entry) error) (*Table[content], error) {
	files := NewTable(s, func(c *content) []any { return []any{c.Entry.SHA256, c.N} })
	n := 0
	for e, err := range ReadLines[Entry](r, filesFile) {
		switch {
		case err != nil:
		case e.Trouble == nil:
			err = files.Add(content{Entry: e, N: n})
		case trouble != nil:
			err = trouble(n, e)
		}
		if err != nil {
			return nil, err
		}
		n++
	}
	return files, nil
}
