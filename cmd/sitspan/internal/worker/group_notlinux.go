//go:build unix && !linux

package worker

import "syscall"

// ownGroup keeps the terminal's Ctrl-C from a child.
func ownGroup() *syscall.SysProcAttr { return &syscall.SysProcAttr{Setpgid: true} }
