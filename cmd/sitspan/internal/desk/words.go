package desk

import (
	"fmt"
	"strings"

	"sitspan/cmd/sitspan/internal/words"
)

// say gives a text of the desk's screens, words' key without its "desk.", with
// name, value pairs for its places.
func say(lang words.Lang, key string, pairs ...any) string {
	v := words.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		v[fmt.Sprint(pairs[i])] = pairs[i+1]
	}
	return unbroken.Replace(lang.Say("desk."+key, v))
}

// unbroken keeps a sign on the line of its word, where a language sets a space between the two.
var unbroken = strings.NewReplacer(" :", "\u00a0:", " ;", "\u00a0;", " !", "\u00a0!", " ?", "\u00a0?",
	" »", "\u00a0»", "« ", "«\u00a0")
