package daemon

import (
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"lookgate/daemon/record"
	"lookgate/presets/engine"
	"lookgate/protocols"
)

const (
	flushAfter  = 200 * time.Millisecond // for what nobody waits for
	retryAfter  = time.Second            // after a failure
	maxHeld     = 32 << 20               // bytes that wait for a disk that does not come back
	rowOverhead = 256                    // bytes that a row takes besides its payload
	tailLines   = 500                    // of the record, in memory
	logIdle     = 500                    // pages of the log that are moved into the database when nobody waits
	logBusy     = 4000                   // and when somebody may
	markEvery   = 200_000                // journal rows between two places to prune to
	keepRows    = 2_000_000
	keepFor     = 30 * 24 * time.Hour
)

// commit is what the engine wants on disk before it goes on.
type commit struct {
	batch uint64
	kept  *engine.Kept
}

// haul is what goes to the disk together. The engine has one commit under way at a time.
type haul struct {
	journal []record.JournalRow
	rows    []row
	commit  *commit
}

func (h *haul) size() int {
	n := 0
	for _, r := range h.journal {
		n += len(r.Payload) + rowOverhead
	}
	for _, r := range h.rows {
		n += len(r.Payload) + len(r.text) + rowOverhead
	}
	return n
}

func (h *haul) add(more haul) {
	h.journal, h.rows = append(h.journal, more.journal...), append(h.rows, more.rows...)
	if more.commit != nil {
		h.commit = more.commit
	}
}

func (h *haul) empty() bool { return len(h.journal) == 0 && len(h.rows) == 0 }

// disk is the goroutine that writes, and the list that the loop fills for it. A commit is one transaction with every row before it.
type disk struct {
	store  Store
	state  string // folder
	inbox  *inbox
	log    *slog.Logger
	signal chan struct{} // holds one
	ended  chan struct{}
	stamp  stamp // of this incarnation
	lines  atomic.Pointer[[]protocols.Line]

	mu      sync.Mutex
	next    haul
	held    int // bytes of next and of what the goroutine has
	lost    lost
	closing bool

	// What follows belongs to the goroutine.
	mine    haul
	due     time.Time // when mine is to be written; zero while it is empty
	last    uint64    // seq of the newest record row
	failing *failing
	proofs  []engine.Proof // as the copy for others has them, once it is copied
	copied  bool
	marked  uint64 // journal row of the newest place to prune to
	pruning sync.WaitGroup
	prune   atomic.Bool
}

// lost counts what found no room while the disk did not work.
type lost struct{ rows, inputs int }

// failing is a disk that does not work.
type failing struct {
	since time.Time
	cause string
}

// newDisk reads the end of the record, for those who look at it.
func newDisk(store Store, state string, b *inbox, log *slog.Logger) (*disk, error) {
	d := &disk{store: store, state: state, inbox: b, log: log, signal: make(chan struct{}, 1), ended: make(chan struct{}), marked: store.LastJournal()}
	rows, err := store.Tail(tailLines)
	if err != nil {
		return nil, err
	}
	d.last, _ = store.Head()
	lines := make([]protocols.Line, 0, len(rows))
	for _, r := range rows {
		var p payload
		_ = json.Unmarshal(r.Payload, &p) // a row of another version has no words
		lines = append(lines, lineFrom(row{r, p.Text}, r.Seq))
	}
	d.lines.Store(&lines)
	return d, nil
}

func lineFrom(r row, seq uint64) protocols.Line {
	return protocols.Line{Seq: seq, At: r.At, Kind: string(r.Kind), Station: r.Station, ID: r.ID, Text: r.text}
}

// put takes what is to be written. It never waits: what finds no room is counted, and told once the disk is back.
func (d *disk) put(h haul) {
	size := h.size()
	d.mu.Lock()
	if d.held+size > maxHeld {
		d.lost.rows += len(h.rows)
		d.lost.inputs += len(h.journal)
		h, size = haul{commit: h.commit}, 0
	}
	d.held += size
	d.next.add(h)
	d.mu.Unlock()
	d.nudge()
}

func (d *disk) nudge() {
	select {
	case d.signal <- struct{}{}:
	default:
	}
}

// close writes what is left, once, and ends the goroutine.
func (d *disk) close() error {
	d.mu.Lock()
	d.closing = true
	d.mu.Unlock()
	d.nudge()
	<-d.ended
	if d.failing != nil {
		return fmt.Errorf("the newest rows are not in the record: %s", d.failing.cause)
	}
	return nil
}

func (d *disk) run() {
	defer close(d.ended)
	timer := time.NewTimer(retryAfter)
	defer timer.Stop()
	d.tidy()
	for {
		select {
		case <-d.signal:
		case <-timer.C:
		}
		closing := d.collect()
		if !d.mine.empty() && d.due.IsZero() {
			d.due = time.Now().Add(flushAfter)
		}
		if d.mine.commit != nil || !d.mine.empty() && (closing || !time.Now().Before(d.due)) {
			d.flush()
		}
		if closing {
			return
		}
		if d.mine.empty() {
			d.due = time.Time{} // a failed commit alone is tried again by the engine
		}
		if !d.due.IsZero() {
			timer.Reset(time.Until(d.due))
		}
	}
}

func (d *disk) collect() (closing bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.mine.add(d.next)
	d.next = haul{}
	return d.closing
}

