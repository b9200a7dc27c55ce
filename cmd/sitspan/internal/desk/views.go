package desk

import (
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"math"
	"path"
	"strconv"
	"strings"
	"time"

	"sitspan/cmd/sitspan/internal/report"
	"sitspan/fit"
)

//go:embed assets/*.js assets/*.css assets/*.svg pages
var files embed.FS

// started is when this program was: the built-in files' time.
var started = time.Now()

// views are the pages' templates by language and name.
type views map[fit.Lang]map[string]*template.Template

func loadViews() (views, error) {
	entries, err := files.ReadDir("pages")
	if err != nil {
		return nil, err
	}
	v := views{}
	for _, lang := range fit.Langs() {
		v[lang] = map[string]*template.Template{}
		for _, e := range entries {
			name := strings.TrimSuffix(e.Name(), ".html")
			if name == "layout" {
				continue
			}
			t, err := template.New("").Funcs(functions(lang)).ParseFS(files, "pages/layout.html", "pages/part-*.html", path.Join("pages", e.Name()))
			if err != nil {
				return nil, err
			}
			v[lang][name] = t
		}
	}
	return v, nil
}

// functions are what templates may call.
func functions(lang fit.Lang) template.FuncMap {
	return template.FuncMap{
		"t":        func(key string, args ...any) string { return sayf(lang, key, args...) },
		"texts":    func(keys ...string) map[string]string { return textsOf(lang, keys) },
		"term":     func(term any) string { return fit.Term(fmt.Sprint(term), lang) },
		"note":     func(n fit.Note) string { return n.Text(lang) },
		"num":      func(v any, digits int) string { return number(lang, toFloat(v), digits) },
		"plain":    func(v any) string { return plainNumber(lang, toFloat(v)) },
		"percent":  func(p any) string { return percent(lang, toFloat(p)) },
		"day":      func(t time.Time) string { return day(lang, t) },
		"clock":    clock,
		"reason":   func(code, message, hint string) report.Spoken { return speak(lang, code, message, hint) },
		"budget":   func(s string) string { return report.BudgetSource(lang, s) },
		"status":   func(s string) string { return say(lang, "status."+s) },
		"sign":     func(s string) string { return signs[s] },
		"has":      func(list []string, s string) bool { return contains(list, s) },
		"asJSON":   func(v any) (string, error) { b, err := json.Marshal(v); return string(b), err },
		"add":      func(a, b int) int { return a + b },
		"capital":  capital,
		"language": func() string { return string(lang) },
		"grade": func(g fit.Grade) string {
			return map[fit.Grade]string{fit.For: "+", fit.Against: "−", fit.NotStated: "?"}[g]
		},
		"gradeWord": func(g fit.Grade) string {
			return map[fit.Grade]string{fit.For: "for", fit.Against: "against", fit.NotStated: "unstated"}[g]
		},
		"num2": func(from, v float64) string { return strconv.FormatFloat(from-v, 'f', 2, 64) },
	}
}

// textsOf are the texts that a page's script says.
func textsOf(lang fit.Lang, keys []string) map[string]string {
	out := map[string]string{}
	for _, key := range keys {
		out[key] = say(lang, key)
	}
	return out
}

// signs say a status by shape, beside its word.
var signs = map[string]string{"measured": "✓", "review": "!", "refused": "×", "failed": "×", "waiting": "…", "unkept": "×"}

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

// number writes a number with the language's own decimal sign and a true minus.
func number(lang fit.Lang, v float64, digits int) string {
	if math.IsNaN(v) {
		return "–"
	}
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	s = strings.Replace(s, "-", "−", 1)
	if lang == fit.German {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// plainNumber writes at most one decimal: 150, not 150.0.
func plainNumber(lang fit.Lang, v float64) string {
	if math.Abs(v-math.Round(v)) < 0.05 {
		return number(lang, math.Round(v), 0)
	}
	return number(lang, v, 1)
}

// percent cuts, and does not round: 94.99 % must not read as 95 %.
func percent(lang fit.Lang, p float64) string {
	const slack = 1e-9 // 0.95 x 1000 is 949.99... in binary
	return plainNumber(lang, math.Floor(p*1000+slack)/10) + " %"
}

func clock(t time.Time) string { return t.Local().Format("15:04") }

func day(lang fit.Lang, t time.Time) string {
	if t.IsZero() {
		return ""
	}
	if lang == fit.German {
		return t.Local().Format("02.01.2006")
	}
	return t.Local().Format("2 Jan 2006")
}

// speak is a reason or a warning as a sentence begins.
func speak(lang fit.Lang, code, message, hint string) report.Spoken {
	s := report.SpeakReason(lang, code, message, hint)
	return report.Spoken{Seen: capital(s.Seen), Do: capital(s.Do)}
}

func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[0])) + string(r[1:])
}
