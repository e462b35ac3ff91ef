package files_test

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/files"
)

// lockDir tells the test binary, started as a child, which folder to lock.
const lockDir = "LOOKGATE_TEST_LOCK_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(lockDir); dir != "" {
		os.Exit(lockAndWait(dir))
	}
	os.Exit(m.Run())
}

// lockAndWait is the child: it says whether it got the lock, then holds it until its standard input ends.
func lockAndWait(dir string) int {
	lock, err := files.LockFolder(dir)
	if err != nil {
		fmt.Println(err)
		return 1
	}
	fmt.Println("locked")
	_, _ = bufio.NewReader(os.Stdin).ReadString('\n')
	if err := lock.Unlock(); err != nil {
		return 1
	}
	return 0
}

func startChild(t *testing.T, dir string) (child *exec.Cmd, firstLine string, release func()) {
	t.Helper()
	child = exec.Command(os.Args[0])
	child.Env = append(os.Environ(), lockDir+"="+dir)
	in, err := child.StdinPipe()
	require.NoError(t, err)
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	t.Cleanup(func() { _ = child.Process.Kill(); _ = child.Wait() })
	firstLine, err = bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	return child, firstLine, func() { _ = in.Close() }
}

func TestLockIsHeldByOneProcessAndNamesIt(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "state")
	child, line, release := startChild(t, dir)
	require.Equal(t, "locked\n", line)

	_, err := files.LockFolder(dir)
	var held *files.HeldError
	require.ErrorAs(t, err, &held)
	require.Equal(t, child.Process.Pid, held.PID)
	require.ErrorContains(t, err, fmt.Sprintf("%s: the folder is in use by process %d\n", filepath.Join(dir, "lock"), child.Process.Pid))

	release()
	require.NoError(t, child.Wait())
	lock, err := files.LockFolder(dir)
	require.NoError(t, err)

	_, line, _ = startChild(t, dir) // and the other way round
	require.Contains(t, line, fmt.Sprintf("in use by process %d", os.Getpid()))
	require.NoError(t, lock.Unlock())
	require.NoError(t, lock.Unlock(), "a second call does nothing")
}

func TestLockOfAKilledProcessIsFree(t *testing.T) {
	dir := t.TempDir()
	child, line, _ := startChild(t, dir)
	require.Equal(t, "locked\n", line)
	require.NoError(t, child.Process.Kill())
	require.Error(t, child.Wait())

	lock, err := files.LockFolder(dir)
	require.NoError(t, err, "the number of the dead process in the file means nothing")
	require.Equal(t, fmt.Sprintf("%d\n", os.Getpid()), read(t, filepath.Join(dir, "lock")))
	require.NoError(t, lock.Unlock())
}

func TestLockTwiceInOneProcess(t *testing.T) {
	dir := t.TempDir()
	lock, err := files.LockFolder(dir)
	require.NoError(t, err)
	_, err = files.LockFolder(dir)
	var held *files.HeldError
	require.ErrorAs(t, err, &held)
	require.NoError(t, lock.Unlock())
	lock, err = files.LockFolder(dir)
	require.NoError(t, err)
	require.NoError(t, lock.Unlock())
}

func TestLockWhereNoFolderCanBe(t *testing.T) {
	file := filepath.Join(t.TempDir(), "state")
	write(t, file, "in the way")
	_, err := files.LockFolder(file)
	var held *files.HeldError
	require.False(t, errors.As(err, &held))
	require.ErrorContains(t, err, "cannot be locked")
}

func pipe(t *testing.T, dir string) string {
	t.Helper()
	path := filepath.Join(dir, "pipe")
	require.NoError(t, syscall.Mkfifo(path, 0o600))
	return path
}
