package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// busyWait is how long opening waits for another program that has the file, such as a daemon that is just ending, before it fails.
const busyWait = time.Second

// conn is one connection with its prepared statements, which live as long as it does. It belongs to whoever holds the mutex of its [Store].
type conn struct {
	c     *sqlite3.Conn
	stmts map[string]*sqlite3.Stmt
}

// connect opens the database at path through a file layer that register has named.
//
// It takes the file for itself (locking_mode EXCLUSIVE), before anything is read. So the index of the write-ahead log lies in this process's memory and
// not in a mapped file beside the log: a disk that fills up under a mapped file ends the process (SIGBUS), where a write only fails. And no other
// program can hold a lock that a commit would wait for.
func connect(path, layer string, create bool) (*conn, error) {
	flags := sqlite3.OPEN_READWRITE | sqlite3.OPEN_URI
	if create {
		flags |= sqlite3.OPEN_CREATE
	}
	name := &url.URL{Scheme: "file", Path: path, RawQuery: "vfs=" + url.QueryEscape(layer)}
	c, err := sqlite3.OpenFlags(name.String(), flags)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(c.BusyTimeout(busyWait), c.Exec("PRAGMA locking_mode = EXCLUSIVE")); err != nil {
		return nil, errors.Join(err, c.Close())
	}
	return &conn{c: c, stmts: map[string]*sqlite3.Stmt{}}, nil
}

func (c *conn) close() error {
	if c == nil {
		return nil
	}
	for _, s := range c.stmts {
		_ = s.Close() // repeats the error of the statement's last run, which was told then
	}
	return c.c.Close()
}

// prepared returns the statement for sql with its arguments bound in order.
func (c *conn) prepared(sql string, args []any) (*sqlite3.Stmt, error) {
	s, ok := c.stmts[sql]
	if !ok {
		var err error
		if s, _, err = c.c.PrepareFlags(sql, sqlite3.PREPARE_PERSISTENT); err != nil {
			return nil, err
		}
		c.stmts[sql] = s
	}
	for i, a := range args {
		if err := bind(s, i+1, a); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// bind knows only the types that this package stores. A number beyond an SQLite integer is refused: it would come back negative.
func bind(s *sqlite3.Stmt, at int, value any) error {
	switch v := value.(type) {
	case int:
		return s.BindInt(at, v)
	case uint64:
		if v > maxNumber {
			return fmt.Errorf("the number %d is beyond what the record can hold", v)
		}
		return s.BindInt64(at, int64(v))
	case uint32:
		return s.BindInt64(at, int64(v))
	case float64:
		return s.BindFloat(at, v)
	case string:
		return s.BindText(at, v)
	case time.Time:
		return s.BindInt64(at, v.UnixNano())
	case json.RawMessage:
		return s.BindRawText(at, v) // nil binds NULL
	case Hash:
		return s.BindBlob(at, v[:])
	default:
		panic(fmt.Sprintf("record: no column holds a %T", value))
	}
}

// exec runs a statement that returns no rows.
func (c *conn) exec(sql string, args ...any) error {
	s, err := c.prepared(sql, args)
	if err != nil {
		return err
	}
	return s.Exec()
}

// each calls row for every row of the result, which is positioned on it and valid only during the call.
func (c *conn) each(row func(*sqlite3.Stmt) error, sql string, args ...any) (err error) {
	s, err := c.prepared(sql, args)
	if err != nil {
		return err
	}
	// Without the reset an abandoned statement would hold its read transaction, and the write-ahead log could never start over.
	defer func() { _ = s.Reset() }()
	for s.Step() {
		if err := row(s); err != nil {
			return err
		}
	}
	return s.Err()
}

// text returns the one value of a query such as a pragma; empty where there is no row.
func (c *conn) text(sql string) (value string, err error) {
	err = c.each(func(s *sqlite3.Stmt) error {
		value = s.ColumnText(0)
		return nil
	}, sql)
	return value, err
}

// columnTime reads back what bind stored of a time: nanoseconds since 1970, in UTC.
func columnTime(s *sqlite3.Stmt, at int) time.Time {
	return time.Unix(0, s.ColumnInt64(at)).UTC()
}

// columnJSON copies a payload out of the row, which is valid only until the next; nil for NULL.
func columnJSON(s *sqlite3.Stmt, at int) json.RawMessage {
	if s.ColumnType(at) == sqlite3.NULL {
		return nil
	}
	return json.RawMessage(s.ColumnText(at))
}

func columnHash(s *sqlite3.Stmt, at int) (h Hash) {
	raw := s.ColumnRawBlob(at)
	if len(raw) == len(h) {
		return Hash(raw)
	}
	for i := range h {
		h[i] = 0xff // of another length: a value that no hash and no empty chain has
	}
	return h
}
