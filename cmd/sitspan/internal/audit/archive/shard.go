package archive

import (
	"fmt"
	"hash/fnv"
	"regexp"
	"strconv"
	"strings"

	"sitspan/cmd/sitspan/internal/words"

	"golang.org/x/text/unicode/norm"
)

// Shard is a part of the files, for one of several machines: 1/1 is all.
type Shard struct{ Number, Of int }

// ParseShard reads "2/8".
func ParseShard(text string) (s Shard, err error) {
	number, of, found := strings.Cut(text, "/")
	s.Number, err = strconv.Atoi(number)
	if err == nil {
		s.Of, err = strconv.Atoi(of)
	}
	if !found || err != nil || s.Number < 1 || s.Number > s.Of {
		return Shard{}, words.Fault("error.shard", words.Values{"text": text})
	}
	return s, nil
}

// String is the shard as ParseShard reads it.
func (s Shard) String() string { return fmt.Sprintf("%d/%d", s.Number, s.Of) }

// pageName is the end of a page's name; see Entry.Page.
var pageName = regexp.MustCompile(`#[0-9]+$`)

// MustHold says whether a file that a reading names would be in the shard, if it is
// anywhere, however its umlauts are kept and whether or not it is a page.
func (s Shard) MustHold(name string) bool {
	file := pageName.ReplaceAllString(name, "")
	for _, form := range []string{name, norm.NFD.String(name), file, norm.NFD.String(file)} {
		if !s.Holds(form) {
			return false
		}
	}
	return true
}

// Holds says whether a file is in the shard, by its name alone, so that machines
// agree without speaking to one another.
func (s Shard) Holds(path string) bool {
	if s.Of <= 1 {
		return true
	}
	h := fnv.New64a()
	h.Write([]byte(path))
	return h.Sum64()%uint64(s.Of) == uint64(s.Number-1)
}
