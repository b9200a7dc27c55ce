package desk

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"slices"
	"time"

	"sitspan/cmd/sitspan/internal/known"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/worker"
)

// mostCheckPhotos bounds the photos of one check.
const mostCheckPhotos = 6

// sentCheck is a check as a form sent it: what was typed, and photos in files of passing use.
type sentCheck struct {
	form
	Files []sentPhoto
}

// sentPhoto is a photo of a check as it came, and the file of it that is kept.
type sentPhoto struct {
	Name, Path, SHA256, Extension string
	Bare                          store.CheckPhoto // without its place and owner; none where it gave no picture
	BareSHA256                    string
}

func (s sentCheck) remove() {
	for _, f := range s.Files {
		os.Remove(f.Path)
		os.Remove(f.Bare.Path) // none is no file
	}
}

// newCheck measures photos of a known imprint, compares, and keeps the check with them.
func (d *Desk) newCheck(w http.ResponseWriter, r *http.Request) error {
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(2 * jobLimit)) // it is measured meanwhile
	s, err := d.receiveCheck(w, r)
	defer s.remove()
	if err != nil {
		return err
	}
	dist, err := d.distanceOf(s)
	if err != nil {
		return err
	}
	list, err := d.store.Checks(r.Context())
	if err != nil {
		return err
	}
	if err := d.stripCheck(r.Context(), s.Files); err != nil {
		return err
	}
	for _, f := range s.Files {
		id := max(known.CountedIn(list, f.SHA256), known.CountedIn(list, f.BareSHA256))
		if id > 0 {
			return &refusal{http.StatusConflict, d.say(r, "proof.fault.again", "name", f.Name, "n", id)}
		}
	}
	s.Files = eachOnce(s.Files)
	rec, err := d.measureCheck(r, s, dist)
	if err != nil {
		return err
	}
	dist.Print = d.shopNow().PrintKey(rec.Measurement.Medium)
	made := dist.Compare(rec.Measurement)
	var photos []store.CheckPhoto
	for _, f := range s.Files {
		if f.Bare.Path != "" {
			photos = append(photos, f.Bare)
		}
	}
	id, err := dist.Keep(r.Context(), d.store, rec, made, photos)
	if err != nil {
		return err
	}
	to := fmt.Sprintf("/proof/%d?new", id)
	if made.OneBall {
		to += "&one"
	}
	if made.ShallowMM > 0 {
		to += fmt.Sprintf("&deep=%.1f", made.ShallowMM)
	}
	if made.LikeBallMM > 0 {
		to += fmt.Sprintf("&like=%.0f", made.LikeBallMM)
	}
	return writeJSON(w, http.StatusOK, map[string]string{"go": to})
}

// eachOnce leaves out a photo that came twice: it would count as two views.
func eachOnce(files []sentPhoto) (once []sentPhoto) {
	for _, f := range files {
		if !slices.ContainsFunc(once, func(o sentPhoto) bool {
			return o.SHA256 == f.SHA256 || f.BareSHA256 != "" && o.BareSHA256 == f.BareSHA256
		}) {
			once = append(once, f)
		}
	}
	return once
}

// receiveCheck reads the form; each photo goes to the disk as it comes.
func (d *Desk) receiveCheck(w http.ResponseWriter, r *http.Request) (s sentCheck, err error) {
	s.form = d.newForm(r)
	r.Body = http.MaxBytesReader(w, r.Body, mostCheckPhotos*(d.limits.Bytes+1<<16))
	parts, err := r.MultipartReader()
	if err != nil {
		return s, &refusal{http.StatusUnsupportedMediaType, d.say(r, "proof.photos.none")}
	}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return s, d.broken(r, nil, err)
		}
		if part.FormName() != "photo" {
			text, err := io.ReadAll(io.LimitReader(part, 1000))
			if err != nil {
				return s, d.broken(r, nil, err)
			}
			s.Values[part.FormName()] = string(text)
			continue
		}
		if part.FileName() == "" { // no file was chosen
			continue
		}
		if len(s.Files) == mostCheckPhotos {
			return s, &refusal{http.StatusRequestEntityTooLarge, d.say(r, "upload.many", "most", mostCheckPhotos)}
		}
		f, err := d.receiveCheckPhoto(r, part)
		if err != nil {
			return s, err
		}
		s.Files = append(s.Files, f)
	}
	if len(s.Files) == 0 {
		return s, &refusal{http.StatusUnprocessableEntity, d.say(r, "proof.photos.none")}
	}
	return s, nil
}

