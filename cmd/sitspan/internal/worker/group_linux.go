package worker

import "syscall"

// ownGroup keeps the terminal's Ctrl-C from a child, and ends it with its parent, whatever it has in
// hand.
func ownGroup() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}
