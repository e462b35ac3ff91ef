package record_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/ncruces/go-sqlite3"
	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
)

// edit changes the database by hand, as somebody with a tool would.
func edit(t *testing.T, dir, sql string) {
	t.Helper()
	c, err := sqlite3.OpenFlags(filepath.Join(dir, "record.db"), sqlite3.OPEN_READWRITE)
	require.NoError(t, err)
	require.NoError(t, c.Exec(sql))
	require.NoError(t, c.Close())
}

func TestOpenRefusesWhatIsNotWhole(t *testing.T) {
	overwrite := func(text string) func(*testing.T, string) {
		return func(t *testing.T, dir string) {
			require.NoError(t, os.WriteFile(filepath.Join(dir, "record.db"), []byte(text), 0o644))
		}
	}
	by := func(sql string) func(*testing.T, string) {
		return func(t *testing.T, dir string) { edit(t, dir, sql) }
	}
	tests := []struct {
		name string
		harm func(*testing.T, string)
		kind error
		says string
	}{
		{"empty file", overwrite(""), record.ErrCorrupt, "the file is empty"},
		{"text", overwrite(strings.Repeat("not a database\n", 1000)), record.ErrCorrupt, "not a database"},
		{"half a header", overwrite("SQLite format 3\x00"), record.ErrCorrupt, ""},
		{"gone, but its log is there", func(t *testing.T, dir string) {
			require.NoError(t, os.Rename(filepath.Join(dir, "record.db"), filepath.Join(dir, "record.db-wal")))
		}, record.ErrCorrupt, "it is missing, but record.db-wal is there"},
		{"cut in half", func(t *testing.T, dir string) {
			path := filepath.Join(dir, "record.db")
			info, err := os.Stat(path)
			require.NoError(t, err)
			require.NoError(t, os.Truncate(path, info.Size()/2))
		}, record.ErrCorrupt, ""},
		{"another program's", by("PRAGMA application_id = 1"), record.ErrCorrupt, "another program"},
		{"a newer program's", by("PRAGMA user_version = 99"), record.ErrNewer, "version 99"},
		{"a table gone", by("DROP TABLE kept_outputs"), record.ErrCorrupt, "kept_outputs"},
		{"an envelope changed", by("UPDATE kept_outputs SET envelope = 1 WHERE name = 'out 05'"), record.ErrCorrupt, "what a restart needs"},
		{"an output gone", by("DELETE FROM kept_outputs WHERE name = 'out 05'"), record.ErrCorrupt, "what a restart needs"},
		{"the kept state gone", by("DELETE FROM kept"), record.ErrCorrupt, "what a restart needs"},
		{"the epoch set back", by("UPDATE kept SET epoch = 0"), record.ErrCorrupt, "what a restart needs"},
		{"the newest record rows gone", by("DELETE FROM record WHERE seq > 18"), record.ErrCorrupt, "record row 19 is missing"},
		{"a newest record row changed", by("UPDATE record SET station = 'nobody' WHERE seq = 19"), record.ErrCorrupt, "record row 19 does not match its hash"},
		{"the end of the chain gone", by("DELETE FROM record_head"), record.ErrCorrupt, "the end of the chain"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, dir := opened(t)
			commit(t, s, 1, 1, 10)
			require.NoError(t, s.Close())
			tt.harm(t, dir)
			before := contents(t, dir)
			_, err := record.Open(dir, record.Options{})
			require.ErrorIs(t, err, tt.kind)
			require.ErrorContains(t, err, filepath.Join(dir, "record.db")+": ")
			require.ErrorContains(t, err, tt.says)
			require.Len(t, strings.Split(err.Error(), "\n"), 2, "%s", err)
			_, again := record.Open(dir, record.Options{})
			require.ErrorIs(t, again, tt.kind, "it was made anew")
			require.Equal(t, before, contents(t, dir), "the file was touched")
		})
	}
}

// contents gives the database file's bytes; empty where there is none.
func contents(t *testing.T, dir string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, "record.db"))
	if !errors.Is(err, os.ErrNotExist) {
		require.NoError(t, err)
	}
	return string(data)
}

// Whatever bit of the closed file flips, the store either says that it is damaged, or still holds exactly what it held.
func TestFlippedBits(t *testing.T) {
	s, dir := opened(t)
	commit(t, s, 1, 1, 20)
	require.NoError(t, s.Close())
	good := contents(t, dir)
	found := 0
	const flips = 250
	for i := range flips {
		bad := []byte(good)
		at := (i*len(bad) + i*7919) / flips % len(bad)
		bad[at] ^= 1 << (i % 8)
		where := scratch(t)
		require.NoError(t, os.WriteFile(filepath.Join(where, "record.db"), bad, 0o644))
		s, err := record.Open(where, record.Options{})
		if err == nil {
			err = s.VerifyChain()
		}
		if err == nil {
			_, err = s.Load()
		}
		if err != nil {
			found++
			require.ErrorIs(t, err, record.ErrCorrupt, "byte %d: %v", at, err)
		} else {
			require.EqualValues(t, 20, whole(t, s), "byte %d", at)
		}
		if s != nil {
			_ = s.Close()
		}
	}
	t.Logf("%d of %d flips were noticed; the others lay where nothing is kept", found, flips)
	require.Greater(t, found, flips*9/10)
}
