package record

import (
	"slices"
	"sync"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// Bounds of what is kept in memory of the record.
const (
	tailRows  = 1000
	tailBytes = 8 << 20 // of payloads
)

// tail is the newest end of the record in memory, as committed. It has a mutex of its own, which is never held while the disk is used.
type tail struct {
	mu    sync.Mutex
	rows  []RecordRow // the newest, oldest first
	bytes int
	head  head
}

// push takes rows that have been committed, or read in order at the start.
func (t *tail) push(rows ...RecordRow) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, r := range rows {
		t.rows = append(t.rows, r)
		t.bytes += len(r.Payload)
		t.head = head{r.Seq, r.Hash}
	}
	for len(t.rows) > tailRows || t.bytes > tailBytes {
		t.bytes -= len(t.rows[0].Payload)
		t.rows[0] = RecordRow{} // lets go of the payload before the slice moves on
		t.rows = t.rows[1:]
	}
}

// end is the newest row of the chain.
func (t *tail) end() head {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.head
}

// newest returns n rows; ok is false where more are asked for than memory holds and the record may have.
func (t *tail) newest(n int) (rows []RecordRow, ok bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	all := uint64(len(t.rows)) == t.head.seq
	return slices.Clone(t.rows[max(0, len(t.rows)-n):]), all || n <= len(t.rows)
}

// Tail returns the newest n rows of the record, oldest first. Up to about 1000 come from memory, at once; more are read. The payloads belong to
// the store: they are not to be changed.
func (s *Store) Tail(n int) ([]RecordRow, error) {
	if rows, ok := s.tail.newest(max(n, 0)); ok {
		return rows, nil
	}
	rows, err := s.recordRows("SELECT "+recordColumns+" FROM record ORDER BY seq DESC LIMIT ?", n)
	slices.Reverse(rows)
	return rows, err
}

// Head returns the number and the hash of the newest record row, from memory; zeros where there is none. Written down elsewhere, it proves later that
// nothing before it was changed, not even by somebody who wrote the whole chain anew.
func (s *Store) Head() (seq uint64, hash Hash) {
	h := s.tail.end()
	return h.seq, h.hash
}

// Between returns the rows with a time from from on and before to, in their order in the record, at most limit of them.
func (s *Store) Between(from, to time.Time, limit int) ([]RecordRow, error) {
	return s.recordRows("SELECT "+recordColumns+" FROM record WHERE at >= ? AND at < ? ORDER BY seq LIMIT ?", from, to, max(limit, 0))
}

func (s *Store) recordRows(sql string, args ...any) (rows []RecordRow, err error) {
	err = s.read(func(c *conn) error {
		return c.each(func(row *sqlite3.Stmt) error {
			rows = append(rows, scanRecord(row))
			return nil
		}, sql, args...)
	})
	return rows, err
}
