package store

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// childDir names the folder that a child of this test fills until it is killed.
const childDir = "SITSPAN_TEST_FILL"

func TestMain(m *testing.M) {
	if dir := os.Getenv(childDir); dir != "" {
		fillForEver(dir)
	}
	os.Exit(m.Run())
}

// fillForEver keeps photos and notes, and says each once it is confirmed.
func fillForEver(dir string) {
	s, err := Open(dir, "")
	if err != nil {
		fmt.Println("failed", err)
		os.Exit(1)
	}
	ctx := context.Background()
	v, _ := s.NewVisit(ctx, "Robin")
	for i := 0; ; i++ {
		photo := bytes.Repeat(fmt.Appendf(nil, "%d %d ", os.Getpid(), i), 20_000)
		shot, err := s.AddPhoto(ctx, v.ID, "x.jpg", "phone", ".jpg", bytes.NewReader(photo), 1<<30)
		if err != nil {
			fmt.Println("failed", err)
			os.Exit(1)
		}
		fmt.Println("photo", shot.SHA256)
		v.Note = fmt.Sprint(i)
		if err := s.SaveVisit(ctx, v); err == nil {
			v.Version++
			fmt.Println("note", v.ID, i)
		}
	}
}

// TestKilledDeskLosesNothingConfirmed ends a writing process with SIGKILL at
// moments that nobody chose, again and again on one folder.
func TestKilledDeskLosesNothingConfirmed(t *testing.T) {
	dir := t.TempDir()
	confirmed, notes := 0, map[int64]int{}
	for round := range 6 {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), childDir+"="+dir)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		lines := bufio.NewScanner(out)
		time.AfterFunc(time.Duration(300+rand.IntN(400))*time.Millisecond,
			func() { _ = cmd.Process.Signal(syscall.SIGKILL) })
		var hashes []string
		for lines.Scan() {
			word, rest, _ := strings.Cut(lines.Text(), " ")
			require.NotEqual(t, "failed", word, rest)
			if word == "photo" {
				hashes = append(hashes, rest)
			} else {
				var id int64
				var n int
				_, err := fmt.Sscan(rest, &id, &n)
				require.NoError(t, err)
				notes[id] = n
			}
		}
		require.Error(t, cmd.Wait(), "it was killed")

		s, err := Open(dir, "")
		require.NoError(t, err, "round %d", round)
		for _, hash := range hashes {
			data, err := os.ReadFile(filepath.Join(dir, photoDir, hash+".jpg"))
			require.NoError(t, err)
			require.Equal(t, hash, hashOf(data))
			_, err = s.oneShot(t.Context(), "s.sha256 = ?", hash)
			require.NoError(t, err)
		}
		for id, n := range notes {
			v, err := s.Visit(t.Context(), id)
			require.NoError(t, err)
			var got int
			_, err = fmt.Sscan(v.Note, &got)
			require.NoError(t, err)
			require.GreaterOrEqual(t, got, n)
		}
		requireFilesMatchRows(t, s)
		require.NoError(t, s.Close())
		confirmed += len(hashes)
	}
	assert.Greater(t, confirmed, 20)
	t.Logf("%d photos confirmed over 6 kills, none lost", confirmed)
}

func requireFilesMatchRows(t *testing.T, s *Store) {
	t.Helper()
	var rows int
	require.NoError(t, s.db.QueryRow("SELECT count(*) FROM photos").Scan(&rows))
	files, err := os.ReadDir(filepath.Join(s.dir, photoDir))
	require.NoError(t, err)
	require.Len(t, files, rows, "no file without a row, no row without a file")
	left, err := os.ReadDir(filepath.Join(s.dir, incomingDir))
	require.NoError(t, err)
	require.Empty(t, left)
	var sound string
	require.NoError(t, s.db.QueryRow("PRAGMA integrity_check").Scan(&sound))
	require.Equal(t, "ok", sound)
}

// TestFullDatabaseKeepsTheOldState lets the database grow no further.
func TestFullDatabaseKeepsTheOldState(t *testing.T) {
	s := open(t, t.TempDir())
	v, k := fill(t, s, "Robin", []byte("photo"))
	s.db.SetMaxOpenConns(1)
	var pages int
	require.NoError(t, s.db.QueryRow("PRAGMA page_count").Scan(&pages))
	_, err := s.db.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages))
	require.NoError(t, err)

	_, err = s.AddRecord(t.Context(), Kept{VisitID: v.ID, Kind: OfTogether, Record: k.Record},
		map[string][]byte{Overlay: make([]byte, 1<<20)})
	require.ErrorIs(t, err, ErrDiskFull)
	assert.Contains(t, err.Error(), "free some space")
	records, err := s.Records(t.Context(), v.ID)
	require.NoError(t, err)
	assert.Len(t, records, 1)
	got, err := s.Visit(t.Context(), v.ID)
	require.NoError(t, err)
	assert.Equal(t, k.ID, got.Current)
}

// TestFullDiskKeepsTheOldState fills a small file system, where one may be
// mounted.
func TestFullDiskKeepsTheOldState(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=2m"); err != nil {
		t.Skipf("a small file system cannot be mounted here (%v); the database's own test stands", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	s, err := Open(dir, "")
	require.NoError(t, err)
	defer s.Close()
	v, k := fill(t, s, "Robin", []byte("photo"))
	_, err = s.AddPhoto(t.Context(), v.ID, "big.jpg", "desk", ".jpg", bytes.NewReader(make([]byte, 4<<20)),
		1<<30)
	require.ErrorIs(t, err, ErrDiskFull)
	shots, err := s.Shots(t.Context(), v.ID)
	require.NoError(t, err)
	assert.Len(t, shots, 1)
	requireFilesMatchRows(t, s)
	got, err := s.Record(t.Context(), k.ID)
	require.NoError(t, err)
	assert.Equal(t, k, got)
	_, err = s.AddPhoto(t.Context(), v.ID, "small.jpg", "desk", ".jpg", strings.NewReader("small"), 1<<30)
	assert.NoError(t, err, "there is room for a small one")
}
