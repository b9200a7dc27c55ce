package store

import (
	"archive/zip"
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// backUpOf writes a back-up, with a shop's file.
func backUpOf(t *testing.T, s *Store) []byte {
	t.Helper()
	shop := filepath.Join(t.TempDir(), "shop.yaml")
	require.NoError(t, os.WriteFile(shop, []byte("name: A\n"), 0o644))
	var b bytes.Buffer
	require.NoError(t, s.WriteBackUp(t.Context(), &b, map[string]string{"shop.yaml": shop}))
	return b.Bytes()
}

func TestRestorePutsEverythingBack(t *testing.T) {
	ctx := t.Context()
	dir := t.TempDir()
	s := open(t, dir)
	v, k := fill(t, s, "Robin", []byte("a photo"))
	mm, u := 120.4, 1.1
	_, err := s.AddCheck(ctx, Check{Pad: "foam", DistanceMM: 120, DistanceU: 0.3, MeasuredMM: &mm, MeasuredU: &u,
		Accepted: true, Verdict: "passed"}, nil)
	require.NoError(t, err)
	data := backUpOf(t, s)

	_, err = s.Erase(ctx, v.RiderID)
	require.NoError(t, err)
	other, _ := fill(t, s, "Alex", []byte("another photo"))
	b, err := s.ReadBackUp(ctx, bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	assert.Equal(t, [5]int{1, 1, 1, 1, 1}, [5]int{b.Riders, b.Visits, b.Photos, b.Sheets, b.Checks})
	assert.Equal(t, []string{"shop.yaml"}, b.Shop)
	_, err = s.Visit(ctx, other.ID)
	require.NoError(t, err, "reading it changes nothing")

	require.NoError(t, s.Restore(ctx, b))
	require.NoError(t, b.Close())
	again, err := s.Record(ctx, k.ID)
	require.NoError(t, err)
	assert.Equal(t, k, again)
	photo, err := os.ReadFile(filepath.Join(dir, photoDir, hashOf([]byte("a photo"))+".jpg"))
	require.NoError(t, err)
	assert.Equal(t, "a photo", string(photo))
	assert.NoFileExists(t, filepath.Join(dir, photoDir, hashOf([]byte("another photo"))+".jpg"))
	lines, err := s.Riders(ctx, "", 9)
	require.NoError(t, err)
	require.Len(t, lines, 1)
	assert.Equal(t, "Robin", lines[0].Alias)
	left, err := os.ReadDir(filepath.Join(dir, incomingDir))
	require.NoError(t, err)
	assert.Empty(t, left)
	_, err = s.NewVisit(ctx, "Kim")
	assert.NoError(t, err, "and it goes on")
}

// repacked changes a zip's files; an empty text takes one out.
func repacked(t *testing.T, data []byte, change func(name string, content []byte) (string, []byte)) []byte {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	var b bytes.Buffer
	out := zip.NewWriter(&b)
	for _, f := range in.File {
		r, err := f.Open()
		require.NoError(t, err)
		content, err := io.ReadAll(r)
		require.NoError(t, err)
		if name, content := change(f.Name, content); content != nil {
			require.NoError(t, addFile(out, name, content))
		}
	}
	require.NoError(t, out.Close())
	return b.Bytes()
}

// A back-up that is not whole is refused, whatever is wrong with it, and nothing is changed.
func TestDamagedBackUpsAreRefused(t *testing.T) {
	ctx := t.Context()
	dir := t.TempDir()
	s := open(t, dir)
	fill(t, s, "Robin", []byte("a photo"))
	data := backUpOf(t, s)
	for name, change := range map[string]func(string, []byte) (string, []byte){
		"a photo changed": func(n string, c []byte) (string, []byte) {
			if strings.HasPrefix(n, photoDir) {
				return n, []byte("another")
			}
			return n, c
		},
		"a photo missing": func(n string, c []byte) (string, []byte) {
			if strings.HasPrefix(n, photoDir) {
				return n, nil
			}
			return n, c
		},
		"no note": func(n string, c []byte) (string, []byte) {
			if n == backUpNote {
				return n, nil
			}
			return n, c
		},
		"no database": func(n string, c []byte) (string, []byte) {
			if n == fileName {
				return n, nil
			}
			return n, c
		},
		"a damaged database": func(n string, c []byte) (string, []byte) {
			if n == fileName {
				copy(c[len(c)/2:], bytes.Repeat([]byte{0xff}, 9000))
			}
			return n, c
		},
		"a record that is none": func(n string, c []byte) (string, []byte) {
			if n == fileName {
				c = bytes.ReplaceAll(c, []byte(`"schema":`), []byte(`"schemo":`))
			}
			return n, c
		},
		"a way out": func(n string, c []byte) (string, []byte) {
			return strings.Replace(n, "shop/", "shop/../../", 1), c
		},
		"another name": func(n string, c []byte) (string, []byte) {
			return strings.Replace(n, "shop/", "else/", 1), c
		},
	} {
		bad := repacked(t, data, change)
		_, err := s.ReadBackUp(ctx, bytes.NewReader(bad), int64(len(bad)))
		assert.ErrorIs(t, err, ErrDamaged, name)
	}
	_, err := s.ReadBackUp(ctx, strings.NewReader("hello"), 5)
	assert.ErrorIs(t, err, ErrDamaged)
	newer := repacked(t, data, func(n string, c []byte) (string, []byte) {
		return n, bytes.Replace(c, []byte(`"schema":`), []byte(`"schema":9`), 1)
	})
	_, err = s.ReadBackUp(ctx, bytes.NewReader(newer), int64(len(newer)))
	assert.ErrorContains(t, err, "newer sitspan")
	left, err := os.ReadDir(filepath.Join(dir, incomingDir))
	require.NoError(t, err)
	assert.Empty(t, left, "nothing of them is left")
}
