package report

import "sitspan/cmd/sitspan/internal/words"

// Spoken is a reason or a warning as people read it: what was seen, and what to
// do about it.
type Spoken struct{ Seen, Do string }

// SpeakReason gives a reason in a language. English is the measurement's own
// message, which has the numbers; German has a sentence for each code, and the
// English one for a code that a newer record brings.
func SpeakReason(lang words.Lang, code, message, hint string) Spoken {
	if lang == words.German {
		if g, known := germanReasons[code]; known {
			return g
		}
	}
	return Spoken{message, hint}
}

// BudgetSource gives a budget line's source in a language.
func BudgetSource(lang words.Lang, source string) string {
	if lang == words.German {
		if g, known := germanBudget[source]; known {
			return g
		}
	}
	return source
}
