package store

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// exportedVisit is a visit as an export holds it.
type exportedVisit struct {
	MadeAt     time.Time        `json:"made_at"`
	MassKg     float64          `json:"mass_kg,omitempty"`
	Complaints []string         `json:"complaints,omitempty"`
	Note       string           `json:"note,omitempty"`
	Bikes      []exportedBike   `json:"bikes"`
	SetUp      SetUp            `json:"set_up"`
	Photos     []exportedPhoto  `json:"photos"`
	Records    []exportedRecord `json:"records"`
	Sheets     []string         `json:"sheets,omitempty"`
}

type exportedBike struct {
	Name    string  `json:"name,omitempty"`
	Use     string  `json:"use,omitempty"`
	Posture Posture `json:"posture"`
	Saddle  Saddle  `json:"saddle,omitzero"`
}

// exportedPhoto lists both hashes: the record's, of the photo as it came, and
// that of the file in the export, which says less.
type exportedPhoto struct {
	File           string `json:"file"`
	SHA256         string `json:"sha256"`
	OriginalSHA256 string `json:"original_sha256"`
	Sitting        int    `json:"sitting"`
	LeftOut        bool   `json:"left_out,omitempty"`
}

type exportedRecord struct {
	Kind    string        `json:"kind"`
	Counts  bool          `json:"counts,omitempty"` // this is the one that counts
	Photo   string        `json:"original_sha256,omitempty"`
	Content record.Record `json:"record"`
}

// Plain gives a shot's picture without anything that measuring does not need,
// and the extension of the file that this makes.
type Plain func(ctx context.Context, shot Shot) (content []byte, extension string, err error)

// Export writes all that is kept of a rider as a zip: rider.json, and the photos
// as plain makes them.
func (s *Store) Export(ctx context.Context, w io.Writer, riderID int64, plain Plain) error {
	rider, err := s.Rider(ctx, riderID)
	if err != nil {
		return err
	}
	visits, err := s.Visits(ctx, riderID)
	if err != nil {
		return err
	}
	archive := zip.NewWriter(w)
	out := struct {
		Format string          `json:"format"`
		Alias  string          `json:"alias"`
		Visits []exportedVisit `json:"visits"`
	}{Format: "sitspan rider 1", Alias: rider.Alias, Visits: []exportedVisit{}}
	for i, v := range visits {
		e, err := s.exportVisit(ctx, archive, fmt.Sprintf("visit-%d", i+1), v, plain)
		if err != nil {
			return err
		}
		out.Visits = append(out.Visits, e)
	}
	text, err := json.MarshalIndent(out, "", "  ")
	if err != nil {
		return err
	}
	if err := addFile(archive, "rider.json", text); err != nil {
		return err
	}
	return archive.Close()
}

func addFile(archive *zip.Writer, name string, content []byte) error {
	f, err := archive.Create(name)
	if err == nil {
		_, err = f.Write(content)
	}
	return err
}

func (s *Store) exportVisit(ctx context.Context, archive *zip.Writer, folder string, v Visit,
	plain Plain) (e exportedVisit, err error) {
	e = exportedVisit{MadeAt: v.MadeAt.UTC(), MassKg: v.MassKg, Complaints: v.Complaints, Note: v.Note,
		SetUp: v.SetUp,
		Bikes: []exportedBike{}, Photos: []exportedPhoto{}, Records: []exportedRecord{}}
	for _, b := range v.Bikes {
		e.Bikes = append(e.Bikes, exportedBike{b.Name, b.Use, b.Posture, b.Saddle})
	}
	hashes, err := s.exportPhotos(ctx, archive, folder, v, plain, &e)
	if err != nil {
		return e, err
	}
	records, err := s.Records(ctx, v.ID)
	if err != nil {
		return e, err
	}
	for _, k := range records {
		e.Records = append(e.Records, exportedRecord{k.Kind, k.ID == v.Current, hashes[k.ShotID], k.Record})
	}
	sheets, err := s.Sheets(ctx, v.ID)
	if err != nil {
		return e, err
	}
	for i, sh := range sheets {
		pdf, err := s.SheetPDF(ctx, sh.ID)
		if err != nil {
			return e, err
		}
		name := fmt.Sprintf("%s/sheet-%d-%s.pdf", folder, len(sheets)-i, sh.Lang)
		if err := addFile(archive, name, pdf); err != nil {
			return e, err
		}
		e.Sheets = append(e.Sheets, name)
	}
	return e, nil
}

func (s *Store) exportPhotos(ctx context.Context, archive *zip.Writer, folder string, v Visit, plain Plain,
	e *exportedVisit) (map[int64]string, error) {
	shots, err := s.Shots(ctx, v.ID)
	if err != nil {
		return nil, err
	}
	hashes := map[int64]string{}
	for _, shot := range shots {
		hashes[shot.ID] = shot.Original
		content, extension, err := plain(ctx, shot)
		if err != nil {
			return nil, words.Fault("error.store.photo", words.Values{"name": shot.Name, "why": err})
		}
		p := exportedPhoto{OriginalSHA256: shot.Original, Sitting: shot.Sitting, LeftOut: shot.LeftOut}
		if content != nil { // nil: no picture that could be read
			sum := sha256.Sum256(content)
			p.SHA256 = hex.EncodeToString(sum[:])
			p.File = fmt.Sprintf("%s/%s%s", folder, shot.SHA256[:16], extension)
			if err := addFile(archive, p.File, content); err != nil {
				return nil, err
			}
		}
		e.Photos = append(e.Photos, p)
	}
	return hashes, nil
}
