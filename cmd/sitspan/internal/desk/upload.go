package desk

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"mime"
	"net/http"
	"path/filepath"
	"strings"

	"sitspan/cmd/sitspan/internal/store"
)

// The bounds of one upload request.
const (
	mostPhotos = 24
	headBytes  = 64 // that tell a photo's kind
)

// isUpload says whether a request carries photos, whose handler bounds them.
func isUpload(r *http.Request) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	return err == nil && kind == "multipart/form-data"
}

// kinds are the beginnings of the files that are taken, and their extensions. A
// '?' stands for any byte.
var kinds = []struct{ magic, extension string }{
	{"\xff\xd8\xff", ".jpg"},
	{"\x89PNG\r\n\x1a\n", ".png"},
	{"II*\x00", ".tif"},
	{"MM\x00*", ".tif"},
	{"RIFF????WEBPVP8", ".webp"},
	{"????ftyphei", ".heic"},
	{"????ftyphev", ".heic"},
	{"????ftypmif1", ".heic"},
	{"????ftypmsf1", ".heic"},
}

// kindOf tells a photo by its content; empty for anything else.
func kindOf(head []byte) (extension string) {
	for _, k := range kinds {
		if len(head) >= len(k.magic) && startsAs(head, k.magic) {
			return k.extension
		}
	}
	return ""
}

// noPhoto is the key of what is said of a file that is none.
func noPhoto(head []byte) string {
	switch {
	case len(head) == 0:
		return "upload.empty"
	case bytes.HasPrefix(head, []byte("%PDF")):
		return "upload.pdf"
	}
	return "upload.type"
}

func startsAs(head []byte, magic string) bool {
	for i := range len(magic) {
		if magic[i] != '?' && magic[i] != head[i] {
			return false
		}
	}
	return true
}

// received is what became of one file of an upload.
type received struct {
	Name  string `json:"name"`
	ID    int64  `json:"id,omitempty"`
	Again bool   `json:"again,omitempty"` // the visit has this photo already
	Error string `json:"error,omitempty"`
	err   error
}

// refusal is an error that the fitter can do something about, with the status
// that goes with it.
type refusal struct {
	status int
	text   string
}

func (e *refusal) Error() string { return e.text }

// receive takes the photos of an upload, one by one, each written to the disk
// as it comes; none is held in memory.
func (d *Desk) receive(w http.ResponseWriter, r *http.Request, visitID int64, via string) error {
	if r.Header.Get(partKey) != "" {
		return d.receivePart(w, r, visitID, via)
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostPhotos*(d.limits.Bytes+1<<16))
	parts, err := r.MultipartReader()
	if err != nil {
		return &refusal{http.StatusUnsupportedMediaType, d.say(r, "upload.none")}
	}
	var files []received
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return d.broken(r, files, err)
		}
		if part.FormName() != "photo" || part.FileName() == "" {
			continue
		}
		if len(files) == mostPhotos {
			return &refusal{http.StatusRequestEntityTooLarge, d.say(r, "upload.many", "most", mostPhotos)}
		}
		files = append(files, d.receiveOne(r, part, part.FileName(), visitID, via))
	}
	if len(files) == 0 {
		return &refusal{http.StatusBadRequest, d.say(r, "upload.none")}
	}
	return writeJSON(w, uploadStatus(files), map[string]any{"photos": files})
}

// broken is the answer to an upload that ended too early. Photos that came
// whole are kept, and sending them again does no harm.
func (d *Desk) broken(r *http.Request, files []received, err error) error {
	d.logf("an upload broke off after %d photos", len(files))
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return &refusal{http.StatusRequestEntityTooLarge, d.say(r, "upload.large", "megabytes", d.limits.Bytes>>20)}
	}
	return &refusal{http.StatusBadRequest, d.say(r, "upload.broken")}
}

// uploadStatus is 200 where any photo was taken, else the first file's trouble.
func uploadStatus(files []received) int {
	for _, f := range files {
		if f.err == nil {
			return http.StatusOK
		}
	}
	return statusOf(files[0].err)
}

func (d *Desk) receiveOne(r *http.Request, from io.Reader, name string, visitID int64, via string) received {
	f := received{Name: shortName(name)}
	in := bufio.NewReaderSize(from, headBytes)
	head, err := in.Peek(headBytes)
	if err != nil && !errors.Is(err, io.EOF) {
		return f.failed(r, &refusal{http.StatusBadRequest, d.say(r, "upload.broken")})
	}
	extension := kindOf(head)
	if extension == "" {
		io.Copy(io.Discard, io.LimitReader(in, d.limits.Bytes)) // so that the next part can be read
		return f.failed(r, &refusal{http.StatusUnsupportedMediaType, d.say(r, noPhoto(head))})
	}
	shot, err := d.store.AddPhoto(r.Context(), visitID, f.Name, via, extension, in, d.limits.Bytes)
	switch {
	case errors.Is(err, store.ErrTooLarge):
		return f.failed(r, &refusal{http.StatusRequestEntityTooLarge,
			d.say(r, "upload.large", "megabytes", d.limits.Bytes>>20)})
	case errors.Is(err, store.ErrDiskFull):
		d.logf("%v", err)
		return f.failed(r, &refusal{http.StatusInsufficientStorage, d.say(r, "disk.full")})
	case err != nil:
		return f.failed(r, err)
	}
	if f.ID, f.Again = shot.ID, shot.Again; f.Again {
		d.takeUp(shot) // it may have been deleted before it was measured
		d.settle(context.WithoutCancel(r.Context()), visitID)
		return f
	}
	d.measure(shot)
	return f
}

func (f received) failed(r *http.Request, err error) received {
	f.err, f.Error = err, faultText(language(r), err)
	return f
}

// shortName is a file's name for showing: no folder, no control characters, not
// too long.
func shortName(name string) string {
	name = filepath.Base(strings.ReplaceAll(name, `\`, "/"))
	name = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == '\ufffd' {
			return -1
		}
		return r
	}, name)
	const most = 80
	if runes := []rune(name); len(runes) > most {
		name = string(runes[len(runes)-most:])
	}
	if len(bytes.Trim([]byte(name), ". /")) == 0 {
		return "photo"
	}
	return name
}

func (d *Desk) uploadAtDesk(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	return d.receive(w, r, v.ID, "desk")
}
