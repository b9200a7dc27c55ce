package archive

import "iter"

// Beside is a sorted sequence that is read beside another one.
type Beside[T any] struct {
	next  func() (T, error, bool)
	Close func()
	head  T // the value that comes next, unless it ended
	err   error
	ended bool
}

// OpenBeside begins a sequence; whoever opens it closes it.
func OpenBeside[T any](values iter.Seq2[T, error]) *Beside[T] {
	b := &Beside[T]{}
	b.next, b.Close = iter.Pull2(values)
	b.step()
	return b
}

func (b *Beside[T]) step() {
	var more bool
	b.head, b.err, more = b.next()
	b.ended = !more
}

// Find passes over what comes before a place, and gives the last value that lies
// at it. Whoever asks again asks for a later place.
func (b *Beside[T]) Find(place func(*T) int) (found T, there bool, err error) {
	for b.err == nil && !b.ended && place(&b.head) <= 0 {
		if place(&b.head) == 0 {
			found, there = b.head, true
		}
		b.step()
	}
	return found, there, b.err
}
