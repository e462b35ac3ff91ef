package record_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
)

// A disk that is really full: a child mounts a file system of 1 MiB that only it sees, fills it, and makes room again.
func TestReallyFullDisk(t *testing.T) {
	c := child("fill", t.TempDir())
	c.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWNS}
	if os.Getuid() != 0 {
		c.SysProcAttr = &syscall.SysProcAttr{
			Cloneflags:  syscall.CLONE_NEWNS | syscall.CLONE_NEWUSER,
			UidMappings: []syscall.SysProcIDMap{{HostID: os.Getuid(), Size: 1}},
		}
	}
	out, err := c.CombinedOutput()
	if errors.Is(err, syscall.EPERM) || (c.ProcessState != nil && c.ProcessState.ExitCode() == noMount) {
		t.Skip("this machine lets the test mount nothing: disk full is tested only by TestEveryOperationOfACommitFails")
	}
	require.NoError(t, err, "%s", out)
	t.Logf("%s", out)
}

// noMount is the child's exit code where it may not mount.
const noMount = 77

func fillSmallDisk(dir string) error {
	for _, err := range []error{
		syscall.Mount("", "/", "", syscall.MS_REC|syscall.MS_PRIVATE, ""), // nothing of what follows is seen outside
		syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"),
	} {
		if err != nil {
			fmt.Println(err)
			os.Exit(noMount)
		}
	}
	s, err := record.Open(dir, record.Options{})
	if err != nil {
		return err
	}
	epoch, err := s.NewEpoch()
	if err != nil {
		return err
	}
	ballast := filepath.Join(dir, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 300<<10), 0o644); err != nil {
		return err
	}
	n := uint64(0)
	for err == nil {
		n++
		err = s.Commit(batch(epoch, n))
	}
	if !errors.Is(err, record.ErrDiskFull) {
		return fmt.Errorf("commit %d failed otherwise than by a full disk: %w", n, err)
	}
	for range 3 {
		if err := s.Commit(batch(epoch, n)); !errors.Is(err, record.ErrDiskFull) {
			return fmt.Errorf("the disk is still full, and the commit said: %w", err)
		}
	}
	fmt.Printf("full at commit %d; ", n)
	return emptySmallDisk(s, dir, ballast, epoch, n)
}

// emptySmallDisk makes room and checks that the store goes on where it was, with the gap told.
func emptySmallDisk(s *record.Store, dir, ballast string, epoch, n uint64) error {
	if k, err := s.Load(); err != nil || k.Command != n-1 {
		return fmt.Errorf("on the full disk the store reads %d, not %d: %w", k.Command, n-1, err)
	}
	if err := os.Remove(ballast); err != nil {
		return err
	}
	if err := s.Append(nil, gap(n)); err != nil {
		return err
	}
	for i := range uint64(5) {
		if err := s.Commit(batch(epoch, n+i)); err != nil {
			return err
		}
	}
	if err := errors.Join(s.VerifyChain(), s.Close()); err != nil {
		return err
	}
	s, err := record.Open(dir, record.Options{})
	if err != nil {
		return err
	}
	k, err := s.Load()
	if err != nil || k.Command != n+4 {
		return fmt.Errorf("after a restart the store reads %d, not %d: %w", k.Command, n+4, err)
	}
	fmt.Println("goes on after room was made")
	return s.Close()
}
