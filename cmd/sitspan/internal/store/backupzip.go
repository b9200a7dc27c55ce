package store

import (
	"archive/zip"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"time"
)

// The names in a back-up's file, beside the photos, which have their own.
const (
	backUpNote = "backup.json"
	backUpShop = "shop/" // files of the shop's settings
)

// backUpFormat is what a back-up's note says of itself.
const backUpFormat = "sitspan backup 1"

// note is what a back-up says of itself.
type note struct {
	Format string    `json:"format"`
	MadeAt time.Time `json:"made_at"`
	Schema int       `json:"schema"`
	Photos int       `json:"photos"`
}

// WriteBackUp writes one moment's state of the data folder as a zip, also while it changes: the database, its
// photos, and the shop's own files by their name. What it writes, ReadBackUp reads.
func (s *Store) WriteBackUp(ctx context.Context, w io.Writer, shop map[string]string) error {
	temp, err := os.MkdirTemp(filepath.Join(s.dir, incomingDir), "backup-*")
	if err != nil {
		return explain(err)
	}
	defer os.RemoveAll(temp)
	release, err := s.holdFiles() // so that no photo goes while it is copied
	if err != nil {
		return err
	}
	defer release()
	file := filepath.Join(temp, fileName)
	if _, err := s.db.ExecContext(ctx, "VACUUM INTO ?", file); err != nil {
		return explain(err)
	}
	names, err := photoNames(ctx, temp)
	if err != nil {
		return explain(err)
	}
	z := zip.NewWriter(w)
	text, err := json.Marshal(note{backUpFormat, now().UTC().Truncate(time.Second), Schema(), len(names)})
	if err == nil {
		err = addFile(z, backUpNote, text)
	}
	err = errors.Join(err, addFrom(z, fileName, file, zip.Deflate))
	for _, name := range names {
		if err == nil {
			err = addFrom(z, photoDir+"/"+name, filepath.Join(s.dir, photoDir, name), zip.Store)
		}
	}
	for name, path := range shop {
		if err == nil {
			err = addFrom(z, backUpShop+name, path, zip.Deflate)
		}
	}
	return errors.Join(err, z.Close())
}

// addFrom adds a file of the disk to a zip.
func addFrom(z *zip.Writer, name, path string, method uint16) error {
	in, err := os.Open(path)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: now()})
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return err
}
