package relief

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

const (
	longestLine     = 110 // columns
	longestFunction = 80  // lines
	longestFile     = 300 // lines
)

var definition = regexp.MustCompile(`^(\s*)def (\w+)`)

// functionLengths are the lengths in lines of the functions of a Python source, by name. A function ends
// before the next line of code that is indented no deeper than its def.
func functionLengths(source string) map[string]int {
	lengths := map[string]int{}
	lines := strings.Split(source, "\n")
	for i, line := range lines {
		def := definition.FindStringSubmatch(line)
		if def == nil {
			continue
		}
		last := i
		for j := i + 1; j < len(lines); j++ {
			text := strings.TrimLeft(lines[j], " ")
			if text == "" {
				continue
			}
			if len(lines[j])-len(text) <= len(def[1]) && !strings.HasPrefix(text, ")") {
				break
			}
			last = j
		}
		lengths[def[2]] = last - i + 1
	}
	return lengths
}

// The training programs are held to the house's lengths as the Go code is, and each says on top what it is.
func TestTheTrainingIsKeptLikeTheRest(t *testing.T) {
	files, err := filepath.Glob("train/*.py")
	require.NoError(t, err)
	require.Contains(t, files, "train/recipe.py")
	for _, file := range files {
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		lines := strings.Split(string(data), "\n")
		require.LessOrEqual(t, len(lines), longestFile, file)
		head := strings.TrimPrefix(string(data), "#!/usr/bin/python3\n")
		require.True(t, strings.HasPrefix(head, `"""`), "%s has a docstring", file)
		for i, line := range lines {
			require.LessOrEqual(t, utf8.RuneCountInString(line), longestLine, "%s:%d", file, i+1)
		}
		for name, n := range functionLengths(string(data)) {
			require.Less(t, n, longestFunction, "%s in %s", name, file)
		}
	}
}

func TestFunctionLengths(t *testing.T) {
	source := "def one(\n    a,\n):\n    return a\n\n\nclass C:\n    def two(self):\n        pass\n\n    x = 1\n"
	require.Equal(t, map[string]int{"one": 4, "two": 2}, functionLengths(source))
}
