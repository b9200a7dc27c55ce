package main

import (
	"os"
	"strings"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/words"
)

// langFlag is --lang: the language of what a command prints and makes.
type langFlag struct{ word string }

func (f *langFlag) register(cmd *cobra.Command) {
	codes := make([]string, 0, len(words.Langs()))
	for _, l := range words.Langs() {
		codes = append(codes, string(l))
	}
	cmd.Flags().StringVar(&f.word, "lang", "",
		"`WORD` for the language: "+strings.Join(codes, ", ")+
			"; that of LC_ALL, LC_MESSAGES or LANG if not given")
	completeWords(cmd, "lang", codes...)
}

// of is the language that was named, else the terminal's.
func (f *langFlag) of(cmd *cobra.Command) (words.Lang, error) {
	if !cmd.Flags().Changed("lang") {
		return words.FromEnvironment(os.Getenv), nil
	}
	l, err := words.Parse(f.word)
	if err != nil {
		return "", wrongUsage(cmd, "%w", err)
	}
	return l, nil
}

// hint says what may have been forgotten, by a key of words.
func (p *program) hint(lang words.Lang, key string, v words.Values) {
	p.say(lang.Say("terminal.hint", words.Values{"text": lang.Say(key, v)}))
}

// warn says what weakens a result, by a key of words.
func (p *program) warn(lang words.Lang, key string, v words.Values) {
	p.say(lang.Say("terminal.warning", words.Values{"text": lang.Say(key, v)}))
}
