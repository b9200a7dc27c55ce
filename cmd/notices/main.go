// Command notices writes what must be said of the software that a program holds: the
// file copyright, which lists it, and notices.txt, which has each licence word for word.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"sitspan/cmd/internal/notices"
)

func main() {
	tags := flag.String("tags", "", "the `TAGS` that the program is built with")
	head := flag.String("head", ".package/copyright", "`FILE` that the list of parts goes behind")
	out := flag.String("out", ".", "`DIR` for copyright and notices.txt")
	flag.Parse()
	if err := write(*tags, flag.Arg(0), *head, *out); err != nil {
		fmt.Fprintln(os.Stderr, "notices:", err)
		os.Exit(1)
	}
}

func write(tags, program, head, out string) error {
	parts, err := notices.Linked(tags, program)
	if err != nil {
		return err
	}
	text, err := os.ReadFile(head)
	if err != nil {
		return err
	}
	list := notices.Copyright(string(text), parts)
	if err := os.WriteFile(filepath.Join(out, "copyright"), []byte(list), 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(out, "notices.txt"), []byte(notices.Notices(parts)), 0o644)
}
