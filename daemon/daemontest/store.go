package daemontest

import (
	"slices"
	"sync"

	"lookgate/daemon"
	"lookgate/daemon/record"
)

// Store is a record in memory, for tests in a bubble of time: it fails and hangs as it is told. Its methods may be called from any goroutine.
type Store struct {
	OnWrite func(kept *record.Kept) error // before anything is written; may wait; kept is nil for rows alone

	mu        sync.Mutex
	kept      record.Kept
	rows      []record.RecordRow
	journal   []record.JournalRow
	snapshots []record.Snapshot
	last      uint64
	closes    int
}

var _ daemon.Store = (*Store)(nil)
var _ daemon.History = (*Store)(nil)

// Load implements [daemon.Store].
func (s *Store) Load() (record.Kept, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.kept, nil
}

// NewEpoch implements [daemon.Store].
func (s *Store) NewEpoch() (uint64, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.kept.Epoch++
	return s.kept.Epoch, nil
}

// Commit implements [daemon.Store].
func (s *Store) Commit(b record.Batch) error { return s.write(b.Journal, b.Record, &b.Kept) }

// Append implements [daemon.Store].
func (s *Store) Append(journal []record.JournalRow, rows []record.RecordRow) error {
	return s.write(journal, rows, nil)
}

func (s *Store) write(journal []record.JournalRow, rows []record.RecordRow, kept *record.Kept) error {
	s.mu.Lock()
	on := s.OnWrite
	s.mu.Unlock()
	if on != nil {
		if err := on(kept); err != nil {
			return err
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if kept != nil {
		if kept.Epoch != s.kept.Epoch {
			return record.ErrStale
		}
		s.kept = *kept
	}
	for _, r := range rows {
		r.Seq = uint64(len(s.rows) + 1)
		s.rows = append(s.rows, r)
	}
	for _, r := range journal {
		if r.Seq <= s.last {
			return record.ErrInvalid
		}
		s.last = r.Seq
		s.journal = append(s.journal, r)
	}
	return nil
}

// Set changes fields while the daemon runs.
func (s *Store) Set(change func(*Store)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	change(s)
}

// Snapshot implements [daemon.Store].
func (s *Store) Snapshot(snap record.Snapshot) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	snap.Epoch = s.kept.Epoch
	s.snapshots = slices.DeleteFunc(s.snapshots, func(o record.Snapshot) bool { return o.Seq == snap.Seq })
	s.snapshots = append(s.snapshots, snap)
	s.last = max(s.last, snap.Seq)
	return nil
}

// Prune implements [daemon.Store]: it keeps everything.
func (s *Store) Prune(record.Keep) (int, error) { return 0, nil }

// Checkpoint implements [daemon.Store]: there is no log.
func (s *Store) Checkpoint(int) error { return nil }

// LastJournal implements [daemon.Store].
func (s *Store) LastJournal() uint64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.last
}

// Head implements [daemon.Store].
func (s *Store) Head() (uint64, record.Hash) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return uint64(len(s.rows)), record.Hash{}
}

// Tail implements [daemon.Store].
func (s *Store) Tail(n int) ([]record.RecordRow, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.rows[max(0, len(s.rows)-n):]), nil
}

// Close implements [daemon.Store].
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closes++
	return nil
}

// Rows gives the record so far.
func (s *Store) Rows() []record.RecordRow {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.rows)
}

// Journal gives the journal so far.
func (s *Store) Journal() []record.JournalRow {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.journal)
}

// Snapshots implements [daemon.History].
func (s *Store) Snapshots() ([]uint64, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var seqs []uint64
	for _, snap := range s.snapshots {
		seqs = append(seqs, snap.Seq)
	}
	return seqs, nil
}

// ReadSnapshot implements [daemon.History].
func (s *Store) ReadSnapshot(seq uint64) (record.Snapshot, bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, snap := range s.snapshots {
		if snap.Seq == seq {
			return snap, true, nil
		}
	}
	return record.Snapshot{}, false, nil
}

// ReadJournal implements [daemon.History].
func (s *Store) ReadJournal(from uint64, each func(record.JournalRow) error) error {
	for _, r := range s.Journal() {
		if r.Seq < from {
			continue
		}
		if err := each(r); err != nil {
			return err
		}
	}
	return nil
}
