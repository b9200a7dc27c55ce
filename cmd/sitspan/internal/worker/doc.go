// Package worker measures in child processes of the same program, so that a
// photo on which a library ends the process costs one answer, not the run.
//
// Its opinion: an exception in C++ cannot be recovered from in Go, and a decoder
// that never ends cannot be stopped in one's own process. A child can be. So the
// parent speaks to each child in lines of JSON, one Job and one Answer at a time,
// gives it a time limit, and starts another where it died.
//
// A child leaves when its standard input ends, so none outlives its parent. It
// does not hear the terminal's Ctrl-C: what it has in hand is finished.
//
// It knows no picture: what a child does with a Job is the caller's.
package worker
