package trial

import (
	"encoding/json"
	"time"

	"lookgate/presets/engine"
)

// disk is the modelled disk: commits one after the other, each whole or not at all. What is not flushed when the daemon dies is lost.
type disk struct {
	flushed []byte       // Kept as it is on disk; nil on a new site
	durable *engine.Kept // the same, read
	waiting []batch
	busy    bool
	sick    time.Duration   // takes no commit before this
	offered map[string]bool // every state that was ever handed over, whole
}

// batch is one commit on its way to the disk. It is kept as bytes, so that nothing that the controller does later can change it.
type batch struct {
	number uint64
	bytes  []byte
}

// read gives what a start finds.
func (d *disk) read() *engine.Kept {
	if d.flushed == nil {
		return nil
	}
	kept := new(engine.Kept)
	if err := json.Unmarshal(d.flushed, kept); err != nil {
		panic("the trial's own bytes do not read: " + err.Error())
	}
	return kept
}

// lose drops what was not flushed.
func (r *run) lose() {
	d := &r.disk
	if r.faults.Mistakes.HalfLook && d.busy && d.durable != nil {
		d.flushed = half(d.durable, d.waiting[0].bytes)
		d.durable = d.read()
	}
	d.waiting, d.busy = nil, false
}

// commit takes a batch.
func (r *run) commit(a engine.Action) {
	bytes, err := json.Marshal(a.Kept)
	if err != nil {
		r.violate(Atomicity, "a kept state that cannot be written: %v", err)
		return
	}
	if r.disk.offered == nil {
		r.disk.offered = map[string]bool{}
	}
	r.disk.offered[string(bytes)] = true
	r.disk.waiting = append(r.disk.waiting, batch{a.Batch, bytes})
	if r.faults.Mistakes.TrustsBuffer {
		r.tell(engine.Committed{Batch: a.Batch})
	}
	r.nextCommit()
}

// nextCommit begins the next commit.
func (r *run) nextCommit() {
	if r.disk.busy || len(r.disk.waiting) == 0 {
		return
	}
	r.disk.busy = true
	r.planAfter(upTo(r.rng, r.faults.Commit), event{what: flushes})
}

// flush is a commit reaching the disk, or failing. The daemon may die just before, when it is lost, or just after, when it is on disk and nobody was told.
func (r *run) flush(event) {
	d := &r.disk
	b := d.waiting[0]
	if chance(r.rng, r.faults.CrashAtDisk/2) {
		r.crash()
		return
	}
	d.waiting, d.busy = d.waiting[1:], false
	if r.now >= d.sick && chance(r.rng, r.faults.CommitFail) {
		d.sick = r.now + upTo(r.rng, r.faults.SickFor) + 1
	}
	if r.now < d.sick {
		r.stats.CommitsFailed++
		r.tell(engine.CommitFailed{Batch: b.number, Cause: "no space left on device"})
		r.nextCommit()
		return
	}
	d.flushed = b.bytes
	d.durable = d.read()
	r.stats.Commits++
	r.trace.word(r.now, "on disk", func() string { return "batch" }, b.number)
	if chance(r.rng, r.faults.CrashAtDisk/2) {
		r.crash()
		return
	}
	if !r.faults.Mistakes.TrustsBuffer {
		r.tell(engine.Committed{Batch: b.number})
	}
	r.nextCommit()
}
