package framewords

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/calibration/artwork"
	"sitspan/cmd/sitspan/internal/words"
)

// The frame's words fit in every language, on both papers; the English ones are
// those that the frame has by itself.
func TestFrameInEveryLanguage(t *testing.T) {
	own, handed := artwork.English(), Of(words.English)
	assert.Equal(t, own.Dots(2, 4), handed.Dots(2, 4))
	own.Dots, handed.Dots = nil, nil
	assert.Equal(t, own, handed)
	for _, lang := range words.Langs() {
		for _, paper := range []artwork.Paper{artwork.A4, artwork.Letter} {
			for _, medium := range []calibration.Medium{calibration.Foam, calibration.Paper} {
				w := AtDesk(lang)
				assert.NotContains(t, fmt.Sprint(w), "sitspan frame", "a command on a counter's print")
				assert.Len(t, w.Measure, 5, lang)
				_, err := artwork.Draw(
					calibration.ControlFrame,
					artwork.Options{Paper: paper, Medium: medium, Words: w},
				)
				require.NoError(t, err, "%s, %s, %s", lang, paper, medium)
				_, err = artwork.DrawDots(1, artwork.Options{Paper: paper, Words: w})
				require.NoError(t, err, "%s, %s, dots", lang, paper)
			}
		}
	}
}
