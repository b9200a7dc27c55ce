package desk

import (
	"io/fs"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/words"
)

// actions finds what can be clicked in a template, and saidIn the texts in it.
var (
	actions = regexp.MustCompile(`(?s)<button.*?</button>|` +
		`<(?:a|label)\b[^>]*class="[^"]*\b(?:go|button)\b.*?</(?:a|label)>`)
	// what a script may say later is no button's text
	later  = regexp.MustCompile(`(?s)data-[a-z]+="(?:[^"{]|\{\{.*?\}\})*"`)
	saidIn = regexp.MustCompile(`\{\{-?\s*t "([^"]+)"`)
	// vous is a word in the form that one says to a person.
	vous = regexp.MustCompile(`(?i)\b[a-zé]+ez\b`)
	// infinitives begin a sentence, or what to do after a colon.
	infinitive = regexp.MustCompile(`(?:^|[.:;] )([\pL’]+(?:er|ir))\b`)
)

// In French a button says what it does in the infinitive, and a sentence says vous.
func TestFrenchSaysButtonsAndSentencesInOneWay(t *testing.T) {
	seen := 0
	require.NoError(t, fs.WalkDir(files, "pages", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := fs.ReadFile(files, path)
		for _, action := range actions.FindAllString(string(text), -1) {
			for _, key := range saidIn.FindAllStringSubmatch(later.ReplaceAllString(action, ""), -1) {
				seen++
				assert.NotRegexp(t, vous, say("fr", key[1]), "the button desk.%s in %s", key[1], path)
			}
		}
		return err
	}))
	require.Greater(t, seen, 60, "the pages' buttons were found")
	for _, key := range words.Keys("fr") {
		key, ofDesk := strings.CutPrefix(key, "desk.")
		if !ofDesk {
			continue
		}
		text := words.Lang("fr").Text("desk." + key)
		if !strings.HasSuffix(text, ".") && !strings.HasSuffix(text, "?") {
			continue
		}
		for _, found := range infinitive.FindAllStringSubmatch(text, -1) {
			subject := key == "proof.leave.how" && found[1] == "écarter" // what is done, not what to do
			assert.True(t, subject, "desk.%s says “%s” to a person: %s", key, found[1], text)
		}
	}
}

// A sign never begins a line: the space that French sets before it does not break.
func TestFrenchSignsStayWithTheirWord(t *testing.T) {
	apart := regexp.MustCompile(` [:;!?»]|« `)
	seen := 0
	for _, key := range words.Keys(words.English) {
		if key, onPages := strings.CutPrefix(key, "desk."); onPages {
			text := say("fr", key)
			assert.NotRegexp(t, apart, text, key)
			if strings.Contains(text, "\u00a0") {
				seen++
			}
		}
	}
	assert.Greater(t, seen, 100)
}

// Before a colon French sets a space: each comes from the language's own texts, none from a template.
func TestColonsAreTheLanguages(t *testing.T) {
	colon := regexp.MustCompile(`\}\}(?:</\w+>)?:\s`)
	require.NoError(t, fs.WalkDir(files, "pages", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := fs.ReadFile(files, path)
		assert.NotRegexp(t, colon, string(text), path)
		return err
	}))
	b, _ := ownShop(t, "")
	b.readBars("199.6")
	b.form("/language", url.Values{"language": {"fr"}, "back": {"/"}})
	_, text := b.get("/settings/frame")
	assert.Contains(t, text, "Pour mousse et gel\u00a0:")
}
