// Package worker measures in child processes of the same program, so that a photo on which a library ends
// the process costs one answer, not the run.
//
// Its opinion: an exception in C++ cannot be recovered from in Go, and a decoder that never ends cannot
// be stopped in one's own process. A child can be. So the parent speaks to each child in lines of JSON:
// settings first, then one Job and its Answer at a time. It gives each a time limit, and starts another
// child where one died. The audit lets a child do many jobs; the desk lets each do one, since the next
// photo may be another rider's.
//
// A child leaves when its standard input ends, so none outlives its parent. It does not hear the
// terminal's Ctrl-C: what it has in hand is finished.
//
// It knows no picture: what a child does with a Job is package child's.
package worker
