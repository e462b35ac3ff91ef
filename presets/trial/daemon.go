package trial

import (
	"time"

	"lookgate/presets/engine"
)

// maxIdle is how many steps may follow each other at one instant: far more than all commands, packets and reports of one instant, far fewer than a loop.
const maxIdle = 2000

// boot starts an incarnation of the daemon on what the disk holds. It can start only once nothing of the one before is running any more.
func (r *run) boot() {
	r.life++
	r.epoch++
	r.started = r.now
	kept := r.disk.read()
	r.begun[r.epoch] = r.now
	if kept != nil && r.clock {
		kept.Gone = r.now - r.begun[kept.Epoch] - kept.At
	}
	r.owed = map[uint64]bool{}
	if kept != nil {
		for _, o := range kept.Open {
			r.owed[o.ID] = true
		}
	}
	r.ctl = r.setup.Start(kept, r.epoch)
	r.trace.word(r.now, "daemon starts", func() string { return "" }, r.epoch)
	r.checkWhole()
	r.step(engine.Tick{})
}

// step hands one input to the controller and does what it says.
func (r *run) step(in engine.Input) {
	if r.idle++; r.idle > maxIdle {
		r.violate(Workable, "more than %d steps at one instant", maxIdle)
		return
	}
	r.trace.input(r.now, in)
	res := r.ctl.Step(r.now-r.started, in)
	r.before, r.view = r.view, r.ctl.Glance()
	r.stats.Steps++
	r.take(res)
	r.deadline(res)
}

// take checks what the controller says and hands its actions to the workers and the disk. Answers come first, since an accepted command may act at once; outcomes
// come last, since the act that ends a command belongs to it.
func (r *run) take(res engine.Result) {
	for _, a := range res.Answers {
		r.trace.answer(r.now, a)
		r.answered(a)
	}
	for _, a := range res.Actions {
		r.trace.action(r.now, a)
		r.checkAction(a)
		if a.Kind == engine.Commit {
			r.commit(a)
		} else {
			r.hand(a)
		}
	}
	for _, o := range res.Outcomes {
		r.trace.outcome(r.now, o)
		r.ended(o)
	}
	for _, e := range res.Events {
		r.trace.event(r.now, e)
		r.countAbove(e)
	}
}

// deadline plans the tick that the controller asks for, in place of any before.
func (r *run) deadline(res engine.Result) {
	r.tick = 0
	if !res.HasNext {
		return
	}
	at := max(r.started+res.Next, r.now)
	r.tick = r.planAfter(at-r.now+upTo(r.rng, r.faults.Between), event{what: deadlines})
}

// tell hands an input to the controller a little later, as one part of the daemon tells another.
func (r *run) tell(in engine.Input) {
	r.planAfter(upTo(r.rng, r.faults.Between), event{what: tells, input: in})
}

// crashByHabit is the daemon dying at any moment; it plans the next time.
func (r *run) crashByHabit() {
	if r.faults.CrashEvery == 0 {
		return
	}
	r.crash()
	r.planAfter(around(r.rng, r.faults.CrashEvery), event{what: crashes})
}

// crash ends the daemon: what the workers still held and the disk had not flushed is gone; what was written is on its way. A write that had begun ends as it
// would have: the next incarnation starts after it, so that a packet's life never runs from a write that the living daemon knows nothing of.
func (r *run) crash() {
	if r.ctl == nil {
		return
	}
	r.ctl, r.view, r.tick = nil, nil, 0
	r.stats.Crashes++
	r.trace.word(r.now, "daemon dies", func() string { return "" })
	up := r.now
	for i := range r.workers {
		up = max(up, r.workers[i].until)
		r.writeOn(i)
		r.workers[i].slots, r.workers[i].busy = nil, false
	}
	r.lose()
	r.people.crashed()
	r.planAfter(up-r.now+upTo(r.rng, r.faults.Down), event{what: rises})
}

// worker is what the daemon has one of for each device: a slot for the newest value of each kind and output, lowering first, one write at a time.
type worker struct {
	slots []engine.Action // in the order in which the slots were filled
	busy  bool
	until time.Duration // when the last write that was begun returns
}

// hand puts an action into its slot. What stood there is dropped: only the newest value of a kind counts.
func (r *run) hand(a engine.Action) {
	w := &r.workers[a.Device]
	for i, old := range w.slots {
		if old.Kind == a.Kind && old.Output == a.Output {
			w.slots = append(w.slots[:i], w.slots[i+1:]...)
			r.tell(engine.Dropped{Write: old.Write})
			break
		}
	}
	w.slots = append(w.slots, a)
	r.write(a.Device)
}

// write begins the next write of a worker that has none under way: the oldest that lowers, or else the oldest.
func (r *run) write(device int) {
	w := &r.workers[device]
	if w.busy || len(w.slots) == 0 {
		return
	}
	next := 0
	for i, a := range w.slots {
		if a.Lowering {
			next = i
			break
		}
	}
	a := w.slots[next]
	w.slots = append(w.slots[:next], w.slots[next+1:]...)
	takes := upTo(r.rng, r.faults.Write)
	if chance(r.rng, r.faults.WriteStuck) {
		takes = upTo(r.rng, r.faults.StuckFor)
	}
	w.busy, w.until = true, r.now+takes
	e := event{what: returns, index: device, input: engine.Written{Write: a.Write}}
	if chance(r.rng, r.faults.WriteFail) {
		e.input = engine.Dropped{Write: a.Write}
	} else {
		r.plant.Send(r.now, w.until, packetOf(a))
	}
	r.planAfter(takes, e)
}

// wrote is a write returning: the engine is told, and the next may begin.
func (r *run) wrote(e event) {
	r.workers[e.index].busy = false
	r.tell(e.input)
	r.write(e.index)
}
