// Package record keeps what must outlive the daemon, in one SQLite database in the site's state folder: the journal of everything that the engine
// was told, the record of everything that was commanded, answered and reached, and the few values that a restart needs. It is the only package
// that knows SQLite, and it knows nothing of looks: payloads are JSON that it stores and never reads.
//
// What returned without an error is on disk (WAL, synchronous FULL). What returned with one is not there, and the store goes on working once
// the disk does: the caller then tells the hole with a row of kind [Gap].
package record

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"

	"lookgate/daemon/files"
)

// fileName is the database inside the state folder.
const fileName = "record.db"

// defaultTailCheck is how many of the newest record rows Open verifies where the options say nothing: some days of a busy stage, about 10 ms.
const defaultTailCheck = 1000

// Options are what Open takes besides the folder. The zero value is right for a daemon.
type Options struct {
	// TailCheck is how many of the newest record rows are verified at Open; 0 means 1000. VerifyChain checks them all.
	TailCheck int

	// Fault, if not nil, is asked before every operation on the database file and its write-ahead log; an error makes the operation fail with it
	// instead. It may be called from several goroutines at once. Only tests set it.
	Fault func(Op) error
}

// Store is an open record. It holds the file for itself: no other program can read or write it until Close, so none can make a commit wait.
//
// One goroutine writes (Commit, Append, Snapshot, Prune, NewEpoch) and any number may read beside it. Tail and Head answer from memory at once, even
// while the disk hangs; what else reads waits for the transaction that is under way, and a transaction waits for one short read.
type Store struct {
	path    string
	release func() // of the file layer
	tail    tail

	mu          sync.Mutex // held for a whole transaction and for one read; covers everything below
	conn        *conn      // nil when closed
	kept        Kept       // as committed
	lastJournal uint64     // as committed
}

// Open opens the record in dir, and creates it where there is none. It verifies that SQLite really works as asked (WAL, synchronous FULL, page
// checksums), that what a restart needs is whole, and that the newest rows of the chain are. A file that is torn, foreign or newer than this
// program is an error and stays as it is ([ErrCorrupt]); nothing is ever recreated over it. A file that another program has open is [ErrBusy].
func Open(dir string, opts Options) (*Store, error) {
	full, err := filepath.Abs(dir)
	if err != nil {
		return nil, unusable(dir, err)
	}
	if err := os.MkdirAll(full, 0o755); err != nil {
		return nil, unusable(dir, err)
	}
	layer, release := register(opts.Fault)
	s := &Store{path: filepath.Join(full, fileName), release: release}
	if err := s.open(layer, opts.TailCheck); err != nil {
		return nil, errors.Join(placed(s.path, err), s.Close())
	}
	return s, nil
}

func (s *Store) open(layer string, check int) (err error) {
	if err := ensureCreated(s.path, layer); err != nil {
		return err
	}
	if s.conn, err = connect(s.path, layer, false); err != nil {
		return err
	}
	if err := migrate(s.conn); err != nil {
		return err
	}
	if err := s.conn.harden(); err != nil {
		return err
	}
	if check <= 0 {
		check = defaultTailCheck
	}
	return s.readState(check)
}

// readState fills in what the store knows of the database, and verifies it.
func (s *Store) readState(check int) (err error) {
	if s.kept, err = readKept(s.conn); err != nil {
		return err
	}
	if s.lastJournal, err = readLastJournal(s.conn); err != nil {
		return err
	}
	stored, err := readHead(s.conn)
	if err != nil {
		return err
	}
	return verifyTail(s.conn, stored, check, s.tail.push)
}

// ensureCreated makes the database where there is none. It is built under another name and renamed when whole, so that a file of this name is
// never one that a crash left half made: if it is not a database, something is wrong with it and Open says so.
func ensureCreated(path, layer string) error {
	info, err := os.Stat(path)
	switch {
	case err == nil && info.Size() == 0:
		return corrupt(errors.New("the file is empty"))
	case err == nil:
		return nil
	case !errors.Is(err, os.ErrNotExist):
		return err
	}
	for _, orphan := range []string{path + "-wal", path + "-journal"} {
		if _, err := os.Lstat(orphan); err == nil {
			return corrupt(fmt.Errorf("it is missing, but %s is there", filepath.Base(orphan)))
		}
	}
	aside := path + ".new"
	for _, leftover := range []string{"", "-wal", "-shm", "-journal"} {
		if err := os.Remove(aside + leftover); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	if err := build(aside, layer); err != nil {
		return err
	}
	return files.Rename(aside, path)
}

// Close lets go of the database. A second call does nothing. What else touches the disk then returns [ErrClosed].
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	err := s.conn.close()
	s.conn = nil
	if s.release != nil {
		s.release()
		s.release = nil
	}
	return err
}

// read runs do on the connection, between two transactions.
func (s *Store) read(do func(*conn) error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.conn == nil {
		return ErrClosed
	}
	return placed(s.path, do(s.conn))
}
