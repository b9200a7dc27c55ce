//go:build !unix

package worker

import "syscall"

// ownGroup does nothing where there are no process groups.
func ownGroup() *syscall.SysProcAttr { return nil }
