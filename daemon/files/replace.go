// Package files keeps the plain files of a site whole: it replaces a file so that a reader, a crash or a power cut finds either the old or the
// new contents, keeps earlier versions, locks a folder against a second daemon, and reads a file without trusting its size.
//
// It runs where flock(2) and rename(2) mean what POSIX says: Linux and macOS.
package files

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// newFileMode is the mode of a file that did not exist before; a file that did keeps its own.
const newFileMode fs.FileMode = 0o644

// Step names a point of a replacement after which a crash may come. Tests stop a replacement at each of them.
type Step string

// The steps of a replacement in the order in which they run. A step's name is told before it is taken.
const (
	StepKeep   Step = "keep the old version"
	StepWrite  Step = "write the new file aside"
	StepFlush  Step = "flush the new file"
	StepRename Step = "rename it into place"
	StepFolder Step = "flush the folder"
	StepDrop   Step = "drop the oldest versions"
)

// Replacement puts Data into the file at Path, whole. Only one replacement of a path may run at a time: the folder lock of a site ([LockFolder])
// keeps other processes out, and the caller keeps its own goroutines apart.
type Replacement struct {
	Path string
	Data []byte

	// Versions says where what Path held before is kept. Zero keeps nothing.
	Versions Versions

	// Step, if not nil, is told each step before it is taken; an error stops the replacement there as a crash would: nothing is cleaned up.
	// Only tests set it.
	Step func(Step) error
}

// Replace puts data into the file at path, whole, and keeps no earlier version. Its errors are those of [Replacement.Do].
func Replace(path string, data []byte) error {
	return Replacement{Path: path, Data: data}.Do()
}

// Do writes the data beside the file, flushes it, renames it into place and flushes the folder, because a rename that is not flushed may be
// undone by a power cut. Where the file holds the same bytes already nothing is written and no version is kept. After an error the file holds
// the old contents, except where flushing the folder failed: then it holds the new ones, and a power cut may still undo them.
//
// A symbolic link at Path stays: the file that it points to is replaced.
func (r Replacement) Do() error {
	path, err := target(r.Path)
	if err != nil {
		return unreplaced(r.Path, err)
	}
	old, mode, err := present(path)
	if err != nil {
		return unreplaced(r.Path, err)
	}
	if old != nil && bytes.Equal(old, r.Data) {
		return nil
	}
	if err := r.keep(path, old); err != nil {
		return unreplaced(r.Path, err)
	}
	if err := writeWhole(path, r.Data, mode, r.step); err != nil {
		return unreplaced(r.Path, err)
	}
	return r.drop(path, old)
}

// keep stores what the file held before, before the file is touched: a version that is written only afterwards is lost by a crash in between.
func (r Replacement) keep(path string, old []byte) error {
	if old == nil || r.Versions.Count <= 0 {
		return nil
	}
	if err := r.step(StepKeep); err != nil {
		return err
	}
	return r.Versions.add(filepath.Base(path), old)
}

// drop removes versions beyond the count. The replacement is done and durable by now, so what cannot be removed is left for the next time.
func (r Replacement) drop(path string, old []byte) error {
	if old == nil || r.Versions.Count <= 0 {
		return nil
	}
	if err := r.step(StepDrop); err != nil {
		return err
	}
	r.Versions.drop(filepath.Base(path))
	return nil
}

func (r Replacement) step(s Step) error {
	if r.Step == nil {
		return nil
	}
	return r.Step(s)
}

// target follows symbolic links, so that a file that is linked into the site folder is replaced where it really is. A link that points to
// nothing is an error: replacing it would leave the place that it names without the data.
func target(path string) (string, error) {
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		return path, nil
	}
	return filepath.EvalSymlinks(path)
}

// present returns what the file holds and its mode; nil and the mode for new files where there is none.
func present(path string) ([]byte, fs.FileMode, error) {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, newFileMode, nil
	}
	if err != nil {
		return nil, 0, err
	}
	if !info.Mode().IsRegular() {
		return nil, 0, errors.New("it is not a regular file")
	}
	data, err := os.ReadFile(path)
	if data == nil {
		data = []byte{}
	}
	return data, info.Mode().Perm(), err
}

// writeWhole is the one place where a file comes into being: aside, flushed, renamed, folder flushed. The name aside is always the same, so
// that what a crash leaves behind is overwritten by the next replacement and never piles up.
func writeWhole(path string, data []byte, mode fs.FileMode, step func(Step) error) error {
	aside := filepath.Join(filepath.Dir(path), "."+filepath.Base(path)+".new")
	if err := step(StepWrite); err != nil {
		return err
	}
	if err := writeFlushed(aside, data, mode, step); err != nil {
		return err
	}
	if err := step(StepRename); err != nil {
		return err
	}
	if err := os.Rename(aside, path); err != nil {
		return err
	}
	if err := step(StepFolder); err != nil {
		return err
	}
	if err := FlushFolder(filepath.Dir(path)); err != nil {
		return fmt.Errorf("%w: %w", errNotDurable, err)
	}
	return nil
}

func writeFlushed(aside string, data []byte, mode fs.FileMode, step func(Step) error) (err error) {
	f, err := os.OpenFile(aside, os.O_WRONLY|os.O_CREATE|os.O_TRUNC|syscall.O_NOFOLLOW, mode)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	// The mode given to OpenFile is cut by the umask and ignored for a file that a crash left behind.
	if err := f.Chmod(mode); err != nil {
		return err
	}
	if _, err := f.Write(data); err != nil {
		return err
	}
	if err := step(StepFlush); err != nil {
		return err
	}
	return f.Sync()
}

// Rename moves a file that is already flushed and makes its new name durable. Both names must lie in the same folder.
func Rename(from, to string) error {
	if err := os.Rename(from, to); err != nil {
		return err
	}
	return FlushFolder(filepath.Dir(to))
}

// FlushFolder makes the names in a folder durable: flushing a file says nothing about the entry that leads to it (fsync(2)).
func FlushFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// errNotDurable tells the one failure after which the new contents are already in place.
var errNotDurable = errors.New("the folder was not flushed")

func unreplaced(path string, err error) error {
	if errors.Is(err, errNotDurable) {
		return fmt.Errorf("%s: replaced, but a power cut may undo it: %w\ncheck the disk, then save again", path, err)
	}
	return fmt.Errorf("%s: not replaced: %w\ncheck the free space and the permissions of the folder; what the file held is still there", path, err)
}
