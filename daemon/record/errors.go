package record

import (
	"errors"
	"fmt"
	"strings"
	"syscall"

	"github.com/ncruces/go-sqlite3"
)

// The kinds of errors, for errors.Is. What the disk may recover from is ErrDiskFull, ErrIO and ErrBusy.
var (
	ErrDiskFull = errors.New("the disk is full")
	ErrIO       = errors.New("the disk does not work")
	ErrBusy     = errors.New("another program has the record open")
	ErrCorrupt  = errors.New("the record is damaged")
	ErrNewer    = errors.New("the record is newer than this program")
	ErrStale    = errors.New("another incarnation has begun")
	ErrInvalid  = errors.New("the record does not take this")
	ErrClosed   = errors.New("the record is closed")
)

// Error is a failure in two lines: what is wrong and where, and what to do.
type Error struct {
	Path string // of the database
	What string
	Do   string
	Err  error // wraps one of the kinds above
}

// Error gives both lines.
func (e *Error) Error() string { return fmt.Sprintf("%s: %s\n%s", e.Path, e.What, e.Do) }

// Unwrap gives the kind and the cause.
func (e *Error) Unwrap() error { return e.Err }

// kindOf tells what SQLite's codes mean to a person (sqlite.org/rescode.html).
func kindOf(err error) error {
	for _, k := range []error{ErrDiskFull, ErrIO, ErrBusy, ErrCorrupt, ErrNewer, ErrStale, ErrInvalid, ErrClosed} {
		if errors.Is(err, k) {
			return k
		}
	}
	switch {
	case errors.Is(err, sqlite3.FULL), errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return ErrDiskFull
	case errors.Is(err, sqlite3.CORRUPT), errors.Is(err, sqlite3.NOTADB), errors.Is(err, sqlite3.IOERR_DATA),
		errors.Is(err, sqlite3.IOERR_SHORT_READ), errors.Is(err, sqlite3.IOERR_CORRUPTFS),
		// What a missing table gives, and a row whose number is taken: the statements here are fixed and the numbers counted.
		errors.Is(err, sqlite3.ERROR), errors.Is(err, sqlite3.CONSTRAINT):
		return ErrCorrupt
	case errors.Is(err, sqlite3.BUSY), errors.Is(err, sqlite3.LOCKED):
		return ErrBusy
	}
	return ErrIO
}

// remedies say what a person does about each kind.
var remedies = map[error]string{
	ErrDiskFull: "make room on that disk; until then nothing that raises is switched, lowering goes on",
	ErrIO:       "check the disk and the permissions of the folder; until then nothing that raises is switched, lowering goes on",
	ErrBusy:     "close the other program; the record can be read and copied while the daemon is stopped",
	ErrCorrupt:  "keep a copy of the state folder for inquiry, then put back a whole one, or move record.db and the files beside it away to begin an empty record",
	ErrStale:    "this is a fault of the program: tell its makers",
}

// placed gives err its place and its second line. nil stays nil, and what has both already stays as it is, but for the path.
func placed(path string, err error) error {
	if err == nil || errors.Is(err, ErrClosed) || errors.Is(err, ErrInvalid) {
		return err
	}
	var e *Error
	if errors.As(err, &e) {
		if e.Path == "" {
			e.Path = path
		}
		return e
	}
	kind := kindOf(err)
	what := strings.ReplaceAll(err.Error(), "\n", "; ")
	if !errors.Is(err, kind) {
		what, err = fmt.Sprintf("%v: %s", kind, what), errors.Join(kind, err)
	}
	return &Error{Path: path, What: what, Do: remedies[kind], Err: err}
}

func corrupt(err error) error { return fmt.Errorf("%w: %w", ErrCorrupt, err) }

func staleEpoch(batch, now uint64) error {
	return fmt.Errorf("%w: the batch is of epoch %d, the record is at %d", ErrStale, batch, now)
}

func invalid(what string, err error) error {
	return fmt.Errorf("%s: %w: %w\nthis is a fault of the program: tell its makers", what, ErrInvalid, err)
}

func unusable(dir string, err error) error {
	return &Error{Path: dir, What: fmt.Sprintf("the state folder cannot be used: %v", err), Do: "check the permissions of the folder", Err: errors.Join(ErrIO, err)}
}
