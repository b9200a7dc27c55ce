package main

/*
#include <fcntl.h>

static int closed;

__attribute__((constructor)) static void look(void) { closed = fcntl(1, F_GETFD) == -1; }

static int stdout_was_closed(void) { return closed; }
*/
import "C"

import (
	"io"
	"os"

	"sitspan/cmd/sitspan/internal/words"
)

// standardOutput is where results go. One that the caller closed (>&-) is told
// apart before Go begins: Go's runtime opens the null device in its place, where
// results would be lost without an error.
func standardOutput() io.Writer {
	if C.stdout_was_closed() != 0 {
		return closedOutput{}
	}
	return os.Stdout
}

// closedOutput takes nothing.
type closedOutput struct{}

func (closedOutput) Write([]byte) (int, error) {
	return 0, words.Fault("error.stdout_closed", nil)
}
