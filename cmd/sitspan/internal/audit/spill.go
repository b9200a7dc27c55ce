package audit

import (
	"bufio"
	"errors"
	"fmt"
	"iter"
	"os"
	"slices"
)

// spillDir lies in the folder of results while an audit runs, and holds what
// would else grow in memory with the number of files.
const spillDir = ".sorting"

// heldValues is how many values a sorter holds in memory: of rows, the largest,
// some 4 MB. Tests make it smaller.
var heldValues = 4096

// mostRuns is how many files of sorted values, merged equally often, there are at
// most.
var mostRuns = 32

// spill is a folder for what does not stay in memory.
type spill struct {
	results
	files int
}

// newSpill begins with an empty folder: a kill may have left one behind.
func newSpill(r results) (*spill, error) {
	s := &spill{results: results{r.path(spillDir)}}
	if err := os.RemoveAll(s.dir); err != nil {
		return nil, fmt.Errorf("folder for sorting: %w", err)
	}
	if err := os.MkdirAll(s.dir, 0o755); err != nil {
		return nil, fmt.Errorf("folder for sorting: %w", err)
	}
	return s, nil
}

// remove takes the folder away; what it held is of no use to another run.
func (s *spill) remove() { _ = os.RemoveAll(s.dir) }

// spillLines writes a value a line to a new file, which need not outlive the run.
func spillLines[T any](s *spill, values iter.Seq2[T, error]) (name string, err error) {
	s.files++
	name = fmt.Sprintf("%07d.jsonl", s.files)
	f, err := os.Create(s.path(name))
	if err != nil {
		return name, fmt.Errorf("sorting: %w", err)
	}
	w := bufio.NewWriterSize(f, lineBuffer)
	if err := errors.Join(encodeLines(w, values), w.Flush(), f.Close()); err != nil {
		return name, fmt.Errorf("sorting: %w", err)
	}
	return name, nil
}

// sorter puts values in an order, stably, and holds only a bounded number of them
// in memory: the others lie on the disk in sorted runs, as lines of JSON.
type sorter[T any] struct {
	spill   *spill
	compare func(a, b *T) int
	held    []T
	runs    [][]string // by how often they were merged, the older ones first
}

func newSorter[T any](s *spill, compare func(a, b *T) int) *sorter[T] {
	return &sorter[T]{spill: s, compare: compare}
}

func (s *sorter[T]) add(v T) error {
	s.held = append(s.held, v)
	if len(s.held) < heldValues {
		return nil
	}
	s.sortHeld()
	run, err := spillLines(s.spill, eachOf(s.held))
	if err != nil {
		return err
	}
	clear(s.held) // of what it points to
	s.held = s.held[:0]
	return s.addRun(run, 0)
}

// addRun adds a run that was merged so often. Where there are too many like it,
// they become one.
func (s *sorter[T]) addRun(run string, level int) error {
	if level == len(s.runs) {
		s.runs = append(s.runs, nil)
	}
	s.runs[level] = append(s.runs[level], run)
	if len(s.runs[level]) < mostRuns {
		return nil
	}
	merged, err := spillLines(s.spill, mergedLines(s.sources(s.runs[level]), s.compare))
	if err != nil {
		return err
	}
	for _, name := range s.runs[level] {
		if err := os.Remove(s.spill.path(name)); err != nil {
			return fmt.Errorf("sorting: %w", err)
		}
	}
	s.runs[level] = nil
	return s.addRun(merged, level+1)
}

func (s *sorter[T]) sources(runs []string) (out []iter.Seq2[T, error]) {
	for _, name := range runs {
		out = append(out, readLines[T](s.spill.results, name))
	}
	return out
}

func (s *sorter[T]) sortHeld() {
	slices.SortStableFunc(s.held, func(a, b T) int { return s.compare(&a, &b) })
}

// all gives the values in their order, as often as it is asked. Nothing may be
// added while it does.
func (s *sorter[T]) all() iter.Seq2[T, error] {
	s.sortHeld()
	var sources []iter.Seq2[T, error]
	for _, runs := range slices.Backward(s.runs) { // those merged most often are the oldest
		sources = append(sources, s.sources(runs)...)
	}
	return mergedLines(append(sources, eachOf(s.held)), s.compare)
}

// inBlocks writes the values in their order into files of so many each.
func (s *sorter[T]) inBlocks(size int) (blocks []string, err error) {
	var block []T
	write := func() error {
		name, err := spillLines(s.spill, eachOf(block))
		blocks, block = append(blocks, name), block[:0]
		return err
	}
	for v, err := range s.all() {
		if err != nil {
			return nil, err
		}
		if block = append(block, v); len(block) == size {
			if err := write(); err != nil {
				return nil, err
			}
		}
	}
	return blocks, write()
}

// eachOf gives what is in memory as if it were read.
func eachOf[T any](values []T) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		for _, v := range values {
			if !yield(v, nil) {
				return
			}
		}
	}
}

// mergedLines joins sorted sequences; of equal values the earlier sequence's come
// first. An error is the last that it gives.
func mergedLines[T any](sources []iter.Seq2[T, error], compare func(a, b *T) int) iter.Seq2[T, error] {
	if len(sources) == 1 {
		return sources[0]
	}
	return func(yield func(T, error) bool) {
		var heads []*beside[T]
		for _, source := range sources {
			b := openBeside(source)
			defer b.close()
			heads = append(heads, b)
		}
		for {
			var first *beside[T]
			for _, h := range heads {
				if h.err != nil {
					yield(h.head, h.err)
					return
				}
				if !h.ended && (first == nil || compare(&h.head, &first.head) < 0) {
					first = h
				}
			}
			if first == nil || !yield(first.head, nil) {
				return
			}
			first.step()
		}
	}
}

// beside is a sorted sequence that is read beside another one.
type beside[T any] struct {
	next  func() (T, error, bool)
	close func()
	head  T // the value that comes next, unless it ended
	err   error
	ended bool
}

func openBeside[T any](values iter.Seq2[T, error]) *beside[T] {
	b := &beside[T]{}
	b.next, b.close = iter.Pull2(values)
	b.step()
	return b
}

func (b *beside[T]) step() {
	var more bool
	b.head, b.err, more = b.next()
	b.ended = !more
}

// find passes over what comes before a place, and gives the last value that lies
// at it. Whoever asks again asks for a later place.
func (b *beside[T]) find(place func(*T) int) (found T, there bool, err error) {
	for b.err == nil && !b.ended && place(&b.head) <= 0 {
		if place(&b.head) == 0 {
			found, there = b.head, true
		}
		b.step()
	}
	return found, there, b.err
}
