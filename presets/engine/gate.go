package engine

import (
	"fmt"
	"slices"

	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// gate keeps what raises until it is on disk. One commit is under way at a time; commands that come meanwhile go with the next, and only the newest of
// them is switched to.
type gate struct {
	waiting []gated // decided, for the next commit
	flying  []gated // in the commit under way
	batch   uint64  // of the commit under way, 0 for none
	dirty   bool    // something changed that the disk should know and that nobody waits for
	late    Instant // when to keep what only says that something is over; never where nothing does
	again   Instant // when to try the disk again after it failed; never while it is well
}

// gated is one command that waits for the disk. A change of the look is applied at the commit; a circuit's state is counted already.
type gated struct {
	command  Command
	change   *change
	findings []finding.Finding
	dead     bool // a blackout came after it: it is kept and answered, and not switched to
	again    bool // it was said while a preset was on its way, and is taken as if it came right after
}

// diskRetry is how long the disk is left alone after a failed commit.
const diskRetry = Instant(1_000_000_000)

// maxWaiting bounds what waits for a disk that does not come back.
const maxWaiting = 256

// order takes a decided change of the look. What lowers is done at once and waits for no disk; a level that rises within the box on disk too, while the disk is
// well and no preset is on its way there; everything else is on disk before a device is told.
func (e *Engine) order(c Command, ch change, fs []finding.Finding) {
	switch {
	case e.set.Watch:
		e.apply(ch)
		e.gate.dirty = true
		e.accept(c, fs)
		e.end(Outcome{ID: c.ID, Station: c.Station, Verb: c.Verb, End: Noted})
	case e.lowers(ch), e.has(GateOutside):
		e.fold(c, ch)
		e.begin(c, ch, fs)
	case len(e.gate.waiting) >= maxWaiting:
		e.refuse(c, finding.New(finding.Busy, verbPlace(c), "too many commands wait for the disk"))
	case !e.within(ch):
		e.gate.waiting = append(e.gate.waiting, gated{command: c, change: &ch, findings: fs})
	case e.gate.changing():
		e.gate.waiting = append(e.gate.waiting, gated{command: c, again: true})
	case e.sick != "":
		e.failCommand(c, e.sick)
	default:
		e.begin(c, ch, fs)
	}
}

// newest gives the place of the change in the commit under way that is switched to, -1 for none.
func (g *gate) newest() int {
	last := -1
	for i := range g.flying {
		if g.flying[i].change != nil && !g.flying[i].dead {
			last = i
		}
	}
	return last
}

// changing reports whether a preset is on its way to the disk, so that what is said now is meant for it.
func (g *gate) changing() bool {
	for _, list := range [][]gated{g.flying, g.waiting} {
		for i := range list {
			if list[i].change != nil && !list[i].dead {
				return true
			}
		}
	}
	return false
}

// fold makes a lowering, which is done on the look that is on, hold for a preset that is on its way to the disk as well: it came before.
func (e *Engine) fold(c Command, ch change) {
	for _, list := range [][]gated{e.gate.flying, e.gate.waiting} {
		for i := range list {
			if list[i].change == nil { // a level that was said before must not be done after what lowers; a zone's black it does not lift
				list[i].dead = list[i].dead || list[i].again && !(c.Verb == Blackout && c.Target != "")
				continue
			}
			look := &list[i].change.look
			switch {
			case c.Verb == Level || c.Verb == StepBy:
				look.Scale = min(look.Scale, ch.look.Scale)
			case c.Verb == ZoneLevel:
				for _, o := range ch.outputs {
					look.Levels[o] = min(look.Levels[o], ch.look.target(o, e.deviceOf(o).Steps))
				}
			case c.Verb == Blackout && c.Target != "":
				for _, o := range ch.outputs {
					look.Black[o] = true
				}
			default:
				list[i].dead = true
			}
		}
	}
}

// gateService makes a circuit's new state wait for the disk, for its answer only.
func (e *Engine) gateService(c Command) {
	if e.set.Watch {
		e.gate.dirty = true
		e.done(c, nil)
		return
	}
	e.gate.waiting = append(e.gate.waiting, gated{command: c})
}

// begin does a change now: it supersedes the one that runs.
func (e *Engine) begin(c Command, ch change, fs []finding.Finding) {
	e.accept(c, fs)
	next := e.runs(c, ch)
	e.supersede()
	e.apply(ch)
	e.running = next
	e.gate.dirty = true
}

// keepLate is how long the disk is spared what only says that something is over: a command that ended, most often right after it began.
const keepLate = Instant(20_000_000)

// keepSoon has it kept within that time that something is over.
func (e *Engine) keepSoon() { e.gate.late = min(e.gate.late, e.now+keepLate) }

// keep hands the next commit to the disk, when none is under way and there is something to keep.
func (e *Engine) keep() {
	g := &e.gate
	due := g.dirty || e.now >= g.late
	if g.batch != 0 || len(g.waiting) == 0 && (!due || e.now < g.again && e.sick != "") {
		return
	}
	e.lastBatch++
	g.batch, g.flying, g.waiting, g.dirty, g.late, g.again = e.lastBatch, g.waiting, nil, false, never, never
	e.out.Actions = append(e.out.Actions, Action{Kind: Commit, Device: -1, Output: -1, Batch: g.batch, Kept: e.kept()})
}

// Last gives what is to be kept when no step follows any more, nil where the disk has it already or is about to.
func (e *Engine) Last() *Kept {
	if !e.gate.dirty && e.gate.late == never && len(e.gate.waiting) == 0 {
		return nil
	}
	return e.kept()
}

// kept writes down what a restart needs once this batch is on disk: the look of the newest command in it, and for every output the highest level that any
// packet may set, of those under way and of those that the commit permits.
func (e *Engine) kept() *Kept {
	k := &Kept{Epoch: e.epoch, Wanted: e.wanted.clone(), Envelope: make([]units.Level, len(e.outs)), Outputs: e.outputNames, Circuits: slices.Clone(e.services), Names: e.circuitNames}
	for i := range e.outs {
		k.Envelope[i] = max(e.outs[i].highest(), e.outs[i].reserve, e.wanted.Caps[i])
	}
	for _, g := range e.gate.flying {
		k.Command = g.command.ID
		if g.change == nil || g.dead {
			continue
		}
		k.Wanted = e.wanted.worn(*g.change).clone()
		for i := range k.Envelope {
			k.Envelope[i] = max(k.Envelope[i], k.Wanted.Caps[i])
		}
	}
	e.keepAccounts(k)
	k.Proofs = e.keptProofs()
	k.Open = e.open()
	return k
}

// committed answers everything in the batch, and switches to the newest change in it that still stands. It is judged again first, since a circuit may have come
// back in the meantime.
func (e *Engine) committed(batch uint64) {
	if batch != e.gate.batch {
		return
	}
	if e.sick != "" {
		e.sick = ""
		e.clear("disk")
	}
	list, last := e.gate.flying, e.gate.newest()
	e.gate.batch, e.gate.flying = 0, nil
	if len(list) > 0 {
		e.keepSoon() // they are open no more, or run
	}
	for i, g := range list {
		switch {
		case g.change == nil && !g.again:
			e.done(g.command, g.findings)
		case i == last:
			e.beginChecked(g)
		case g.again && i > last && !g.dead:
			e.command(g.command)
		default:
			e.accept(g.command, g.findings)
			e.end(Outcome{ID: g.command.ID, Station: g.command.Station, Verb: g.command.Verb, End: Superseded})
		}
	}
}

// beginChecked begins a change that was on its way to disk, unless what it was judged by has changed against it.
func (e *Engine) beginChecked(g gated) {
	over := e.boxOver(&g.change.look)
	if len(over) == 0 || e.allVoid(over) {
		dirty := e.gate.dirty
		e.begin(g.command, *g.change, g.findings)
		e.gate.dirty = dirty // what it begins is on disk
		return
	}
	with, limits := g.change.look.Caps, e.limitsUnder(g.change.look.Above)
	var fs []finding.Finding
	for _, c := range over {
		fs = append(fs, e.overFinding(c, e.worst(c, with, with), limits[c]))
	}
	e.gate.dirty = true
	e.refuse(g.command, fs...)
}

func (e *Engine) allVoid(cs []int) bool {
	for _, c := range cs {
		if !e.plan.Void[c] {
			return false
		}
	}
	return true
}

// commitFailed tells everybody who waited that nothing was done, and leaves the disk alone for a while. Lowering goes on all the time.
func (e *Engine) commitFailed(batch uint64, cause string) {
	if batch != e.gate.batch {
		return
	}
	list := e.gate.flying
	e.gate.batch, e.gate.flying, e.gate.dirty, e.gate.again = 0, nil, true, e.now+diskRetry
	e.sick = cause
	e.alarm("disk", finding.Place{Kind: "disk", Name: ""}, "the record cannot be written: "+cause, "raising has stopped; free the disk, lowering goes on")
	for _, g := range list {
		if g.dead {
			e.accept(g.command, g.findings)
			e.end(Outcome{ID: g.command.ID, Station: g.command.Station, Verb: g.command.Verb, End: Superseded})
			continue
		}
		e.failCommand(g.command, cause)
	}
}

// failCommand answers a command that the disk stopped. Its circuit goes on counting as it was told, if that is the larger load.
func (e *Engine) failCommand(c Command, cause string) {
	f := finding.New(finding.DiskFailed, finding.Place{Kind: "disk"}, fmt.Sprintf("the record cannot be written (%s), so nothing that raises may go", cause))
	f.Remedies = []finding.Remedy{{When: finding.Later, Words: "free the disk; blackout and lowering work meanwhile"}}
	if c.Verb == LockedOff {
		for i := range e.plan.Rig.Circuits {
			if e.plan.Rig.Circuits[i].Name == c.Target {
				e.setService(i, Out)
			}
		}
	}
	e.out.Answers = append(e.out.Answers, Answer{c.ID, c.Station, c.Verb, Failed, []finding.Finding{f}})
}