// flush writes everything that the goroutine has, in one transaction.
func (d *disk) flush() {
	d.mu.Lock()
	gone := d.lost
	d.mu.Unlock()
	rows := d.mine.rows
	if d.failing != nil || gone != (lost{}) {
		rows = append(rows[:len(rows):len(rows)], d.gap(gone))
	}
	err := d.write(rows)
	if errors.Is(err, record.ErrInvalid) {
		// One row that the record does not take would keep everything after it out as well.
		d.log.Error("rows were given up", "rows", len(d.mine.rows), "inputs", len(d.mine.journal), "cause", err)
		gone.rows, gone.inputs = gone.rows+len(d.mine.rows), gone.inputs+len(d.mine.journal)
		d.release(lost{-len(d.mine.rows), -len(d.mine.journal)})
		d.mine.rows, d.mine.journal = nil, nil
		rows = []row{d.gap(gone)}
		err = d.write(rows)
	}
	if err != nil {
		d.fail(err)
		return
	}
	d.succeed(rows, gone)
}

// gap says what could not be kept before it, and why.
func (d *disk) gap(gone lost) row {
	f := d.failing
	if f == nil {
		f = &failing{time.Now(), "too much at once"}
	}
	return newRow(record.Gap, fmt.Sprintf("nothing could be written for %.1f s (%s); %d lines and %d inputs of the journal are missing",
		time.Since(f.since).Seconds(), f.cause, gone.rows, gone.inputs), payload{})
}

func (d *disk) write(rows []row) error {
	plain := make([]record.RecordRow, len(rows))
	for i, r := range rows {
		plain[i] = r.RecordRow
	}
	if d.mine.commit == nil {
		return d.store.Append(d.mine.journal, plain)
	}
	kept, err := rowOf(d.mine.commit.kept, d.stamp)
	if err != nil {
		return err
	}
	return d.store.Commit(record.Batch{Record: plain, Kept: kept, Journal: d.mine.journal})
}

// fail keeps the rows and tells the engine, which says what it means for the wall.
func (d *disk) fail(err error) {
	cause := causeOf(err)
	if d.failing == nil {
		d.failing = &failing{time.Now(), cause}
		d.log.Error("the record cannot be written", "cause", cause)
	}
	d.failing.cause = cause
	d.due = time.Now().Add(retryAfter)
	if c := d.mine.commit; c != nil {
		d.mine.commit = nil
		d.inbox.post(engine.CommitFailed{Batch: c.batch, Cause: cause})
	}
}

// causeOf gives the reason without the path and the advice, which the alarm has of its own.
func causeOf(err error) string {
	var e *record.Error
	if errors.As(err, &e) {
		return e.What
	}
	cause, _, _ := strings.Cut(err.Error(), "\n")
	return cause
}

func (d *disk) succeed(rows []row, gone lost) {
	if d.failing != nil {
		d.log.Info("the record is written again", "after", time.Since(d.failing.since).Round(time.Millisecond))
		d.failing = nil
	}
	if c := d.mine.commit; c != nil {
		d.inbox.post(engine.Committed{Batch: c.batch})
		runtime.Gosched() // whoever waits for it goes first
	}
	d.publish(rows)
	d.release(gone)
	d.checkpoint(d.mine.commit != nil)
	if c := d.mine.commit; c != nil {
		d.copyProved(c.kept.Proofs)
	}
	if n := len(d.mine.journal); n > 0 && d.mine.journal[n-1].Seq >= d.marked+markEvery {
		d.mark(d.mine.journal[n-1].Seq)
	}
	d.mine, d.due = haul{}, time.Time{}
}

// checkpoint keeps the log short. Its pages are in no hurry, so it waits for a moment without commits as long as that may be.
func (d *disk) checkpoint(busy bool) {
	pages := logIdle
	if busy {
		pages = logBusy
	}
	if err := d.store.Checkpoint(pages); err != nil {
		d.log.Warn("the record's log was not moved into the database", "cause", causeOf(err))
	}
}

// release gives back the room of what the goroutine has, and takes off what was told as lost.
func (d *disk) release(told lost) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.held -= d.mine.size()
	d.lost.rows -= told.rows
	d.lost.inputs -= told.inputs
}

// publish shows the lines that are on disk now, and logs the alarms among them.
func (d *disk) publish(rows []row) {
	if len(rows) == 0 {
		return
	}
	old := *d.lines.Load()
	lines := append([]protocols.Line(nil), old...)
	for _, r := range rows {
		d.last++
		lines = append(lines, lineFrom(r, d.last))
		switch r.Kind {
		case record.Alarm, record.Gap:
			d.log.Warn(r.text)
		case record.Clear, record.Note:
			d.log.Info(r.text)
		}
	}
	lines = lines[max(0, len(lines)-tailLines):]
	d.lines.Store(&lines)
}

// mark makes a place up to which the journal may be pruned while the daemon runs on. No replay begins there: only a start is one.
func (d *disk) mark(seq uint64) {
	d.marked = seq
	if err := d.store.Snapshot(record.Snapshot{Seq: seq, At: time.Now().UTC(), State: json.RawMessage(`{"begins":false}`)}); err != nil {
		d.log.Warn("the journal has no new place to prune to", "cause", causeOf(err))
		return
	}
	d.tidy()
}

// tidy prunes the journal, in a goroutine of its own: a commit between two of its transactions waits some milliseconds at most.
func (d *disk) tidy() {
	if !d.prune.CompareAndSwap(false, true) {
		return
	}
	d.pruning.Go(func() {
		defer d.prune.Store(false)
		_, err := d.store.Prune(record.Keep{Rows: keepRows, Since: time.Now().Add(-keepFor)})
		if err != nil && !errors.Is(err, record.ErrClosed) {
			d.log.Warn("the journal was not pruned", "cause", causeOf(err))
		}
	})
}
