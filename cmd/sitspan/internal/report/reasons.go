package report

import "sitspan/fit"

// Spoken is a reason or a warning as people read it: what was seen, and what to
// do about it.
type Spoken struct{ Seen, Do string }

// Sentences are both as two sentences of a text.
func (s Spoken) Sentences() string { return capital(s.Seen) + ". " + capital(s.Do) + "." }

// SpeakReason gives a reason in a language. English is the measurement's own
// message, which has the numbers; German has a sentence for each code, and the
// English one for a code that a newer record brings.
func SpeakReason(lang fit.Lang, code, message, hint string) Spoken {
	if lang == fit.German {
		if g, known := germanReasons[code]; known {
			return g
		}
	}
	return Spoken{message, hint}
}

// BudgetSource gives a budget line's source in a language.
func BudgetSource(lang fit.Lang, source string) string {
	if lang == fit.German {
		if g, known := germanBudget[source]; known {
			return g
		}
	}
	return source
}
