package daemon

import (
	"context"
	"fmt"
	"runtime"
	"time"

	"lookgate/presets/engine"
	"lookgate/protocols"
)

// tickGap is the least time between two steps that only time asks for: a deadline that is met a millisecond late is met.
const tickGap = time.Millisecond

// loop owns the engine. Everything in it belongs to its one goroutine.
type loop struct {
	engine  *engine.Engine
	inbox   *inbox
	sight   *sight
	disk    *disk
	workers *workers
	daemon  *Daemon // for the plan and the site's reader
	epoch   uint64

	chronicle *chronicle
	journal   journal
	asked     map[uint64]protocols.Tell // commands whose last word is still to come
	rereads   []entry                   // reloads that wait for the site to be read
	reading   bool

	tickAt  engine.Instant // when the engine wants to be stepped
	ticks   bool
	ticked  engine.Instant
	changed bool // somebody waits to see what the last step did
}

func newLoop(d *Daemon, kept *engine.Kept, epoch, lastSeq uint64) *loop {
	plan := d.options.Plan
	l := &loop{engine: engine.New(plan, d.options.Settings, kept, epoch), inbox: d.inbox, sight: &d.sight, disk: d.disk, workers: d.workers, daemon: d,
		epoch: epoch, chronicle: newChronicle(plan), journal: newJournal(epoch, lastSeq), asked: map[uint64]protocols.Tell{}}
	l.sight.dirty = true
	l.sight.look(l.engine, 0, true)
	return l
}

// run steps the engine until the context ends. The first step is a tick: it tells the first deadline.
func (l *loop) run(ctx context.Context) {
	defer l.end()
	timer := time.NewTimer(0)
	defer timer.Stop()
	l.ticks = true
	var items []entry
	for {
		var now engine.Instant
		items, now = l.inbox.take(items)
		for i := range items {
			l.handle(&items[i])
		}
		if l.ticks && l.tickAt <= now {
			l.ticked = now
			l.step(now, engine.Tick{})
		}
		l.chronicle.rest(now)
		l.write(haul{})
		l.sight.look(l.engine, now, l.changed)
		l.changed = false
		timer.Reset(l.next() - l.inbox.now())
		select {
		case <-ctx.Done():
			return
		case <-l.inbox.signal:
		case <-timer.C:
		}
	}
}

// next gives when the loop has something to do if nothing comes.
func (l *loop) next() engine.Instant {
	next := l.sight.next()
	if l.ticks {
		next = min(next, max(l.tickAt, l.ticked+tickGap))
	}
	if at, any := l.chronicle.next(); any {
		next = min(next, at)
	}
	return next
}

// handle does one errand.
func (l *loop) handle(e *entry) {
	switch e.errand {
	case feed:
		if c, ok := e.input.(engine.Command); ok {
			l.asked[c.ID] = e.tell
		}
		l.step(e.at, e.input)
	case apology:
		c := e.input.(engine.Command)
		a := apologise(c, false)
		l.chronicle.command(e.at, c, []engine.Answer{*a})
		l.say(e.tell, a, nil)
	case reread:
		l.reload(*e)
	case site:
		l.reloaded(e.at, e.input.(engine.Reload))
	}
}

// step gives the engine one input and does what comes out: packets first, since lowering waits for nothing, then the record, then the words to whoever asked.
func (l *loop) step(at engine.Instant, in engine.Input) {
	packets := l.engine.Act(at, in)
	for i := range packets {
		l.workers.put(packets[i])
	}
	if len(packets) > 0 {
		runtime.Gosched() // the workers write before this goroutine does its paperwork, which takes longer than a packet
	}
	res := l.engine.Settle()
	l.tickAt, l.ticks = res.Next, res.HasNext
	var h haul
	for _, a := range res.Actions[len(packets):] {
		if a.Kind == engine.Commit {
			h.commit = &commit{batch: a.Batch, kept: a.Kept}
		}
	}
	h.journal = l.journal.row(at, in, &res)
	l.adopt(in, &res)
	l.chronicle.step(at, in, &res)
	l.write(h)
	l.sight.dirty = true
	if len(res.Answers)+len(res.Outcomes) > 0 {
		l.sight.look(l.engine, at, true)
		l.changed = true
	}
	l.tellAll(&res)
}

// write hands to the disk what the record has not had yet, with what the step says goes along.
func (l *loop) write(h haul) {
	h.rows = l.chronicle.take(h.commit != nil)
	if h.commit != nil || len(h.rows) > 0 || len(h.journal) > 0 {
		l.disk.put(h)
	}
}

func (l *loop) tellAll(res *engine.Result) {
	for i := range res.Answers {
		a := &res.Answers[i]
		l.say(l.asked[a.ID], a, nil)
		if a.Status != engine.Accepted {
			delete(l.asked, a.ID)
		}
	}
	for i := range res.Outcomes {
		o := &res.Outcomes[i]
		l.say(l.asked[o.ID], nil, o)
		delete(l.asked, o.ID)
	}
}

// say tells a station's protocol. One that panics loses its words; the wall's daemon does not fall over it.
func (l *loop) say(tell protocols.Tell, a *engine.Answer, o *engine.Outcome) {
	if tell == nil {
		return
	}
	defer func() {
		if fault := recover(); fault != nil {
			l.chronicle.note(fmt.Sprintf("a station's protocol failed as it was told of a command: %v", fault))
		}
	}()
	tell(a, o)
}

// end answers what still waits and writes down where the incarnation came to.
func (l *loop) end() {
	for _, e := range l.inbox.close() {
		if c, ok := e.input.(engine.Command); ok {
			l.say(e.tell, apologise(c, true), nil)
		}
	}
	for _, e := range l.rereads {
		l.say(e.tell, apologise(e.input.(engine.Command), true), nil)
	}
	l.chronicle.rest(never)
	l.chronicle.note(fmt.Sprintf("stopped: epoch %d, %d inputs, digest %s", l.epoch, l.journal.inputs, l.journal.sum))
	var h haul
	if k := l.engine.Last(); k != nil {
		h.commit = &commit{kept: k} // nobody hears of it any more
	}
	l.write(h)
}
