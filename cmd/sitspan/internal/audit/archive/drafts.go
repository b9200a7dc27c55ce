package archive

// Throughput is how long the photos took, in seconds of their workers.
type Throughput struct {
	Photos                 int
	Seconds, DecodeSeconds float64
}

func (t *Throughput) add(d *Done) {
	t.Photos++
	t.Seconds += d.Seconds
	t.DecodeSeconds += d.DecodeSeconds
}

// Found is what a folder of results holds, file by file.
type Found struct {
	Drafts     *Table[Draft] // in the order of the files' names
	Throughput Throughput
	looks      *Table[look] // of the contents that may be compared with others
}

// Find reads the list of the files, the journal and the records. step is called
// for each file.
func Find(r Results, s *Scratch, step func()) (Found, error) {
	found := Found{
		Drafts: NewTable(s, func(d *Draft) []any { return []any{d.N} }),
		looks:  NewTable(s, (*look).order),
	}
	var f finding // of the last content
	err := r.eachContent(s, func(n int, e Entry) error {
		step()
		return found.Drafts.Add(Draft{N: n, Content: n, File: troubleFile(e)})
	}, func(c content) (err error) {
		step()
		if c.N == c.First {
			if f, err = loadFinding(r, c); err != nil {
				return err
			}
			found.Throughput.add(c.Done)
			if f.look != nil {
				if err := found.looks.Add(*f.look); err != nil {
					return err
				}
			}
		}
		return found.Drafts.Add(Draft{N: c.N, Content: c.First, File: f.file(c.Entry), Shared: f.shared})
	})
	return found, err
}
