package report

import "fmt"

// Footnotes numbers the warnings of a run from 1. The same warning has one
// number, however many measurements it weakens, and is told once.
type Footnotes struct {
	numbers map[string]int
	fresh   []string
}

// mark gives the footnote's mark, such as " [2]", for the line that it weakens.
func (n *Footnotes) mark(text string) string {
	if n.numbers == nil {
		n.numbers = make(map[string]int)
	}
	number, known := n.numbers[text]
	if !known {
		number = len(n.numbers) + 1
		n.numbers[text] = number
		n.fresh = append(n.fresh, fmt.Sprintf("[%d] %s", number, text))
	}
	return fmt.Sprintf(" [%d]", number)
}

// Take gives the footnotes that were not told yet, "[1] what; remedy".
func (n *Footnotes) Take() []string {
	fresh := n.fresh
	n.fresh = nil
	return fresh
}
