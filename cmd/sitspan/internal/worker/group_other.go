//go:build !unix

package worker

import "syscall"

// ownGroup does nothing where there are no process groups.
func ownGroup() *syscall.SysProcAttr { return nil }

// limitProcessorTime does nothing where the system has no such limit; the parent still looks at the
// clock.
func limitProcessorTime(uint64) error { return nil }
