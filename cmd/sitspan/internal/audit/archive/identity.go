package archive

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"os"

	"sitspan/cmd/sitspan/internal/words"
)

// toolName is what an identity's Tool is.
const toolName = "sitspan audit"

// Schema is the version of the layout of a folder of results.
const Schema = 1

// Identity says under what an audit was made. What was measured under another
// key is measured again.
type Identity struct {
	Schema   int             `json:"schema"`
	Tool     string          `json:"tool"`
	Version  string          `json:"version"`
	Model    string          `json:"model"`
	Settings json.RawMessage `json:"settings"`
	Folder   string          `json:"folder"` // its own name, without where it lies
	Shard    string          `json:"shard"`
}

// Key changes where the version, the weights or a setting does that a
// measurement depends on.
func (id Identity) Key() string {
	data, err := json.Marshal([]any{id.Version, id.Model, string(compact(id.Settings))})
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:8])
}

// WriteIdentity says under what the results are made.
func (r Results) WriteIdentity(id Identity) error {
	id.Schema, id.Tool = Schema, toolName
	return r.WriteJSON(runFile, id)
}

// Identity reads under what the results were made.
func (r Results) Identity() (id Identity, err error) {
	if id, err = r.read(); err != nil {
		return id, err
	}
	switch {
	case id.Schema > Schema:
		return id, words.Fault("error.audit.newer", words.Values{
			"file": r.Path(runFile), "schema": id.Schema, "known": Schema,
		})
	case id.Schema < 1:
		return id, words.Fault("error.audit.schema", words.Values{
			"file": r.Path(runFile), "schema": id.Schema,
		})
	}
	return id, nil
}

func (r Results) read() (id Identity, err error) {
	data, err := os.ReadFile(r.Path(runFile))
	if err != nil {
		return id, words.Fault("error.audit.none", words.Values{"dir": r.Dir, "why": err})
	}
	if err := json.Unmarshal(data, &id); err != nil {
		return id, words.Fault("error.of_file", words.Values{"file": r.Path(runFile), "why": err})
	}
	return id, nil
}

// compact is JSON without the spaces of its layout.
func compact(data []byte) []byte {
	var b bytes.Buffer
	if json.Compact(&b, data) != nil {
		return data
	}
	return b.Bytes()
}
