package main

import (
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The line of DEVELOPERS.md that takes the Makefile's flags along works in bash and
// in sh, whose words end at spaces: each variable arrives whole.
func TestFlagsCommandOfTheDocuments(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	command := ""
	for line := range strings.Lines(string(text)) {
		if strings.Contains(line, "make -s flags") {
			command = strings.TrimSpace(line)
		}
	}
	require.NotEmpty(t, command)
	for _, shell := range []string{"bash", "sh"} {
		cmd := exec.Command(shell, "-c", command+` && printf '%s\n' "$CGO_CFLAGS" "$CGO_LDFLAGS"`)
		cmd.Dir = "../.."
		cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "HOME=" + os.Getenv("HOME")}
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s: %s", shell, out)
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		require.Len(t, lines, 2, shell)
		assert.Equal(t, "-O2 -g0 -ffunction-sections -fdata-sections", lines[0], shell)
		assert.Regexp(t, `^-Wl,--gc-sections .*-lopencv_core .*-lopencv_dnn$`, lines[1], shell)
	}
}
