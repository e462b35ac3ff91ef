package files_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/files"
)

func write(t *testing.T, path, text string) {
	t.Helper()
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
}

func read(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	found := []string{}
	for _, e := range entries {
		found = append(found, e.Name())
	}
	return found
}

func TestReplaceWritesWholeAndLeavesNothingElse(t *testing.T) {
	path := filepath.Join(t.TempDir(), "presets.yaml")
	require.NoError(t, files.Replace(path, []byte("one")))
	require.NoError(t, files.Replace(path, []byte("two")))
	require.Equal(t, "two", read(t, path))
	require.Equal(t, []string{"presets.yaml"}, names(t, filepath.Dir(path)))
}

func TestReplaceKeepsTheModeOfTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "presets.yaml")
	write(t, path, "one")
	require.NoError(t, os.Chmod(path, 0o664)) // wider than the usual umask lets through
	require.NoError(t, files.Replace(path, []byte("two")))
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o664), info.Mode().Perm())
}

func TestReplaceFollowsALink(t *testing.T) {
	dir := t.TempDir()
	real := filepath.Join(dir, "real.yaml")
	link := filepath.Join(dir, "presets.yaml")
	write(t, real, "one")
	require.NoError(t, os.Symlink(real, link))
	require.NoError(t, files.Replace(link, []byte("two")))
	require.Equal(t, "two", read(t, real))
	info, err := os.Lstat(link)
	require.NoError(t, err)
	require.NotZero(t, info.Mode()&os.ModeSymlink, "the link itself must stay")
}

func TestReplaceRefuses(t *testing.T) {
	dir := t.TempDir()
	dangling := filepath.Join(dir, "dangling.yaml")
	require.NoError(t, os.Symlink(filepath.Join(dir, "nowhere", "x"), dangling))
	for name, path := range map[string]string{
		"a folder in its place": dir,
		"a folder that is not":  filepath.Join(dir, "missing", "presets.yaml"),
		"a link to nothing":     dangling,
	} {
		t.Run(name, func(t *testing.T) {
			err := files.Replace(path, []byte("two"))
			require.ErrorContains(t, err, path+": not replaced: ")
			require.Regexp(t, `\n.+$`, err.Error(), "a second line says what to do")
		})
	}
}

// A crash at any step leaves the old or the new contents whole, with the old kept where versions are kept, and the next replacement succeeds.
func TestReplaceStoppedAtEachStep(t *testing.T) {
	crash := errors.New("crash")
	steps := []struct {
		at   files.Step
		want string
	}{
		{files.StepKeep, "old"},
		{files.StepWrite, "old"},
		{files.StepFlush, "old"},
		{files.StepRename, "old"},
		{files.StepFolder, "new"},
		{files.StepDrop, "new"},
	}
	for _, tt := range steps {
		t.Run(string(tt.at), func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "presets.yaml")
			write(t, path, "old")
			versions := files.Versions{Folder: filepath.Join(dir, "versions"), Count: 3}
			reached := false
			err := files.Replacement{Path: path, Data: []byte("new"), Versions: versions, Step: func(s files.Step) error {
				if s == tt.at {
					reached = true
					return crash
				}
				return nil
			}}.Do()
			require.ErrorIs(t, err, crash)
			require.True(t, reached)
			require.Equal(t, tt.want, read(t, path))
			if tt.at != files.StepKeep {
				kept, err := versions.List("presets.yaml")
				require.NoError(t, err)
				require.Len(t, kept, 1)
				require.Equal(t, "old", read(t, kept[0].Path))
			}
			require.NoError(t, files.Replacement{Path: path, Data: []byte("newer"), Versions: versions}.Do())
			require.Equal(t, "newer", read(t, path))
			require.Equal(t, []string{"presets.yaml", "versions"}, names(t, dir), "nothing of the crash stays")
		})
	}
}

func TestVersionsAreBoundedAndOldestGoFirst(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "presets.yaml")
	folder := filepath.Join(dir, "versions")
	other := filepath.Join(folder, "presets.yaml.backup") // not ours: neither counted nor removed
	require.NoError(t, os.MkdirAll(folder, 0o755))
	write(t, other, "by hand")
	for i := range 12 {
		// The labels run backwards, as when a clock is set back: the number decides.
		v := files.Versions{Folder: folder, Count: 3, Label: fmt.Sprintf("t%02d", 99-i)}
		require.NoError(t, files.Replacement{Path: path, Data: fmt.Appendf(nil, "text %d", i), Versions: v}.Do())
	}
	kept, err := files.Versions{Folder: folder}.List("presets.yaml")
	require.NoError(t, err)
	require.Equal(t, []files.Version{
		{Number: 9, Label: "t90", Path: filepath.Join(folder, "presets.yaml.000009.t90")},
		{Number: 10, Label: "t89", Path: filepath.Join(folder, "presets.yaml.000010.t89")},
		{Number: 11, Label: "t88", Path: filepath.Join(folder, "presets.yaml.000011.t88")},
	}, kept)
	require.Equal(t, "text 8", read(t, kept[0].Path))
	require.Equal(t, "text 10", read(t, kept[2].Path))
	require.Equal(t, "by hand", read(t, other))
}

func TestSameContentsMakeNoVersion(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "presets.yaml")
	v := files.Versions{Folder: filepath.Join(dir, "versions"), Count: 3}
	for range 3 {
		require.NoError(t, files.Replacement{Path: path, Data: []byte("same"), Versions: v}.Do())
	}
	kept, err := v.List("presets.yaml")
	require.NoError(t, err)
	require.Empty(t, kept)
}

func TestVersionLabelMayNotLeaveTheFolder(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "presets.yaml")
	write(t, path, "old")
	v := files.Versions{Folder: filepath.Join(dir, "versions"), Count: 3, Label: "../../x"}
	require.ErrorContains(t, files.Replacement{Path: path, Data: []byte("new"), Versions: v}.Do(), "version label")
	require.Equal(t, "old", read(t, path))
}

func TestReadWhole(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "rig.yaml")
	write(t, path, "12345")
	data, err := files.ReadWhole(path, 5)
	require.NoError(t, err)
	require.Equal(t, "12345", string(data))

	_, err = files.ReadWhole(path, 4)
	require.ErrorIs(t, err, files.ErrTooLarge)
	_, err = files.ReadWhole(filepath.Join(dir, "none.yaml"), 4)
	require.ErrorIs(t, err, os.ErrNotExist)
	_, err = files.ReadWhole(dir, 4)
	require.ErrorContains(t, err, "not a regular file")
	_, err = files.ReadWhole(pipe(t, dir), 4)
	require.ErrorContains(t, err, "not a regular file", "a pipe without a writer must not be waited for")
}
