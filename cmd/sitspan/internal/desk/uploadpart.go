package desk

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
)

// A part of a photo comes as the body of a request. These are its headers: the upload's own key, the
// photo's name, its size in bytes, and where in it the part begins.
const (
	partKey  = "X-Sitspan-Upload"
	partName = "X-Sitspan-Name"
	partSize = "X-Sitspan-Size"
	partAt   = "X-Sitspan-At"
)

// receivePart takes a part of a photo, so that a slow line that breaks costs one part. The answer says how
// much is there, from where the phone goes on; with the last part it is that of a whole photo.
func (d *Desk) receivePart(w http.ResponseWriter, r *http.Request, visitID int64, via string) error {
	size, err := strconv.ParseInt(r.Header.Get(partSize), 10, 64)
	at, err2 := strconv.ParseInt(r.Header.Get(partAt), 10, 64)
	if err == nil && size == 0 {
		return &refusal{http.StatusUnsupportedMediaType, d.say(r, noPhoto(nil))}
	}
	if err != nil || err2 != nil || size < 0 || at < 0 {
		return &refusal{http.StatusBadRequest, d.say(r, "upload.none")}
	}
	if size > d.limits.Bytes {
		return &refusal{http.StatusRequestEntityTooLarge, d.say(r, "upload.large", "megabytes", d.limits.Bytes>>20)}
	}
	data, err := io.ReadAll(r.Body) // bounded as every form is
	if err != nil || at+int64(len(data)) > size {
		return &refusal{http.StatusBadRequest, d.say(r, "upload.broken")}
	}
	key := fmt.Sprintf("%d %s %d %s", visitID, via, size, r.Header.Get(partKey))
	have, err := d.store.AppendPart(key, at, data)
	if err != nil {
		return err
	}
	if have < size {
		return writeJSON(w, http.StatusOK, map[string]int64{"at": have})
	}
	return d.receiveGathered(w, r, key, visitID, via)
}

// receiveGathered takes a photo whose parts are all there.
func (d *Desk) receiveGathered(w http.ResponseWriter, r *http.Request, key string, visitID int64,
	via string) error {
	whole, err := d.store.OpenPart(key)
	if err != nil {
		return err
	}
	defer whole.Close()
	name, err := url.PathUnescape(r.Header.Get(partName))
	if err != nil {
		name = ""
	}
	one := []received{d.receiveOne(r, whole, name, visitID, via)}
	if uploadStatus(one) < http.StatusInternalServerError { // taken, or refused for good
		if err := d.store.DropPart(key); err != nil {
			d.logf("the parts of a photo that was taken are left: %v", err)
		}
	}
	return writeJSON(w, uploadStatus(one), map[string]any{"photos": one})
}
