package main

import (
	"os"
	"strings"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/words"
)

// registerLang makes --lang, which every command takes: the language of what it
// prints and makes.
func registerLang(root *cobra.Command) {
	root.PersistentFlags().String("lang", "", "")
	completeWords(root, "lang", languageCodes()...)
}

// languageCodes are what --lang takes.
func languageCodes() (codes []string) {
	for _, l := range words.Langs() {
		codes = append(codes, string(l))
	}
	return codes
}

// languageOf is the language that --lang names, else the terminal's.
func languageOf(cmd *cobra.Command) (words.Lang, error) {
	flag := cmd.Flag("lang")
	if !flag.Changed {
		return words.FromEnvironment(os.Getenv), nil
	}
	l, err := words.Parse(flag.Value.String())
	if err != nil {
		return "", misuse(cmd, err)
	}
	return l, nil
}

// language is that of errors and help: what --lang says, wherever it stands on
// the line, else the terminal's.
func (p *program) language() words.Lang {
	for i, arg := range p.args {
		if arg == "--" {
			break
		}
		word, is := strings.CutPrefix(arg, "--lang=")
		if arg == "--lang" && i+1 < len(p.args) {
			word, is = p.args[i+1], true
		}
		if !is {
			continue
		}
		if l, err := words.Parse(word); err == nil {
			return l
		}
	}
	return words.FromEnvironment(os.Getenv)
}

// hint says what may have been forgotten, by a key of words.
func (p *program) hint(lang words.Lang, key string, v words.Values) {
	p.say(lang.Say("terminal.hint", words.Values{"text": lang.Say(key, v)}))
}

// warn says what weakens a result, by a key of words.
func (p *program) warn(lang words.Lang, key string, v words.Values) {
	p.say(lang.Say("terminal.warning", words.Values{"text": lang.Say(key, v)}))
}
