package words

import (
	"embed"
	"encoding/json"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"
)

// The files of the languages: JSON with a key a line, as `jq -S --indent 1` writes
// it. A command waits for its language's file, so only the keys are read then, and
// a text when it is asked for.
//
//go:embed lang/*.json
var files embed.FS

const (
	folder = "lang"
	ending = ".json"
)

// catalogues are the languages read so far, each a map of texts, as JSON, by key.
var catalogues sync.Map

// catalogue reads a language's file at its first use; a language that has no
// file has no texts. A file that cannot be read is a fault of the build, which
// the tests find.
func (l Lang) catalogue() map[string]string {
	if c, known := catalogues.Load(l); known {
		return c.(map[string]string)
	}
	texts := map[string]string{}
	if data, err := files.ReadFile(path.Join(folder, string(l)+ending)); err == nil {
		for line := range strings.Lines(string(data)) {
			if key, text, is := entryOf(line); is {
				texts[key] = text
			} else if line = strings.TrimSpace(line); line != "{" && line != "}" {
				panic("words: " + string(l) + ending + " has no key and text in: " + line)
			}
		}
	}
	c, _ := catalogues.LoadOrStore(l, texts)
	return c.(map[string]string)
}

// entryOf takes a line of a file apart: its key, and its text as JSON.
func entryOf(line string) (key, text string, is bool) {
	line = strings.TrimSuffix(strings.TrimSpace(line), ",")
	at := strings.Index(line, `": "`)
	if at < 1 || line[0] != '"' || line[len(line)-1] != '"' {
		return "", "", false
	}
	return line[1:at], line[at+3:], true
}

// plainText is a text that stands as JSON.
func plainText(quoted string) (text string) {
	if !strings.Contains(quoted, `\`) {
		return quoted[1 : len(quoted)-1]
	}
	if err := json.Unmarshal([]byte(quoted), &text); err != nil {
		panic("words: " + quoted + ": " + err.Error())
	}
	return text
}

// Has says whether a language has a text of its own for a key.
func Has(l Lang, key string) bool {
	_, there := l.catalogue()[key]
	return there
}

// Keys lists the keys of a language, sorted.
func Keys(l Lang) []string { return slices.Sorted(maps.Keys(l.catalogue())) }

// find gives a key's text as it stands in the file, in the language or else in
// English.
func (l Lang) find(key string) (text string, there bool) {
	if text, there = l.catalogue()[key]; !there && l != English {
		text, there = English.catalogue()[key]
	}
	if !there {
		return "", false
	}
	return plainText(text), true
}
