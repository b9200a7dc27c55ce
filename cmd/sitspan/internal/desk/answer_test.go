package desk

import (
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/assert"

	"sitspan/fit"
)

// The browser's order counts, and its weights (RFC 9110, 12.5.4); a language that there is none of gives English.
func TestLanguageIsTheBrowsersBest(t *testing.T) {
	for header, want := range map[string]fit.Lang{
		"": fit.English, "de": fit.German, "de-AT,en;q=0.5": fit.German, "en;q=0.4, de;q=0.9": fit.German,
		"en-GB, de;q=0.9": fit.English, "ja,ko;q=0.9": fit.English, "ja, de;q=0.2": fit.German,
		"gsw": fit.German, "*": fit.English, "de;q=x": fit.English, ";;;": fit.English,
	} {
		r := httptest.NewRequest("GET", "/", nil)
		r.Header.Set("Accept-Language", header)
		assert.Equal(t, want, language(r), "%q", header)
	}
}
