package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"time"
	"unicode/utf8"

	"github.com/ncruces/go-sqlite3"
)

// Limits on one row, so that no input can grow the database by more than its share. A snapshot's state may have maxPayload bytes too.
const (
	maxPayload = 16 << 20 // bytes
	maxWord    = 1 << 10  // bytes of a kind, station, verb or output name
	maxNumber  = math.MaxInt64
)

// JournalRow is one input of the engine. Seq counts the inputs of the site, over all incarnations: each row's is higher than the one before, and a
// number that is missing says that this input could not be kept, so that a replay stops there and not somewhere else.
type JournalRow struct {
	Seq     uint64
	At      time.Time
	Kind    string
	Payload json.RawMessage
}

// Kind says what a record row tells.
type Kind string

// The kinds. A gap row says what could not be kept before it, and why.
const (
	Command Kind = "command"
	Answer  Kind = "answer" // the decision, with its findings
	Outcome Kind = "outcome"
	Alarm   Kind = "alarm"
	Clear   Kind = "clear" // an alarm's end
	Note    Kind = "note"
	Gap     Kind = "gap"
)

// RecordRow is one line of the record. The store gives it Seq (from 1, without holes), Prev and Hash; what the caller puts there is not looked at.
// ID is the command that it belongs to, 0 for none.
type RecordRow struct {
	Seq     uint64
	At      time.Time
	Kind    Kind
	ID      uint64
	Station string
	Verb    string
	Payload json.RawMessage // null where the caller gave none
	Prev    Hash
	Hash    Hash
}

// Batch is what one Commit writes, whole or not at all.
type Batch struct {
	Record  []RecordRow
	Kept    Kept // all of it: an output that is not named is forgotten
	Journal []JournalRow
}

// checked returns the rows with their payloads filled in, or says which row the store does not take. Nothing has been written by then.
func checkedRecord(rows []RecordRow) ([]RecordRow, error) {
	out := make([]RecordRow, len(rows))
	for i, r := range rows {
		// A copy: the row stays in memory for Tail, and the caller may use its bytes again.
		if r.Payload = bytes.Clone(r.Payload); r.Payload == nil {
			r.Payload = json.RawMessage("null")
		}
		if err := checkRow(string(r.Kind), r.At, r.Payload, r.Station, r.Verb); err != nil {
			return nil, invalid(fmt.Sprintf("record row %d of the batch", i+1), err)
		}
		if r.ID > maxNumber {
			return nil, invalid(fmt.Sprintf("record row %d of the batch", i+1), fmt.Errorf("its id %d is too high", r.ID))
		}
		r.At = time.Unix(0, r.At.UnixNano()).UTC() // as it would be read back
		out[i] = r
	}
	return out, nil
}

func checkedJournal(rows []JournalRow, last uint64) ([]JournalRow, error) {
	out := make([]JournalRow, len(rows))
	for i, r := range rows {
		if r.Payload == nil {
			r.Payload = json.RawMessage("null")
		}
		if err := checkRow(r.Kind, r.At, r.Payload); err != nil {
			return nil, invalid(fmt.Sprintf("journal row %d", r.Seq), err)
		}
		if r.Seq <= last || r.Seq > maxNumber {
			return nil, invalid(fmt.Sprintf("journal row %d", r.Seq), fmt.Errorf("it follows row %d", last))
		}
		out[i], last = r, r.Seq
	}
	return out, nil
}

// checkRow holds for both kinds of rows. A time outside the years that nanoseconds can count would come back as another.
func checkRow(kind string, at time.Time, payload json.RawMessage, words ...string) error {
	if kind == "" {
		return fmt.Errorf("it has no kind")
	}
	for _, w := range append(words, kind) {
		if len(w) > maxWord || !utf8.ValidString(w) {
			return fmt.Errorf("a word in it is longer than %d bytes or not UTF-8", maxWord)
		}
	}
	if y := at.Year(); y < 1678 || y > 2261 {
		return fmt.Errorf("its time is in the year %d", y)
	}
	return checkJSON(payload)
}

func checkJSON(payload json.RawMessage) error {
	if len(payload) > maxPayload {
		return fmt.Errorf("its payload has %d bytes, the limit is %d", len(payload), maxPayload)
	}
	if !json.Valid(payload) || !utf8.Valid(payload) {
		return fmt.Errorf("its payload is not JSON in UTF-8")
	}
	return nil
}

const recordColumns = "seq, at, kind, id, station, verb, payload, prev_hash, hash"

func insertRecord(c *conn, r RecordRow) error {
	return c.exec("INSERT INTO record("+recordColumns+") VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?)",
		r.Seq, r.At, string(r.Kind), r.ID, r.Station, r.Verb, r.Payload, r.Prev, r.Hash)
}

func scanRecord(s *sqlite3.Stmt) RecordRow {
	return RecordRow{
		Seq: uint64(s.ColumnInt64(0)), At: columnTime(s, 1), Kind: Kind(s.ColumnText(2)), ID: uint64(s.ColumnInt64(3)),
		Station: s.ColumnText(4), Verb: s.ColumnText(5), Payload: columnJSON(s, 6), Prev: columnHash(s, 7), Hash: columnHash(s, 8),
	}
}

func insertJournal(c *conn, r JournalRow) error {
	return c.exec("INSERT INTO journal(seq, at, kind, payload) VALUES(?, ?, ?, ?)", r.Seq, r.At, r.Kind, r.Payload)
}

func scanJournal(s *sqlite3.Stmt) JournalRow {
	return JournalRow{Seq: uint64(s.ColumnInt64(0)), At: columnTime(s, 1), Kind: s.ColumnText(2), Payload: columnJSON(s, 3)}
}
