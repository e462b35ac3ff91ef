package files

import (
	"errors"
	"fmt"
	"io"
	"os"
	"syscall"
)

// ErrTooLarge is what [ReadWhole] returns, wrapped, for a file beyond its limit.
var ErrTooLarge = errors.New("the file is too large")

// ReadWhole returns the contents of the regular file at path if they have at most limit bytes. It reads no further than the limit, whatever the
// file says about its size, and never waits on a pipe or a device that stands where a file should. A missing file is [io/fs.ErrNotExist].
func ReadWhole(path string, limit int) ([]byte, error) {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, unreadable(path, err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, unreadable(path, err)
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: it is not a regular file\nput the file itself there", path)
	}
	data, err := io.ReadAll(io.LimitReader(f, int64(limit)+1))
	if err != nil {
		return nil, unreadable(path, err)
	}
	if len(data) > limit {
		return nil, fmt.Errorf("%s: %w, the limit is %d bytes\ncheck that it is the file that is meant", path, ErrTooLarge, limit)
	}
	return data, nil
}

func unreadable(path string, err error) error {
	return fmt.Errorf("%s: not read: %w\ncheck that the file is there and that this user may read it", path, err)
}
