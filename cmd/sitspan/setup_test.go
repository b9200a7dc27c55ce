package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fakeSystem is a folder of programs that stand for a machine's own: a compiler
// that finds OpenCV once apt-get has installed it, and apt-get, which writes
// down how it was called.
func fakeSystem(t *testing.T, release, uid string, sudo bool) (dir string, env []string) {
	t.Helper()
	dir = t.TempDir()
	script := func(name, body string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte("#!/bin/sh\n"+body+"\n"), 0o755))
	}
	script("g++", `test -e "$FAKE/installed"`)
	script("apt-get", `echo "$@" >> "$FAKE/calls"; case "$1" in install) touch "$FAKE/installed";; esac`)
	script("id", "echo "+uid)
	if sudo {
		script("sudo", `echo sudo >> "$FAKE/calls"; exec "$@"`)
	}
	for _, name := range []string{"bash", "sh", "env", "touch", "cat"} {
		path, err := exec.LookPath(name)
		require.NoError(t, err)
		require.NoError(t, os.Symlink(path, filepath.Join(dir, name)))
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "os-release"), []byte(release), 0o644))
	return dir, []string{"PATH=" + dir, "FAKE=" + dir, "OS_RELEASE=" + filepath.Join(dir, "os-release")}
}

func TestSetUpOfOpenCV(t *testing.T) {
	const debian, ubuntu = "ID=debian\nVERSION_ID=\"12\"\n", "ID=ubuntu\nVERSION_ID=\"24.04\"\n"
	for _, c := range []struct {
		name, release, uid string
		sudo               bool
		calls              string // of apt-get, in short
		says               string // on stopping
	}{
		{"Debian 12 as root", debian, "0", false, "update install", ""},
		{"Ubuntu 24.04 by sudo", ubuntu, "1000", true, "sudo update sudo install", ""},
		{"Debian 12 without rights", debian, "1000", false, "",
			"as root, apt-get install g++ libjpeg-dev libopencv-dev"},
		{"an older Debian", "ID=debian\nVERSION_ID=\"11\"\n", "0", false, "", "install them"},
		{"another system", "ID=fedora\nVERSION_ID=42\n", "0", true, "", "install them"},
		{"no system's name", "", "0", true, "", "install them"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir, env := fakeSystem(t, c.release, c.uid, c.sudo)
			cmd := exec.Command("../../.ci/deps")
			cmd.Env = append(env, "CHROMIUM_DIR="+filepath.Join(dir, "none"))
			out, err := cmd.CombinedOutput()
			calls, _ := os.ReadFile(filepath.Join(dir, "calls")) // none where apt-get was not called
			assert.Equal(t, c.calls, firstWords(string(calls)), string(calls))
			if c.says == "" {
				require.NoError(t, err, string(out))
				assert.Contains(t, string(calls), "g++ libjpeg-dev libopencv-dev")
				again := exec.Command("../../.ci/deps")
				again.Env = env
				out, err = again.CombinedOutput()
				require.NoError(t, err)
				assert.Empty(t, string(out), "what is there is not installed again")
				return
			}
			require.Error(t, err)
			assert.Equal(t, 1, strings.Count(string(out), "\n"), "one line: %s", out)
			assert.Contains(t, string(out), c.says)
			assert.Contains(t, string(out), "OpenCV 4.6")
		})
	}
}

// The browser is for the desk's tests alone: it is installed where a package
// is to be had, and where not, one line says that they are skipped.
func TestSetUpOfTheBrowser(t *testing.T) {
	const debian, ubuntu = "ID=debian\nVERSION_ID=\"12\"\n", "ID=ubuntu\nVERSION_ID=\"24.04\"\n"
	for _, c := range []struct {
		name, release, uid string
		sudo               bool
		chromium           string // what is there already
		calls, says        string
	}{
		{"Debian 12 as root", debian, "0", false, "", "update install", ""},
		{"Debian 12 by sudo", debian, "1000", true, "", "sudo update sudo install", ""},
		{"Debian 12 without rights", debian, "1000", false, "", "", "as root, apt-get install chromium"},
		{"Ubuntu's snap, no npm to be had", ubuntu, "0", false, "", "update install", "could be had by npm: "},
		{"Ubuntu's stub of a snap", ubuntu, "0", false, "exit 1", "update install", "could be had by npm: "},
		{"Ubuntu without rights", ubuntu, "1000", false, "", "", "as root, apt-get install npm"},
		{"another system", "ID=fedora\nVERSION_ID=42\n", "0", true, "", "", "install chromium"},
		{"one that is there", ubuntu, "1000", false, "echo Chromium 1", "", "-"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir, env := fakeSystem(t, c.release, c.uid, c.sudo)
			if c.chromium != "" {
				require.NoError(t, os.WriteFile(filepath.Join(dir, "chromium"), []byte("#!/bin/sh\n"+c.chromium+"\n"),
					0o755))
			}
			cmd := exec.Command("../../.ci/deps", "browser")
			cmd.Env = append(env, "CHROMIUM_DIR="+filepath.Join(dir, "none"))
			out, err := cmd.CombinedOutput()
			require.NoError(t, err, "never a failure: %s", out)
			calls, _ := os.ReadFile(filepath.Join(dir, "calls")) // none where apt-get was not called
			assert.Equal(t, c.calls, firstWords(string(calls)), string(calls))
			switch c.says {
			case "-":
				assert.Empty(t, string(out))
			case "":
				assert.Regexp(t, "install .* chromium\n$", string(calls))
			default:
				lines := strings.Split(strings.TrimSpace(string(out)), "\n")
				if c.calls != "" { // what is installed is said first
					assert.Contains(t, lines[0], "installing npm")
					lines = lines[1:]
				}
				require.Len(t, lines, 1, "one line: %s", out)
				assert.Contains(t, lines[0], "skipped")
				assert.Contains(t, lines[0], c.says)
			}
		})
	}
}

// firstWords are the first words of the lines, without apt-get's options.
func firstWords(text string) string {
	var words []string
	for line := range strings.Lines(text) {
		words = append(words, strings.Fields(line)[0])
	}
	return strings.Join(words, " ")
}
