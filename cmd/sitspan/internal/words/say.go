package words

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/feature/plural"
)

// Values are what a text's places are filled with, by name: numbers, texts,
// days, lists of terms.
type Values map[string]any

// Say gives a key's text with its places filled. A key that the language lacks
// is said in English. One that English lacks too, as a newer version's record
// may hold, is shown with its values, so that nothing is lost.
func (l Lang) Say(key string, v Values) string {
	if text, there := l.find(key); there {
		return l.fill(text, v)
	}
	return strings.TrimSpace(key + " " + bare(v))
}

// Text is Say for a text without places.
func (l Lang) Text(key string) string { return l.Say(key, nil) }

// Labelled puts a label before a text: "Saddle: narrow".
func (l Lang) Labelled(label, text string) string {
	return l.Say("join.label", Values{"label": label, "text": text})
}

// Head is a label alone, as Labelled writes it: "Saddle:".
func (l Lang) Head(label string) string { return l.Say("join.head", Values{"label": label}) }

// Joined puts parts of a sentence after each other: "a; b; c".
func (l Lang) Joined(parts ...string) (all string) {
	for i, part := range parts {
		if i == 0 {
			all = part
			continue
		}
		all = l.Say("join.list", Values{"first": all, "then": part})
	}
	return all
}

// Count is Say for a number of things: the text of KEY.one, KEY.other or
// whichever form the language has for n, which is the place {n} as well.
func (l Lang) Count(key string, n int, v Values) string {
	if len(l.catalogue()) == 0 {
		l = English
	}
	all := Values{"n": n}
	for name, value := range v {
		all[name] = value
	}
	forms := map[plural.Form]string{
		plural.Zero: "zero", plural.One: "one", plural.Two: "two", plural.Few: "few", plural.Many: "many",
	}
	form := forms[plural.Cardinal.MatchPlural(l.tag(), n, 0, 0, 0, 0)]
	if !Has(l, key+"."+form) {
		form = "other"
	}
	return l.Say(key+"."+form, all)
}

// Note says what a note of package fit says: its code and its values.
func (l Lang) Note(code string, v Values) string {
	if text, there := l.find("note." + code); there {
		return l.fill(text, v)
	}
	return strings.TrimSpace(code + " " + bare(v))
}

// Term gives the word for a fixed term (a use, a relief, a damper, a
// complaint), or the term itself where there is none.
func (l Lang) Term(term string) string {
	if text, there := l.find("term." + term); there {
		return text
	}
	return term
}

func bare(v Values) string {
	if len(v) == 0 {
		return ""
	}
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Sprint(map[string]any(v))
	}
	return string(b)
}

// fill puts the values into a text. A brace that is never closed stays, and so
// does a place without a value.
func (l Lang) fill(text string, v Values) string {
	var b strings.Builder
	for {
		before, rest, found := strings.Cut(text, "{")
		b.WriteString(before)
		if !found {
			return b.String()
		}
		place, after, closed := strings.Cut(rest, "}")
		if !closed {
			b.WriteString("{" + rest)
			return b.String()
		}
		name, format, _ := strings.Cut(place, "|")
		if value, given := v[name]; given {
			b.WriteString(l.formatted(value, format))
		} else {
			b.WriteString("{" + place + "}")
		}
		text = after
	}
}

// formatted writes one value. The formats are
//
//	(none)    a number with at most one decimal, anything else as it is
//	0, 1, 2   a number with so many decimals
//	+1        the same with its sign
//	count     a whole number with thin spaces between its thousands
//	mm, kg    a number with at most one decimal, and the unit
//	deg       an angle in degrees
//	pct       a probability in per cent, see Percent
//	full      a number with all its digits, as flags and files take it
//	line      a text on one line: control characters are their escapes
//	date      a day, see Date
//	term      a term's word; terms: those of a list
func (l Lang) formatted(v any, format string) string {
	switch format {
	case "term":
		return l.Term(fmt.Sprint(v))
	case "terms":
		return l.terms(v)
	case "line":
		return onOneLine(fmt.Sprint(v))
	case "date":
		if t, ok := v.(time.Time); ok {
			return l.Date(t)
		}
	}
	switch x := v.(type) {
	case error:
		return l.Error(x)
	case Key:
		return l.Text(string(x))
	case Either:
		return l.either(x)
	case []string:
		return l.either(x)
	}
	f, isNumber := asFloat(v)
	if !isNumber {
		return fmt.Sprint(v)
	}
	switch format {
	case "full":
		return strconv.FormatFloat(f, 'g', -1, 64)
	case "mm", "kg":
		return l.Plain(f) + " " + format
	case "count":
		return thousands(int(f))
	case "deg":
		return l.Degrees(f)
	case "pct":
		return l.Percent(f)
	}
	if n, err := strconv.Atoi(strings.TrimPrefix(format, "+")); err == nil {
		if strings.HasPrefix(format, "+") {
			return l.Signed(f, n)
		}
		return l.Number(f, n)
	}
	return l.Plain(f)
}

// onOneLine shows control characters, which could move a terminal's cursor, by
// their escapes.
func onOneLine(text string) string {
	if !strings.ContainsFunc(text, unicode.IsControl) {
		return text
	}
	quoted := strconv.Quote(text)
	return quoted[1 : len(quoted)-1]
}

// thousands sets a thin space between thousands, as ISO 80000-1 does in every
// language (7.3.1; the clause from memory, the standard settles it).
func thousands(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "\u202f" + s[i:]
	}
	return s
}

func asFloat(v any) (float64, bool) {
	switch x := v.(type) {
	case float64:
		return x, true
	case float32:
		return float64(x), true
	case int:
		return float64(x), true
	case int64:
		return float64(x), true
	case json.Number:
		f, err := x.Float64()
		return f, err == nil
	}
	return 0, false
}

// terms writes a list of terms; a record read back from JSON holds []any.
func (l Lang) terms(v any) string {
	var words []string
	switch list := v.(type) {
	case []string:
		for _, t := range list {
			words = append(words, l.Term(t))
		}
	case []any:
		for _, t := range list {
			words = append(words, l.Term(fmt.Sprint(t)))
		}
	default:
		return fmt.Sprint(v)
	}
	return strings.Join(words, ", ")
}
