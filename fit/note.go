package fit

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
)

// Lang is a language that notes and sheets are written in.
type Lang string

// The languages of the catalogue.
const (
	English Lang = "en"
	German  Lang = "de"
)

// Langs lists the languages of the catalogue, the default first.
func Langs() []Lang { return []Lang{English, German} }

// ParseLang reads a language as --lang gives it: en or de, also as a locale
// ("de_AT.UTF-8") or by name.
func ParseLang(s string) (Lang, error) {
	name := strings.ToLower(strings.TrimSpace(s))
	short, _, _ := strings.Cut(strings.ReplaceAll(name, "-", "_"), "_")
	switch short {
	case "en", "english", "englisch":
		return English, nil
	case "de", "german", "deutsch":
		return German, nil
	}
	return "", fmt.Errorf("language %q is not known: use en or de", s)
}

// Note is something a fitter or rider should read: a stable code, and the
// values that its sentence mentions. The sentence itself is in the catalogue
// (catalogue*.go), so that a record can be printed years later in either
// language.
type Note struct {
	Code   string         `json:"code"`
	Params map[string]any `json:"params,omitempty"`
}

// note builds a Note from a code and name, value pairs.
func note(code string, pairs ...any) Note {
	n := Note{Code: code}
	for i := 0; i+1 < len(pairs); i += 2 {
		if n.Params == nil {
			n.Params = make(map[string]any, len(pairs)/2)
		}
		n.Params[pairs[i].(string)] = pairs[i+1]
	}
	return n
}

// MarshalJSON writes the code, the parameters and, as message, the English
// sentence; reading it back needs only the first two.
func (n Note) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Code    string         `json:"code"`
		Message string         `json:"message"`
		Params  map[string]any `json:"params,omitempty"`
	}{n.Code, n.Text(English), n.Params})
}

// Text gives the note's sentence in a language. A code that the catalogue
// lacks, as a newer version's record may hold, is shown as it is with its
// parameters, so that nothing is lost.
func (n Note) Text(lang Lang) string {
	p, ok := catalogue[n.Code]
	if !ok {
		return strings.TrimSpace(n.Code + " " + bareParams(n.Params))
	}
	return fill(p.in(lang), n.Params, lang)
}

// Term gives the word for a fixed term (a use, a relief, a damper, a
// complaint) in a language, or the term itself where it has none.
func Term(term string, lang Lang) string {
	if p, ok := catalogue["term."+term]; ok {
		return p.in(lang)
	}
	return term
}

// phrase is one entry of the catalogue, in each language.
type phrase struct{ en, de string }

func (p phrase) in(lang Lang) string {
	if lang == German {
		return p.de
	}
	return p.en
}

func bareParams(params map[string]any) string {
	if len(params) == 0 {
		return ""
	}
	b, err := json.Marshal(params)
	if err != nil {
		return fmt.Sprint(params)
	}
	return string(b)
}

// fill puts the parameters into a sentence. A place is {name} or
// {name:format}, the formats being those of formatParam.
func fill(sentence string, params map[string]any, lang Lang) string {
	var b strings.Builder
	for {
		before, rest, found := strings.Cut(sentence, "{")
		b.WriteString(before)
		if !found {
			return b.String()
		}
		place, after, closed := strings.Cut(rest, "}")
		if !closed {
			b.WriteString("{" + rest)
			return b.String()
		}
		name, format, _ := strings.Cut(place, ":")
		b.WriteString(formatParam(params[name], format, lang))
		sentence = after
	}
}

// formatParam writes one parameter: mm, kg and deg add the unit, pct turns a
// probability into per cent, term and terms look words up.
func formatParam(v any, format string, lang Lang) string {
	switch format {
	case "mm", "kg":
		return decimal(v, lang) + " " + format
	case "deg":
		return decimal(v, lang) + "°"
	case "pct":
		return percent(v, lang)
	case "term":
		return Term(fmt.Sprint(v), lang)
	case "terms":
		return termList(v, lang)
	}
	return decimal(v, lang)
}

// decimal writes a number with at most one decimal in the language's way, and
// anything else as it is.
func decimal(v any, lang Lang) string {
	f, ok := asFloat(v)
	if !ok {
		return fmt.Sprint(v)
	}
	s := strings.TrimSuffix(strconv.FormatFloat(f, 'f', 1, 64), ".0")
	if s == "-0" {
		s = "0"
	}
	if lang == German {
		s = strings.ReplaceAll(s, ".", ",")
	}
	return s
}

// percent writes a probability in per cent, cut (not rounded) to one decimal:
// 0.94999 must not read as 95 % beside a level of 95 %.
func percent(v any, lang Lang) string {
	f, ok := asFloat(v)
	if !ok {
		return fmt.Sprint(v)
	}
	const floatSlack = 1e-9 // 0.95 x 1000 is 949.99… in binary
	return decimal(float64(int(f*1000+floatSlack))/10, lang) + " %"
}

func asFloat(v any) (float64, bool) {
	switch x := v.(type) {
	case float64:
		return x, true
	case int:
		return float64(x), true
	}
	return 0, false
}

// termList writes a list of terms; a record read back from JSON holds []any.
func termList(v any, lang Lang) string {
	var words []string
	switch list := v.(type) {
	case []string:
		for _, t := range list {
			words = append(words, Term(t, lang))
		}
	case []any:
		for _, t := range list {
			words = append(words, Term(fmt.Sprint(t), lang))
		}
	default:
		return fmt.Sprint(v)
	}
	return strings.Join(words, ", ")
}
