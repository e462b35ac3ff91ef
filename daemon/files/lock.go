package files

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// lockName is the file in a folder that is locked in place of the folder. It is never removed: a process that removed it could leave two others
// with a lock each, one on the old file and one on the new.
const lockName = "lock"

// FolderLock is held by the one process that may write in a folder. The kernel lets go of it when the process ends, however it ends.
type FolderLock struct {
	file *os.File
}

// HeldError says that another process holds a folder's lock.
type HeldError struct {
	Path string // the lock file
	PID  int    // the process that holds it; 0 where it has not yet written its number
}

// Error names the lock and the process, and what to do.
func (e *HeldError) Error() string {
	who := "another process"
	if e.PID > 0 {
		who = fmt.Sprintf("process %d", e.PID)
	}
	return fmt.Sprintf("%s: the folder is in use by %s\nstop that process first; two daemons on one site would overrun each other", e.Path, who)
}

// LockFolder locks dir, which it creates where it is missing, and writes the number of this process into the lock file. It does not wait: where
// another process (or another call of this one) holds the lock it returns a [*HeldError].
func LockFolder(dir string) (*FolderLock, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, unlockable(dir, err)
	}
	path := filepath.Join(dir, lockName)
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|syscall.O_NOFOLLOW, 0o644)
	if err != nil {
		return nil, unlockable(path, err)
	}
	if err := flock(f); err != nil {
		defer f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, &HeldError{Path: path, PID: holder(f)}
		}
		return nil, unlockable(path, err)
	}
	if err := writePID(f); err != nil {
		return nil, unlockable(path, errors.Join(err, f.Close()))
	}
	return &FolderLock{file: f}, nil
}

// Unlock lets go of the lock. A second call does nothing.
func (l *FolderLock) Unlock() error {
	if l.file == nil {
		return nil
	}
	f := l.file
	l.file = nil
	// The number is taken out first, so that whoever looks between the two does not blame a process that has let go.
	return errors.Join(f.Truncate(0), f.Close())
}

// flock asks again where a signal broke in: Go's own preemption signals do.
func flock(f *os.File) error {
	for {
		err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		if !errors.Is(err, syscall.EINTR) {
			return err
		}
	}
}

func holder(f *os.File) int {
	text := make([]byte, 20)
	n, _ := f.ReadAt(text, 0)
	pid, err := strconv.Atoi(strings.TrimSpace(string(text[:n])))
	if err != nil {
		return 0
	}
	return pid
}

func writePID(f *os.File) error {
	if err := f.Truncate(0); err != nil {
		return err
	}
	_, err := f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
	return err
}

func unlockable(path string, err error) error {
	return fmt.Errorf("%s: the folder cannot be locked: %w\ncheck that the folder is on a local disk and that this user may write in it", path, err)
}
