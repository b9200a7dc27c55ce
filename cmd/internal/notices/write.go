package notices

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// Copyright is the list of the parts behind a head: who holds the rights to each, and
// the files in which it says so.
func Copyright(head string, parts []Part) string {
	var b strings.Builder
	b.WriteString(strings.TrimRight(head, "\n") + "\n")
	for _, p := range parts {
		fmt.Fprintf(&b, "\n%s %s\n", p.Path, p.Version)
		for _, h := range p.holders() {
			fmt.Fprintf(&b, "  %s\n", h)
		}
		for _, t := range p.Texts {
			fmt.Fprintf(&b, "  notices.txt: %s\n", p.label(t))
		}
	}
	return b.String()
}

// Notices is every text of every part, word for word.
func Notices(parts []Part) string {
	var b strings.Builder
	line := strings.Repeat("=", 80)
	for _, p := range parts {
		for _, t := range p.Texts {
			fmt.Fprintf(&b, "%s\n%s\n%s\n\n%s\n\n", line, p.label(t), line, strings.TrimRight(t.Body, "\n"))
		}
	}
	return b.String()
}

func (p Part) label(t Text) string { return p.Path + " " + p.Version + ", " + t.Name }

var holder = regexp.MustCompile(`(?im)^[\s*#/>|]*(copyright (?:\(c\)|©|[12]\d{3}).*\S)\s*$`)

// ofLicence tells the lines that are about the licence's text, or a form to fill in.
var ofLicence = regexp.MustCompile(`Free Software Foundation|<year>|\[yyyy\]`)

// holders are the lines of the texts that claim a copyright, each once.
func (p Part) holders() []string {
	var all []string
	for _, t := range p.Texts {
		for _, m := range holder.FindAllStringSubmatch(t.Body, -1) {
			if !slices.Contains(all, m[1]) && !ofLicence.MatchString(m[1]) {
				all = append(all, m[1])
			}
		}
	}
	return all
}
