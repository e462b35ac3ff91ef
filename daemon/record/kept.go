package record

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/ncruces/go-sqlite3"
)

// Kept is what a restart needs: the newest state that was committed.
type Kept struct {
	Epoch   uint64          // the incarnation that wrote it
	Command uint64          // the last command that it was written for
	Wanted  json.RawMessage // the look that the stations asked for; nil where there never was one
	Outputs []OutputRow     // one for each output, in any order; Load gives them by name
}

// OutputRow is what one output may stand at. Flags are the caller's.
type OutputRow struct {
	Name     string
	Envelope float64 // upper bound of its level, 0 to 1
	Flags    uint32
}

// Load returns what was committed last, and checks that it is whole.
func (s *Store) Load() (k Kept, err error) {
	err = s.read(func(c *conn) error {
		k, err = readKept(c)
		return err
	})
	return k, err
}

// NewEpoch begins an incarnation: it makes the epoch one higher on disk and returns it. A batch of an earlier incarnation is refused from then on, and
// a device that remembers epochs can tell old packets from new.
func (s *Store) NewEpoch() (uint64, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	next := s.kept
	next.Epoch++
	err := s.transact(func(c *conn) error { return writeKept(c, s.kept, next) })
	if err != nil {
		return 0, err
	}
	s.kept = next
	return next.Epoch, nil
}

// checked returns k ordered by name, as digest needs it, or says what the store does not take.
func (k Kept) checked() (Kept, error) {
	k.Outputs = slices.Clone(k.Outputs)
	slices.SortFunc(k.Outputs, func(a, b OutputRow) int { return strings.Compare(a.Name, b.Name) })
	for i, o := range k.Outputs {
		switch {
		case o.Name == "" || len(o.Name) > maxWord:
			return k, invalid("what is kept", fmt.Errorf("an output's name has %d bytes", len(o.Name)))
		case i > 0 && o.Name == k.Outputs[i-1].Name:
			return k, invalid("what is kept", fmt.Errorf("output %q stands in it twice", o.Name))
		case !(o.Envelope >= 0 && o.Envelope <= 1): // not a number either
			return k, invalid("what is kept", fmt.Errorf("output %q has the envelope %v, which is no level", o.Name, o.Envelope))
		}
	}
	if k.Command > maxNumber {
		return k, invalid("what is kept", fmt.Errorf("the command %d is too high", k.Command))
	}
	if k.Wanted != nil {
		if err := checkJSON(k.Wanted); err != nil {
			return k, invalid("what is kept", err)
		}
	}
	return k, nil
}

// digest covers all of it, so that a row of one commit beside a row of another is noticed however it came about. Outputs are ordered by name.
func (k Kept) digest() Hash {
	to := binary.BigEndian.AppendUint64([]byte("kept 1"), k.Epoch)
	to = binary.BigEndian.AppendUint64(to, k.Command)
	to = canonical(to, string(k.Wanted))
	for _, o := range k.Outputs {
		to = canonical(to, o.Name)
		to = binary.BigEndian.AppendUint64(to, math.Float64bits(o.Envelope))
		to = binary.BigEndian.AppendUint32(to, o.Flags)
	}
	return sha256.Sum256(to)
}

// writeKept brings the tables from was, which they hold, to is. Only what differs is written: a fader within its caps changes nothing here.
func writeKept(c *conn, was, is Kept) error {
	err := c.exec("UPDATE kept SET epoch = ?, command = ?, wanted = ?, digest = ?", is.Epoch, is.Command, is.Wanted, is.digest())
	if err != nil {
		return err
	}
	old := map[string]OutputRow{}
	for _, o := range was.Outputs {
		old[o.Name] = o
	}
	for _, o := range is.Outputs {
		before, known := old[o.Name]
		delete(old, o.Name)
		if known && before == o {
			continue
		}
		if err := c.exec("INSERT OR REPLACE INTO kept_outputs(name, envelope, flags) VALUES(?, ?, ?)", o.Name, o.Envelope, o.Flags); err != nil {
			return err
		}
	}
	for _, name := range slices.Sorted(maps.Keys(old)) {
		if err := c.exec("DELETE FROM kept_outputs WHERE name = ?", name); err != nil {
			return err
		}
	}
	return nil
}

// readKept reads all of it and checks that it belongs together.
func readKept(c *conn) (k Kept, err error) {
	var digest Hash
	rows := 0
	err = c.each(func(s *sqlite3.Stmt) error {
		rows++
		k.Epoch, k.Command = uint64(s.ColumnInt64(0)), uint64(s.ColumnInt64(1))
		k.Wanted, digest = columnJSON(s, 2), columnHash(s, 3)
		return nil
	}, "SELECT epoch, command, wanted, digest FROM kept")
	if err != nil {
		return Kept{}, err
	}
	// BINARY order of the primary key is the order of strings.Compare.
	err = c.each(func(s *sqlite3.Stmt) error {
		k.Outputs = append(k.Outputs, OutputRow{Name: s.ColumnText(0), Envelope: s.ColumnFloat(1), Flags: uint32(s.ColumnInt64(2))})
		return nil
	}, "SELECT name, envelope, flags FROM kept_outputs ORDER BY name")
	if err != nil {
		return Kept{}, err
	}
	if rows != 1 || k.digest() != digest {
		return Kept{}, corrupt(errors.New("what a restart needs does not match its checksum"))
	}
	return k, nil
}
