package desk

import (
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/assert"

	"sitspan/cmd/sitspan/internal/words"
)

// The browser's order counts, and its weights (RFC 9110, 12.5.4); a language that there is none of gives
// English.
func TestLanguageIsTheBrowsersBest(t *testing.T) {
	for header, want := range map[string]words.Lang{
		"": words.English, "de": words.German, "de-AT,en;q=0.5": words.German, "en;q=0.4, de;q=0.9": words.German,
		"en-GB, de;q=0.9": words.English, "ja,ko;q=0.9": words.English, "ja, de;q=0.2": words.German,
		"gsw": words.German, "*": words.English, "de;q=x": words.English, ";;;": words.English,
	} {
		r := httptest.NewRequest("GET", "/", nil)
		r.Header.Set("Accept-Language", header)
		assert.Equal(t, want, language(r), "%q", header)
	}
}
