package record

import (
	"errors"
	"os"

	"github.com/ncruces/go-sqlite3"
)

// The layout of a write-ahead log: a header, then frames of a header and a page each (sqlite.org/fileformat2.html, section 4.1).
const (
	logHeader   = 32 // bytes
	frameHeader = 24 // bytes
)

// Commit writes the batch in one transaction and returns when it is on disk. After an error nothing of it is there ([ErrDiskFull], [ErrIO],
// [ErrStale] where another incarnation has begun, [ErrInvalid] for a batch that the store does not take), and the next call may well succeed.
func (s *Store) Commit(b Batch) error {
	kept, err := b.Kept.checked()
	if err != nil {
		return err
	}
	return s.write(b.Journal, b.Record, &kept)
}

// Append writes rows that come with no new state, in one transaction, with the promises of Commit. One goroutine calls both, so the rows of each
// table stand in the order in which they were handed in; to give many at once is much cheaper than one by one.
func (s *Store) Append(journal []JournalRow, record []RecordRow) error {
	if len(journal) == 0 && len(record) == 0 {
		return nil
	}
	return s.write(journal, record, nil)
}

// logMost is how many pages (32 MiB) the write-ahead log may reach before a commit itself moves them into the database, whoever waits for it.
const logMost = 8192

// Checkpoint moves the write-ahead log into the database if it holds at least so many pages that are not there yet. That takes many commits' time, so whoever writes
// calls it when nobody waits; SQLite's own habit is to do it inside the commit that comes to a thousand pages. An error leaves everything where it was: in the log.
func (s *Store) Checkpoint(pages int) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.conn == nil {
		return ErrClosed
	}
	frames, moved, err := s.conn.c.WALCheckpoint("main", sqlite3.CHECKPOINT_NOOP)
	if err == nil && frames-moved >= pages {
		_, _, err = s.conn.c.WALCheckpoint("main", sqlite3.CHECKPOINT_PASSIVE)
	}
	return placed(s.path, err)
}

// LastJournal is the number of the newest journal row that is on disk, also one that was pruned since; 0 for none.
func (s *Store) LastJournal() uint64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.lastJournal
}

func (s *Store) write(journal []JournalRow, record []RecordRow, kept *Kept) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	journal, err := checkedJournal(journal, s.lastJournal)
	if err != nil {
		return err
	}
	record, err = checkedRecord(record)
	if err != nil {
		return err
	}
	if kept != nil && kept.Epoch != s.kept.Epoch {
		return placed(s.path, staleEpoch(kept.Epoch, s.kept.Epoch))
	}
	next := s.tail.end().append(record)
	err = s.transact(func(c *conn) error {
		return writeRows(c, journal, record, next, s.kept, kept)
	})
	if err != nil {
		return err
	}
	s.tail.push(record...)
	if kept != nil {
		s.kept = *kept
	}
	if n := len(journal); n > 0 {
		s.lastJournal = journal[n-1].Seq
	}
	return nil
}

func writeRows(c *conn, journal []JournalRow, record []RecordRow, next head, was Kept, kept *Kept) error {
	for _, r := range journal {
		if err := insertJournal(c, r); err != nil {
			return err
		}
	}
	for _, r := range record {
		if err := insertRecord(c, r); err != nil {
			return err
		}
	}
	if len(record) > 0 {
		if err := writeHead(c, next); err != nil {
			return err
		}
	}
	if kept == nil {
		return nil
	}
	return writeKept(c, was, *kept)
}

// transact runs do in one transaction that is on disk when transact returns nil, and undone when it does not. The caller holds s.mu.
func (s *Store) transact(do func(*conn) error) error {
	if s.conn == nil {
		return ErrClosed
	}
	c := s.conn
	if err := c.exec("BEGIN IMMEDIATE"); err != nil {
		return placed(s.path, err)
	}
	err := do(c)
	if err == nil {
		err = c.exec("COMMIT")
	}
	if err == nil {
		return nil
	}
	return placed(s.path, errors.Join(err, s.undo()))
}

// undo takes back what a failed transaction left. SQLite may have rolled it back already.
func (s *Store) undo() error {
	var err error
	if !s.conn.c.GetAutocommit() {
		err = s.conn.exec("ROLLBACK")
	}
	s.cutLog()
	return err
}

// cutLog cuts the write-ahead log behind the last committed frame. Where a commit failed at its flush, all of its frames stand in the log already:
// SQLite does not count them, but the next process that opens the database after a kill would find them whole and count them, and what was told as
// failed would be on. The next transaction that succeeds would overwrite them; until then only this cut keeps them out. Should the disk refuse it
// too, or the power go on such a disk, the batch may come back, whole: nothing that a program can do then would be sure.
func (s *Store) cutLog() {
	frames, _, err := s.conn.c.WALCheckpoint("main", sqlite3.CHECKPOINT_NOOP)
	if err != nil || frames < 0 {
		return
	}
	size := int64(logHeader) + int64(frames)*(frameHeader+pageSize)
	if info, err := os.Stat(s.path + "-wal"); err == nil && info.Size() > size {
		_ = os.Truncate(s.path+"-wal", size)
	}
}
