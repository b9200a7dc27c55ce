package desk

import (
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"math"
	"path"
	"strings"
	"time"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

//go:embed assets/*.js assets/*.css assets/*.svg pages
var files embed.FS

// started is when this program was: the built-in files' time.
var started = time.Now()

// views are the pages' templates by language and name.
type views map[words.Lang]map[string]*template.Template

func loadViews() (views, error) {
	entries, err := files.ReadDir("pages")
	if err != nil {
		return nil, err
	}
	v := views{}
	for _, lang := range words.Langs() {
		v[lang] = map[string]*template.Template{}
		for _, e := range entries {
			name := strings.TrimSuffix(e.Name(), ".html")
			if name == "layout" {
				continue
			}
			t, err := template.New("").Funcs(functions(lang)).ParseFS(files, "pages/layout.html", "pages/part-*.html",
				path.Join("pages", e.Name()))
			if err != nil {
				return nil, err
			}
			v[lang][name] = t
		}
	}
	return v, nil
}

// functions are what templates may call.
func functions(lang words.Lang) template.FuncMap {
	return template.FuncMap{
		"t":            func(key string, args ...any) string { return say(lang, key, args...) },
		"head":         func(text string) string { return unbroken.Replace(lang.Head(text)) },
		"texts":        func(keys ...string) map[string]string { return textsOf(lang, keys) },
		"term":         func(term any) string { return lang.Term(fmt.Sprint(term)) },
		"note":         func(n fit.Note) string { return unbroken.Replace(lang.Note(n.Code, n.Params)) },
		"num":          func(v any, digits int) string { return lang.Number(toFloat(v), digits) },
		"plain":        func(v any) string { return lang.Plain(toFloat(v)) },
		"percent":      func(p any) string { return lang.Percent(toFloat(p)) },
		"day":          func(t time.Time) string { return lang.ShortDate(t.Local()) },
		"clock":        clock,
		"reason":       func(r record.Reason) sentence.Spoken { return speak(sentence.OfReason(lang, r)) },
		"warning":      func(w record.Warning) sentence.Spoken { return speak(sentence.OfWarning(lang, w)) },
		"whyNot":       func(p record.Part) string { return sentence.Why(lang, p) },
		"budget":       func(l record.BudgetLine) string { return sentence.Source(lang, l) },
		"status":       func(s string) string { return say(lang, "status."+s) },
		"sign":         func(s string) string { return signs[s] },
		"has":          func(list []string, s string) bool { return contains(list, s) },
		"asJSON":       func(v any) (string, error) { b, err := json.Marshal(v); return string(b), err },
		"add":          func(a, b int) int { return a + b },
		"capital":      capital,
		"language":     func() string { return string(lang) },
		"languageName": func(code string) string { return words.Lang(code).Name() },
		"grade": func(g fit.Grade) string {
			return map[fit.Grade]string{fit.For: "+", fit.Against: "−", fit.NotStated: "?"}[g]
		},
		"gradeWord": func(g fit.Grade) string {
			return map[fit.Grade]string{fit.For: "for", fit.Against: "against", fit.NotStated: "unstated"}[g]
		},
		// the fields of a bike whose faults are told beside it
		"bikeFields": func() []string { return []string{"trunk", "trunku", "allow", "use"} },
		"pair":       func(a, b any) twoOf { return twoOf{a, b} },
		"names":      namesOf,
		"asidePath":  asidePath,
		"widths":     func(c bikeChoice) string { return widthsOf(lang, c) },
	}
}

// twoOf are a template's two arguments.
type twoOf struct{ A, B any }

// namesOf are saddles' names in a line.
func namesOf(models []fit.RankedModel) string {
	var names []string
	for _, m := range models {
		names = append(names, m.Name)
	}
	return strings.Join(names, ", ")
}

// widthsOf says the ladder's widths in a line, the chosen one marked.
func widthsOf(lang words.Lang, c bikeChoice) string {
	var texts []string
	for _, m := range c.Ladder.Marks {
		text := lang.Plain(m.MM)
		if m.Chosen {
			text += " (" + lang.Text("width.chosen") + ")"
		}
		texts = append(texts, text)
	}
	return strings.Join(texts, ", ")
}

// textsOf are the texts that a page's script says.
func textsOf(lang words.Lang, keys []string) map[string]string {
	out := map[string]string{}
	for _, key := range keys {
		out[key] = say(lang, key)
	}
	return out
}

// signs say a status by shape, beside its word.
var signs = map[string]string{"measured": "✓", "review": "!", "refused": "×", "failed": "×",
	"waiting": "…",
	"part":    "✓",
	"unkept":  "×"}

func contains(list []string, s string) bool {
	for _, v := range list {
		if v == s {
			return true
		}
	}
	return false
}

func toFloat(v any) float64 {
	switch v := v.(type) {
	case float64:
		return v
	case *float64:
		if v != nil {
			return *v
		}
	case int:
		return float64(v)
	}
	return math.NaN()
}

func clock(t time.Time) string { return t.Local().Format("15:04") }

// speak is a reason or a warning as a sentence begins.
func speak(s sentence.Spoken) sentence.Spoken {
	return sentence.Spoken{Seen: unbroken.Replace(capital(s.Seen)), Do: unbroken.Replace(capital(s.Do))}
}

func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[0])) + string(r[1:])
}
