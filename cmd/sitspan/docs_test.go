package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/shop"
)

// documents are the texts whose commands are run: every block fenced as sh.
// Blocks fenced otherwise (text, console, yaml) only show something.
func documents(t *testing.T) []string {
	t.Helper()
	paths := []string{"../../README.md", "../../DEVELOPERS.md"}
	more, err := filepath.Glob("../../docs/*.md")
	require.NoError(t, err)
	require.NotEmpty(t, more)
	return append(paths, more...)
}

// fencedBlocks gives the contents of a text's blocks of one kind.
func fencedBlocks(text, kind string) []string {
	var blocks []string
	for _, m := range regexp.MustCompile("(?ms)^```"+kind+"\n(.*?)^```$").FindAllStringSubmatch(text, -1) {
		blocks = append(blocks, m[1])
	}
	return blocks
}

// shownCommand is a line of a document, and the exit status that it promises by
// a comment "# exit 3"; without one it is 0.
type shownCommand struct {
	words  []string
	status int
}

func parseCommand(line string) (c shownCommand) {
	line, comment, _ := strings.Cut(line, " # ")
	if n, ok := strings.CutPrefix(comment, "exit "); ok {
		c.status, _ = strconv.Atoi(n)
	}
	c.words = strings.Fields(line)
	return c
}

// Every command that the documents show is run, in the order of the document,
// in a folder of its own that holds the repository's testdata.
func TestCommandsOfTheDocuments(t *testing.T) {
	testdata, err := filepath.Abs("../../testdata")
	require.NoError(t, err)
	repo := filepath.Dir(testdata)
	ran := 0
	for _, path := range documents(t) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		t.Run(filepath.Base(path), func(t *testing.T) {
			t.Chdir(t.TempDir())
			require.NoError(t, os.Symlink(testdata, "testdata"))
			require.NoError(t, os.Mkdir("out", 0o755)) // make demo makes it
			for _, block := range fencedBlocks(string(text), "sh") {
				for line := range strings.Lines(block) {
					if line = strings.TrimSpace(line); line != "" {
						runShown(t, repo, parseCommand(line))
						ran++
					}
				}
			}
			if filepath.Base(path) == "README.md" {
				left, err := filepath.Glob("*")
				require.NoError(t, err)
				assert.Equal(t, []string{"out", "testdata"}, left, "its examples write into out alone")
			}
		})
	}
	assert.Greater(t, ran, 5, "commands were found")
}

func runShown(t *testing.T, repo string, c shownCommand) {
	t.Helper()
	switch c.words[0] {
	case "sitspan":
		assert.NotRegexp(t, `["'\\$|>*?]`, strings.Join(c.words, " "), "no shell is run: write the words plainly")
		var stdout, stderr bytes.Buffer
		status := run(context.Background(), c.words[1:], &stdout, &stderr)
		assert.Equal(t, c.status, status, "%v\n%s%s", c.words, &stdout, &stderr)
	case "make":
		dry := exec.Command("make", append([]string{"-n", "-C", repo}, c.words[1:]...)...)
		out, err := dry.CombinedOutput()
		assert.NoError(t, err, "%v: %s", c.words, out)
	default:
		t.Errorf("%v: only sitspan and make are run; fence other commands as text", c.words)
	}
}

// The file with everything in it is read as it stands, and the tables' defaults
// are the program's.
func TestShopFileDocument(t *testing.T) {
	text, err := os.ReadFile("../../docs/shop-file.md")
	require.NoError(t, err)
	blocks := fencedBlocks(string(text), "yaml")
	require.Len(t, blocks, 1)
	s, err := shop.Parse([]byte(blocks[0]), "shop.yaml")
	require.NoError(t, err)
	assert.Equal(t, "Velo Invented", s.Name)
	assert.Equal(t, shop.Gel, s.Pads["blue gel"].Medium)
	assert.Equal(t, "stock.csv", s.StockFile)

	pads := shop.DefaultPads()
	for key, of := range map[string]func(shop.Pad) float64{
		"depth_mm":              func(p shop.Pad) float64 { return p.DepthMM },
		"depth_u_common_mm":     func(p shop.Pad) float64 { return p.DepthUCommonMM },
		"depth_u_difference_mm": func(p shop.Pad) float64 { return p.DepthUDifferenceMM },
		"card_thickness_mm":     func(p shop.Pad) float64 { return p.CardThicknessMM },
		"card_thickness_u_mm":   func(p shop.Pad) float64 { return p.CardThicknessUMM },
	} {
		row := fmt.Sprintf("| `%s` | mm | %g | %g |", key, of(pads["foam"]), of(pads["gel"]))
		assert.Contains(t, string(text), row)
	}
	assert.Contains(t, string(text), fmt.Sprintf("Default %g", s.Rule.Level))
}

// Each key that the settings' file knows is in its document.
func TestShopFileDocumentNamesEveryKey(t *testing.T) {
	text, err := os.ReadFile("../../docs/shop-file.md")
	require.NoError(t, err)
	source, err := os.ReadFile("internal/shop/document.go")
	require.NoError(t, err)
	keys := regexp.MustCompile("yaml:\"([a-z_]+)\"").FindAllStringSubmatch(string(source), -1)
	require.Greater(t, len(keys), 20)
	for _, k := range keys {
		assert.Contains(t, string(text), "`"+k[1]+"`")
	}
}

// Each link from a document to a file here leads somewhere.
func TestLinksOfTheDocuments(t *testing.T) {
	links := regexp.MustCompile(`\]\(([^)#]+)`)
	for _, path := range documents(t) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		for _, m := range links.FindAllStringSubmatch(string(text), -1) {
			if strings.Contains(m[1], "://") {
				continue
			}
			_, err := os.Stat(filepath.Join(filepath.Dir(path), m[1]))
			assert.NoError(t, err, path)
		}
	}
}

func TestFencedBlocksAndCommands(t *testing.T) {
	text := "a\n```sh\none\ntwo\n```\nb\n```text\nthree\n```\n```sh\nfour # exit 3\n```\n"
	assert.Equal(t, []string{"one\ntwo\n", "four # exit 3\n"}, fencedBlocks(text, "sh"))
	c := parseCommand("sitspan measure a.jpg # exit 3")
	assert.True(t, slices.Equal([]string{"sitspan", "measure", "a.jpg"}, c.words))
	assert.Equal(t, 3, c.status)
	assert.Equal(t, 0, parseCommand("sitspan version").status)
}
