package store

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// partPrefix begins the name of an upload that came in part, in the incoming folder.
const partPrefix = "part-"

// partLasts is how long a part waits for the rest of its photo.
const partLasts = 24 * time.Hour

// partPath is where the upload under a key is gathered.
func (s *Store) partPath(key string) string {
	sum := sha256.Sum256([]byte(key))
	return filepath.Join(s.dir, incomingDir, partPrefix+hex.EncodeToString(sum[:]))
}

// AppendPart adds to what is there of the upload under a key, where that ends at a place, and gives how much
// is there then, bytes. Elsewhere it adds nothing.
func (s *Store) AppendPart(key string, at int64, data []byte) (have int64, err error) {
	s.parts.Lock()
	defer s.parts.Unlock()
	f, err := os.OpenFile(s.partPath(key), os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return 0, explain(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil || info.Size() != at {
		return info.Size(), explain(err)
	}
	if _, err := f.WriteAt(data, at); err != nil {
		return at, explain(errors.Join(err, f.Truncate(at)))
	}
	return at + int64(len(data)), nil
}

// OpenPart opens what is there of an upload.
func (s *Store) OpenPart(key string) (*os.File, error) {
	f, err := os.Open(s.partPath(key))
	return f, explain(err)
}

// DropPart takes an upload's parts away.
func (s *Store) DropPart(key string) error {
	err := os.Remove(s.partPath(key))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return explain(err)
}

// isOld says whether an entry of the incoming folder can go when the store opens: all but a part of a photo
// whose rest may still come.
func (s *Store) isOld(name string) bool {
	if !strings.HasPrefix(name, partPrefix) {
		return true
	}
	info, err := os.Stat(filepath.Join(s.dir, incomingDir, name))
	return err != nil || time.Since(info.ModTime()) > partLasts
}
