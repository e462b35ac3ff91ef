package record

import (
	"errors"
	"fmt"
	"strconv"
)

// applicationID marks the file as this program's ("lkgt"), so that another program's database in its place is refused, not filled.
const applicationID = 0x6c6b6774

// migrations bring a database from each version to the next; its version is how many were applied. What stands here has been shipped and is
// never edited: a change is a new entry. STRICT, so that a column holds what it says.
var migrations = []string{`
CREATE TABLE journal(
	seq     INTEGER PRIMARY KEY,
	at      INTEGER NOT NULL,
	kind    TEXT    NOT NULL,
	payload TEXT    NOT NULL
) STRICT;
CREATE TABLE journal_snapshots(
	seq    INTEGER PRIMARY KEY,
	at     INTEGER NOT NULL,
	epoch  INTEGER NOT NULL,
	state  TEXT    NOT NULL,
	digest TEXT    NOT NULL
) STRICT;
CREATE TABLE record(
	seq       INTEGER PRIMARY KEY,
	at        INTEGER NOT NULL,
	kind      TEXT    NOT NULL,
	id        INTEGER NOT NULL,
	station   TEXT    NOT NULL,
	verb      TEXT    NOT NULL,
	payload   TEXT    NOT NULL,
	prev_hash BLOB    NOT NULL,
	hash      BLOB    NOT NULL
) STRICT;
CREATE INDEX record_at ON record(at);
CREATE TABLE record_head(
	one  INTEGER PRIMARY KEY CHECK(one = 1),
	seq  INTEGER NOT NULL,
	hash BLOB    NOT NULL
) STRICT;
INSERT INTO record_head VALUES(1, 0, zeroblob(32));
CREATE TABLE kept(
	one     INTEGER PRIMARY KEY CHECK(one = 1),
	epoch   INTEGER NOT NULL,
	command INTEGER NOT NULL,
	wanted  TEXT,
	digest  BLOB    NOT NULL
) STRICT;
CREATE TABLE kept_outputs(
	name     TEXT PRIMARY KEY,
	envelope REAL    NOT NULL CHECK(envelope BETWEEN 0 AND 1),
	flags    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
`}

// pageSize of the database in bytes: SQLite's default, fixed because cutLog counts on it.
const pageSize = 4096

// build makes a whole database at path, which does not exist, and closes it: no log beside it is left to lose.
func build(path, layer string) (err error) {
	c, err := connect(path, layer, true)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.close()) }()
	if err := c.c.Exec(fmt.Sprintf("PRAGMA page_size = %d", pageSize)); err != nil {
		return err
	}
	// Every page carries a checksum from its first write on, so that a bit that flips on the disk is an error and not another level.
	if err := c.c.EnableChecksums("main"); err != nil {
		return err
	}
	if err := c.c.Exec(fmt.Sprintf("PRAGMA synchronous = FULL; PRAGMA application_id = %d", applicationID)); err != nil {
		return err
	}
	if err := migrate(c); err != nil {
		return err
	}
	none := Kept{}
	return c.exec("INSERT INTO kept VALUES(1, 0, 0, NULL, ?)", none.digest())
}

// migrate brings the database to this program's version, each step in a transaction of its own.
func migrate(c *conn) error {
	if id, err := c.text("PRAGMA application_id"); err != nil {
		return err
	} else if id != strconv.Itoa(applicationID) {
		return corrupt(errors.New("it is a database of another program"))
	}
	text, err := c.text("PRAGMA user_version")
	if err != nil {
		return err
	}
	version, err := strconv.Atoi(text)
	if err != nil || version < 0 || version > len(migrations) {
		return &Error{What: fmt.Sprintf("it was written by a newer program (version %s of the tables, this program knows %d)", text, len(migrations)),
			Do: "run the newer program, or move the file away to begin an empty record", Err: ErrNewer}
	}
	for ; version < len(migrations); version++ {
		step := fmt.Sprintf("BEGIN IMMEDIATE; %s; PRAGMA user_version = %d; COMMIT", migrations[version], version+1)
		if err := c.c.Exec(step); err != nil {
			return err
		}
	}
	return nil
}

// harden asks SQLite for what the promises of this package stand on, and looks whether it is so: a pragma that cannot be had is not an error.
func (c *conn) harden() error {
	want := []struct{ pragma, set, value string }{
		{"locking_mode", "EXCLUSIVE", "exclusive"},
		{"journal_mode", "wal", "wal"},
		{"synchronous", "FULL", "2"},
		{"wal_autocheckpoint", strconv.Itoa(logMost), strconv.Itoa(logMost)},
		{"page_size", "", strconv.Itoa(pageSize)},
		{"checksum_verification", "", "1"},
		{"cell_size_check", "ON", "1"},
		{"trusted_schema", "OFF", "0"},
	}
	for _, w := range want {
		if w.set != "" {
			if err := c.c.Exec("PRAGMA " + w.pragma + " = " + w.set); err != nil {
				return err
			}
		}
		got, err := c.text("PRAGMA " + w.pragma)
		if err != nil {
			return err
		}
		if got != w.value {
			return &Error{What: fmt.Sprintf("SQLite works with %s = %s, not %s", w.pragma, got, w.value),
				Do: "put the state folder on a local disk", Err: ErrIO}
		}
	}
	return nil
}
