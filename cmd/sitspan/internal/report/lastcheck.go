package report

import (
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/words"
)

// LastCheck says when a shop last checked its number against a known distance, or, by nil, that it never did.
func LastCheck(lang words.Lang, last *proof.Kept) string {
	if last == nil {
		return lang.Text("known.last.never")
	}
	key := "known.last.failed"
	if last.Verdict.Trusted() {
		key = "known.last.passed"
	}
	return lang.Say(key, words.Values{
		"date": last.MadeAt, "measured": last.MeasuredMM, "u": StatedU(lang, last.MeasuredU),
		"distance": last.DistanceMM,
	})
}
