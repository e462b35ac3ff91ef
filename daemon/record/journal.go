package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// Snapshot is the engine's whole state after the input Seq, so that a replay can begin there. Digest is the caller's, to compare a replay with.
// Epoch, which the store fills in, is the incarnation that took it: where a replay meets a snapshot of another epoch, the daemon had restarted
// there, and the state goes on from the snapshot.
type Snapshot struct {
	Seq    uint64
	At     time.Time
	Epoch  uint64
	State  json.RawMessage
	Digest string
}

// Snapshot stores one. Where there is one of the same Seq already, the newer takes its place: a daemon that restarted before any input came begins
// at the number at which the one before it ended.
func (s *Store) Snapshot(snap Snapshot) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := checkRow("snapshot", snap.At, snap.State, snap.Digest); err != nil {
		return invalid(fmt.Sprintf("snapshot %d", snap.Seq), err)
	}
	if snap.Seq > maxNumber {
		return invalid(fmt.Sprintf("snapshot %d", snap.Seq), errors.New("its number is too high"))
	}
	err := s.transact(func(c *conn) error {
		return c.exec("INSERT OR REPLACE INTO journal_snapshots(seq, at, epoch, state, digest) VALUES(?, ?, ?, ?, ?)",
			snap.Seq, snap.At, s.kept.Epoch, snap.State, snap.Digest)
	})
	if err != nil {
		return err
	}
	s.lastJournal = max(s.lastJournal, snap.Seq)
	return nil
}

// Snapshots returns the Seq of every snapshot, oldest first.
func (s *Store) Snapshots() (seqs []uint64, err error) {
	err = s.read(func(c *conn) error {
		return c.each(func(row *sqlite3.Stmt) error {
			seqs = append(seqs, uint64(row.ColumnInt64(0)))
			return nil
		}, "SELECT seq FROM journal_snapshots ORDER BY seq")
	})
	return seqs, err
}

// ReadSnapshot returns the snapshot of that Seq; ok is false where there is none.
func (s *Store) ReadSnapshot(seq uint64) (snap Snapshot, ok bool, err error) {
	err = s.read(func(c *conn) error {
		return c.each(func(row *sqlite3.Stmt) error {
			ok = true
			snap = Snapshot{Seq: uint64(row.ColumnInt64(0)), At: columnTime(row, 1), Epoch: uint64(row.ColumnInt64(2)), State: columnJSON(row, 3), Digest: row.ColumnText(4)}
			return nil
		}, "SELECT seq, at, epoch, state, digest FROM journal_snapshots WHERE seq = ?", seq)
	})
	return snap, ok, err
}

// journalBlock is how many rows ReadJournal and Prune take under one lock.
const journalBlock = 500

// ReadJournal calls fn with every journal row from the number from on, in order, until fn returns an error, which it passes on. No lock is held
// while fn runs: it may use the store.
func (s *Store) ReadJournal(from uint64, fn func(JournalRow) error) error {
	for {
		rows, err := s.journalFrom(from)
		if err != nil {
			return err
		}
		for _, r := range rows {
			if err := fn(r); err != nil {
				return err
			}
			from = r.Seq + 1
		}
		if len(rows) < journalBlock {
			return nil
		}
	}
}

func (s *Store) journalFrom(from uint64) (rows []JournalRow, err error) {
	err = s.read(func(c *conn) error {
		return c.each(func(row *sqlite3.Stmt) error {
			rows = append(rows, scanJournal(row))
			return nil
		}, "SELECT seq, at, kind, payload FROM journal WHERE seq >= ? ORDER BY seq LIMIT ?", min(from, maxNumber), journalBlock)
	})
	return rows, err
}

// Keep says what of the journal Prune leaves.
type Keep struct {
	Rows  int       // the newest so many; 0 sets no bound
	Since time.Time // what is younger; zero sets no bound
}

// Prune takes out the oldest journal rows that are beyond either bound, but only as far as a snapshot, and never past the newest one: what is left
// begins at a snapshot, and all of it can be replayed. Snapshots older than that go too. It returns how many rows went. The record is never pruned.
// The file does not shrink; its pages are used again. Each transaction is short, so that a Commit between two waits some milliseconds at most.
func (s *Store) Prune(keep Keep) (rows int, err error) {
	cut, ok, err := s.pruneTo(keep)
	if err != nil || !ok {
		return 0, err
	}
	for {
		n, err := s.pruneBlock(cut)
		rows += n
		if err != nil || n < journalBlock {
			return rows, err
		}
	}
}

// pruneTo finds the snapshot up to which rows may go: the newest that is not younger than the newest row beyond a bound.
func (s *Store) pruneTo(keep Keep) (cut uint64, ok bool, err error) {
	err = s.read(func(c *conn) error {
		beyond := uint64(0)
		take := func(row *sqlite3.Stmt) error {
			beyond = max(beyond, uint64(row.ColumnInt64(0)))
			return nil
		}
		if keep.Rows > 0 {
			if err := c.each(take, "SELECT seq FROM journal ORDER BY seq DESC LIMIT 1 OFFSET ?", keep.Rows); err != nil {
				return err
			}
		}
		if !keep.Since.IsZero() {
			// The first row that is young enough bounds it: where a clock was set back, an old time behind it must not take younger rows along.
			if err := c.each(take, "SELECT coalesce((SELECT seq FROM journal WHERE at >= ? ORDER BY seq LIMIT 1) - 1, (SELECT max(seq) FROM journal), 0)", keep.Since); err != nil {
				return err
			}
		}
		return c.each(func(row *sqlite3.Stmt) error {
			cut, ok = uint64(row.ColumnInt64(0)), true
			return nil
		}, "SELECT seq FROM journal_snapshots WHERE seq <= ? ORDER BY seq DESC LIMIT 1", beyond)
	})
	return cut, ok, err
}

// pruneBlock takes out some of the oldest rows, and the old snapshots with the first of them: from then on they lead nowhere.
func (s *Store) pruneBlock(cut uint64) (n int, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	err = s.transact(func(c *conn) error {
		if err := c.exec("DELETE FROM journal_snapshots WHERE seq < ?", cut); err != nil {
			return err
		}
		if err := c.exec("DELETE FROM journal WHERE seq IN (SELECT seq FROM journal WHERE seq <= ? ORDER BY seq LIMIT ?)", cut, journalBlock); err != nil {
			return err
		}
		n = int(c.c.Changes())
		return nil
	})
	if err != nil {
		return 0, err
	}
	return n, nil
}

// readLastJournal is the newest number that the journal has come to: after pruning it may stand only in a snapshot.
func readLastJournal(c *conn) (last uint64, err error) {
	err = c.each(func(s *sqlite3.Stmt) error {
		last = uint64(s.ColumnInt64(0))
		return nil
	}, "SELECT max(coalesce((SELECT max(seq) FROM journal), 0), coalesce((SELECT max(seq) FROM journal_snapshots), 0))")
	return last, err
}
