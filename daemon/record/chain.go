package record

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"

	"github.com/ncruces/go-sqlite3"
)

// Hash is a SHA-256. Each record row's covers the one before it, so that no row can be changed, taken out or put in without every later one telling.
// It does not stop somebody who writes the whole chain anew; a hash that was noted elsewhere (Head) does.
type Hash [sha256.Size]byte

// String gives it in hexadecimal.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// head is the newest row of the chain; zero for an empty one. It is stored beside the rows, so that newest rows that are missing are noticed.
type head struct {
	seq  uint64
	hash Hash
}

// canonical appends one field so that no two different rows have the same bytes: its length goes before it.
func canonical(to []byte, field string) []byte {
	return append(binary.BigEndian.AppendUint64(to, uint64(len(field))), field...)
}

// hashOf is the hash of a row after the hash that it claims to follow: SHA-256 over that hash, the words "record 1", seq, time in nanoseconds and id
// as 8 bytes each, highest first, then kind, station, verb and payload, each with its length as 8 bytes before it.
func hashOf(r RecordRow) Hash {
	to := append([]byte(nil), r.Prev[:]...)
	to = append(to, "record 1"...)
	to = binary.BigEndian.AppendUint64(to, r.Seq)
	to = binary.BigEndian.AppendUint64(to, uint64(r.At.UnixNano()))
	to = binary.BigEndian.AppendUint64(to, r.ID)
	for _, field := range []string{string(r.Kind), r.Station, r.Verb, string(r.Payload)} {
		to = canonical(to, field)
	}
	return sha256.Sum256(to)
}

// append gives the rows their places after h and returns the new head.
func (h head) append(rows []RecordRow) head {
	for i := range rows {
		rows[i].Seq, rows[i].Prev = h.seq+1, h.hash
		rows[i].Hash = hashOf(rows[i])
		h = head{rows[i].Seq, rows[i].Hash}
	}
	return h
}

// follow checks that r is the next row after h and that nothing in it was changed, and returns it as the new head.
func (h head) follow(r RecordRow) (head, error) {
	switch {
	case r.Seq != h.seq+1:
		return h, &ChainError{Seq: h.seq + 1, Reason: "is missing"}
	case r.Prev != h.hash:
		return h, &ChainError{Seq: r.Seq, Reason: "does not follow the row before it"}
	case r.Hash != hashOf(r):
		return h, &ChainError{Seq: r.Seq, Reason: "does not match its hash"}
	}
	return head{r.Seq, r.Hash}, nil
}

// ends checks that the rows end where the stored head says.
func (h head) ends(stored head) error {
	switch {
	case h.seq < stored.seq:
		return &ChainError{Seq: h.seq + 1, Reason: "is missing"}
	case h != stored:
		return &ChainError{Seq: h.seq, Reason: "is not the one that the chain ends with"}
	}
	return nil
}

// ChainError names the first record row that is not as it was written.
type ChainError struct {
	Seq    uint64
	Reason string
}

// Error says which row and what is wrong with it.
func (e *ChainError) Error() string { return fmt.Sprintf("record row %d %s", e.Seq, e.Reason) }

// Is makes every broken chain [ErrCorrupt].
func (e *ChainError) Is(kind error) bool { return kind == ErrCorrupt }

// verifyBlock is how many rows VerifyChain reads at a time: few enough that a commit beside it waits a millisecond or two.
const verifyBlock = 200

// VerifyChain reads the whole record and checks every row's hash and place. The error names the first bad row ([ChainError], and [ErrCorrupt]).
// It may run beside everything else; rows that come in meanwhile are checked too, as long as they come before it reaches the end.
func (s *Store) VerifyChain() error {
	h := head{}
	for done := false; !done; {
		err := s.read(func(c *conn) (err error) {
			h, done, err = verifyAfter(c, h, nil)
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// verifyAfter checks one block of rows after h and gives each to seen; done says that the chain ends there, where the stored head says.
func verifyAfter(c *conn, h head, seen func(...RecordRow)) (next head, done bool, err error) {
	read := 0
	err = c.each(func(s *sqlite3.Stmt) (err error) {
		read++
		r := scanRecord(s)
		if seen != nil {
			seen(r)
		}
		h, err = h.follow(r)
		return err
	}, "SELECT "+recordColumns+" FROM record WHERE seq > ? ORDER BY seq LIMIT ?", h.seq, verifyBlock)
	if err != nil || read == verifyBlock {
		return h, false, err
	}
	stored, err := readHead(c)
	if err != nil {
		return h, false, err
	}
	return h, true, h.ends(stored)
}

// verifyTail checks the newest n rows before the store is used, and gives each to seen. The row before them is taken at its word.
func verifyTail(c *conn, stored head, n int, seen func(...RecordRow)) error {
	h := head{}
	if stored.seq > uint64(n) {
		h.seq = stored.seq - uint64(n)
		err := c.each(func(s *sqlite3.Stmt) error {
			h.hash = columnHash(s, 0)
			return nil
		}, "SELECT hash FROM record WHERE seq = ?", h.seq)
		if err != nil {
			return err
		}
	}
	for done := false; !done; {
		var err error
		if h, done, err = verifyAfter(c, h, seen); err != nil {
			return err
		}
	}
	return nil
}

func readHead(c *conn) (h head, err error) {
	rows := 0
	err = c.each(func(s *sqlite3.Stmt) error {
		rows++
		h = head{uint64(s.ColumnInt64(0)), columnHash(s, 1)}
		return nil
	}, "SELECT seq, hash FROM record_head")
	if err == nil && rows != 1 {
		err = corrupt(errors.New("the end of the chain is not noted"))
	}
	return h, err
}

func writeHead(c *conn, h head) error {
	return c.exec("UPDATE record_head SET seq = ?, hash = ?", h.seq, h.hash)
}