func (d *Desk) receiveCheckPhoto(r *http.Request, part *multipart.Part) (f sentPhoto, err error) {
	in := bufio.NewReaderSize(part, headBytes)
	head, err := in.Peek(headBytes)
	if err != nil && !errors.Is(err, io.EOF) {
		return f, d.broken(r, nil, err)
	}
	f.Name, f.Extension = shortName(part.FileName()), kindOf(head)
	if f.Extension == "" {
		return f, &refusal{http.StatusUnsupportedMediaType, f.Name + ": " + d.say(r, noPhoto(head))}
	}
	f.Path, f.SHA256, err = d.store.Receive(in, d.limits.Bytes)
	if errors.Is(err, store.ErrTooLarge) {
		return f, &refusal{http.StatusRequestEntityTooLarge, d.say(r, "upload.large", "megabytes",
			d.limits.Bytes>>20)}
	}
	return f, err
}

// stripCheck makes the files that are kept of a check's photos: without their place and owner. The photos as
// they came are measured, since they name the phone.
func (d *Desk) stripCheck(ctx context.Context, files []sentPhoto) error {
	for i, f := range files {
		content, extension, err := d.bareOf(ctx, worker.Photo{Path: f.Path, Name: f.Name, SHA: f.SHA256})
		if err != nil {
			return err
		}
		if len(content) == 0 {
			continue
		}
		path, sum, err := d.store.Receive(bytes.NewReader(content), int64(len(content)))
		if err != nil {
			return err
		}
		files[i].Bare, files[i].BareSHA256 = store.CheckPhoto{Path: path, Extension: extension}, sum
	}
	return nil
}

// distanceOf reads what was typed, and says in one line what cannot be meant.
func (d *Desk) distanceOf(s sentCheck) (known.Distance, error) {
	dist := known.Distance{
		MM:         s.needed("distance", "proof.distance", "mm", 0.1, 1000),
		U:          s.number("u", "proof.u", "mm", 0.01, 5, known.DefaultU),
		DiameterMM: s.number("diameter", "proof.diameter", "mm", 10, 100, 0),
		Pad:        s.Values["pad"], Light: s.text("light", "proof.light", 80),
	}
	for _, name := range []string{"distance", "u", "diameter", "light"} {
		if fault := s.Faults[name]; fault != "" {
			return dist, &refusal{http.StatusUnprocessableEntity, fault}
		}
	}
	if _, there := d.shopNow().Pads[dist.Pad]; !there {
		dist.Pad = "" // found out
	}
	if fault := dist.Fault(); fault != known.NoFault {
		return dist, &refusal{http.StatusUnprocessableEntity, say(s.lang, "proof.fault."+string(fault),
			"mm", s.lang.Plain(dist.MM), "ten", s.lang.Plain(10*dist.MM), "low", known.LeastMM, "high", known.MostMM)}
	}
	return dist, nil
}

// measureCheck measures the photos as a rider's are, but for the shop's earlier checks: a check must not be
// corrected by them.
func (d *Desk) measureCheck(r *http.Request, s sentCheck, dist known.Distance) (record.Record, error) {
	set := store.SetUp{Pad: dist.Pad}
	if dist.Pad != "" {
		set.Medium = map[string]string{shop.Paper: "paper"}[d.shopNow().Pads[dist.Pad].Medium]
	}
	settings := d.settings(r.Context(), set)
	settings.Checks = nil
	var photos []worker.Photo
	for _, f := range s.Files {
		photos = append(photos, worker.Photo{Path: f.Path, Name: f.Name, SHA: f.SHA256})
	}
	answer, err := d.queue.do(r.Context(), settings, worker.Job{Sittings: [][]worker.Photo{photos}}, nil)
	if errors.Is(err, errBusy) || r.Context().Err() != nil {
		return record.Record{}, errors.Join(err, r.Context().Err())
	}
	if err != nil || answer.Record.Measurement.Status == record.Failed {
		d.logf("a check was not measured: %v", err)
		return record.Record{}, &refusal{http.StatusUnprocessableEntity, say(s.lang, "proof.failed")}
	}
	return answer.Record, nil
}
