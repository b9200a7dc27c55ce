package words

import (
	"slices"
	"strings"

	"golang.org/x/text/language"
)

// Lang is a language in which texts are there, by its ISO 639 code ("en").
type Lang string

// The languages that code names; Langs lists all that are there.
const (
	English Lang = "en"
	German  Lang = "de"
	French  Lang = "fr"
)

// Langs lists the languages, English (the default) first: one for each file in
// lang.
func Langs() []Lang { return slices.Clone(langs) }

// langs are the languages of the files, found once; listing them reads none.
var langs = func() []Lang {
	files, err := files.ReadDir(folder)
	if err != nil {
		panic(err) // embedded
	}
	list := []Lang{English}
	for _, f := range files {
		if l := Lang(strings.TrimSuffix(f.Name(), ending)); l != English {
			list = append(list, l)
		}
	}
	return list
}()

// Parse reads a language as --lang gives it: a code ("de"), a locale
// ("de_AT.UTF-8"), or its name in English or in itself ("German", "Deutsch").
func Parse(s string) (Lang, error) {
	name := strings.TrimSpace(s)
	locale, _, _ := strings.Cut(name, ".")
	locale, _, _ = strings.Cut(locale, "@")
	if tag, err := language.Parse(locale); err == nil {
		base, _ := tag.Base()
		if l := Lang(base.String()); slices.Contains(langs, l) && locale != "" {
			return l, nil
		}
	}
	for _, l := range langs {
		if strings.EqualFold(name, l.Text("language.name")) ||
			strings.EqualFold(name, l.Text("language.english")) {
			return l, nil
		}
	}
	return "", Fault("error.language", Values{"word": s, "known": choices()})
}

// choices are the codes of the languages.
func choices() Either {
	codes := make(Either, len(langs))
	for i, l := range langs {
		codes[i] = string(l)
	}
	return codes
}

// FromEnvironment gives the language of a terminal: the first of LC_ALL,
// LC_MESSAGES and LANG that is set (POSIX, XBD 8.2: as the 2004 edition's text has
// it), and
// English where that is one without texts.
func FromEnvironment(getenv func(string) string) Lang {
	for _, name := range []string{"LC_ALL", "LC_MESSAGES", "LANG"} {
		if value := getenv(name); value != "" {
			if l, err := Parse(value); err == nil {
				return l
			}
			return English
		}
	}
	return English
}

// FromAcceptLanguage gives the language that a browser's header of that name
// asks for (RFC 9110, 12.5.4), and English where it asks for none of ours.
func FromAcceptLanguage(header string) Lang {
	tags, _, err := language.ParseAcceptLanguage(header)
	if err != nil || len(tags) == 0 {
		return English
	}
	ours := make([]language.Tag, len(langs))
	for i, l := range langs {
		ours[i] = l.tag()
	}
	_, i, _ := language.NewMatcher(ours).Match(tags...)
	return langs[i]
}

// Name is the language's own name.
func (l Lang) Name() string { return l.Text("language.name") }

// tag is the language as golang.org/x/text knows it.
func (l Lang) tag() language.Tag { return language.Make(string(l)) }
