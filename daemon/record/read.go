package record

import (
	"errors"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// Tail returns the newest n rows of the record, oldest first.
func (s *Store) Tail(n int) ([]RecordRow, error) {
	rows, err := s.recordRows("SELECT "+recordColumns+" FROM record ORDER BY seq DESC LIMIT ?", max(n, 0))
	slices.Reverse(rows)
	return rows, err
}

// Between returns the rows with a time from from on and before to, in their order in the record, at most limit of them.
func (s *Store) Between(from, to time.Time, limit int) ([]RecordRow, error) {
	return s.recordRows("SELECT "+recordColumns+" FROM record WHERE at >= ? AND at < ? ORDER BY seq LIMIT ?", from, to, max(limit, 0))
}

// Head returns the number and the hash of the newest record row; zeros where there is none. Written down elsewhere, it proves later that nothing
// before it was changed, not even by somebody who wrote the whole chain anew.
func (s *Store) Head() (seq uint64, hash Hash, err error) {
	err = s.read(func(c *conn) error {
		h, err := readHead(c)
		seq, hash = h.seq, h.hash
		return err
	})
	return seq, hash, err
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

// read runs do on the readers' connection. Each statement sees one committed state; do that needs one for several uses inRead.
func (s *Store) read(do func(*conn) error) error {
	s.reading.Lock()
	defer s.reading.Unlock()
	if s.reader == nil {
		return ErrClosed
	}
	return placed(s.path, do(s.reader))
}

// inRead runs do within one read transaction, so that all it reads was committed together.
func inRead[T any](c *conn, do func(*conn) (T, error)) (value T, err error) {
	if err := c.exec("BEGIN"); err != nil {
		return value, err
	}
	defer func() { err = errors.Join(err, c.exec("COMMIT")) }()
	return do(c)
}
