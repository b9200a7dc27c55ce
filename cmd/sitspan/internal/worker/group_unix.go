//go:build unix

package worker

import "syscall"

// limitProcessorTime lets the system end this process after so many seconds of processor time, should its
// parent no longer look at the clock.
func limitProcessorTime(seconds uint64) error {
	return syscall.Setrlimit(syscall.RLIMIT_CPU, &syscall.Rlimit{Cur: seconds, Max: seconds})
}
