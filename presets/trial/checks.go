package trial

import (
	"slices"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// rounding is what two ways of adding up the same currents may differ by. It is no room for load.
const rounding = 1e-9

// check holds the plant's truth against the limits and against what the controller calls possible.
func (r *run) check() {
	r.checkTime()
	if r.moved {
		r.checkSafety()
		r.over.look(r.amps)
		r.moved = false
	}
	r.checkSoundness()
}

// checkSafety compares every true current with its limit, but where the promise is void.
func (r *run) checkSafety() {
	r.amps = r.plant.True(r.amps) // all of them, also where one is over: time is counted by them
	for i, c := range r.limits {
		if r.setup.Plan.Void[i] {
			continue
		}
		most := ratingOf(r.truth, c)
		if load := units.Share(r.amps[i] / most); load > r.stats.Fullest {
			r.stats.Fullest = load
		}
		if float64(r.amps[i]) > float64(most)*(1+rounding) {
			r.violate(Safety, "%v %s carries %v, limit %v", c.Kind, c.Name, r.amps[i], most)
			return
		}
	}
}

// checkSoundness compares what every output truly holds with what the controller says that it may hold. What a silent device holds is assumed and outside the
// promise; it is counted.
func (r *run) checkSoundness() {
	if r.ctl == nil || r.view == nil {
		return
	}
	for o, out := range r.truth.Outputs {
		is, v := r.plant.State(o), &r.view.Outputs[o]
		if v.Low <= is && is <= v.High {
			continue
		}
		if r.truth.Devices[out.Device].Class == rig.Silent {
			r.stats.Assumed++
			continue
		}
		r.violate(Soundness, "output %s holds %v, said to be from %v to %v", out.Name, is, v.Low, v.High)
		return
	}
}

// answered takes an answer: the only one of a command of this incarnation.
func (r *run) answered(a engine.Answer) {
	if a.ID == 0 || a.ID > uint64(len(r.people.orders)) {
		r.violate(OneAnswer, "an answer to a command %d that nobody gave", a.ID)
		return
	}
	o := &r.people.orders[a.ID-1]
	if o.answered || o.life != r.life {
		r.violate(OneAnswer, "a second or late answer to command %d", a.ID)
		return
	}
	o.answered, o.status = true, a.Status
	for _, f := range a.Findings {
		o.dip = o.dip || f.Code == finding.WouldDip
	}
	r.stats.answer(o.command.Verb, a.Status)
	if a.Status == engine.Accepted {
		r.people.live++
		r.countSwitch(o.command.Verb)
	}
	if o.circuit >= 0 {
		r.boardAnswered(*o)
	}
}

// boardAnswered sends the person at the board to work, or home.
func (r *run) boardAnswered(o order) {
	locked := r.plant.Breaker(o.circuit) == plant.Locked
	acts := o.command.Verb == engine.CircuitIn || o.command.Verb == engine.CircuitOut && locked
	if o.status != engine.Accepted || !acts {
		r.people.atBoard[o.circuit] = false
		return
	}
	to := engine.In
	if o.command.Verb == engine.CircuitOut {
		to = engine.Out
	}
	r.planAfter(upTo(r.rng, time.Second), event{what: attends, index: o.circuit, state: to})
}

// ended takes an outcome: the only one of an accepted command.
func (r *run) ended(o engine.Outcome) {
	if o.ID == 0 || o.ID > uint64(len(r.people.orders)) {
		r.violate(OneAnswer, "an outcome of a command %d that nobody gave", o.ID)
		return
	}
	was := &r.people.orders[o.ID-1]
	if was.life != r.life && (!was.answered || was.status == engine.Accepted) && was.found != r.life {
		was.found = r.life // it ran when its daemon died: one outcome more, for the record, in a life that came after
		delete(r.owed, o.ID)
		r.stats.Found++
		return
	}
	if was.ended || !was.answered || was.status != engine.Accepted {
		r.violate(OneAnswer, "an outcome of command %d, which is over or was not accepted", o.ID)
		return
	}
	was.ended, was.end = true, o.End
	r.people.live--
	r.stats.outcome(was.command.Verb, o)
}

// checkAction holds an action against what may be sent: what raises needs a command that is not over, and a permission that is on disk.
func (r *run) checkAction(a engine.Action) {
	if a.Lowering || a.Kind == engine.Ask || a.Kind == engine.Commit {
		return
	}
	if r.people.live == 0 {
		r.violate(Unasked, "%v", packetOf(a))
		return
	}
	if a.Kind != engine.SendLevel {
		return
	}
	d := r.disk.durable
	if d == nil || a.Output >= len(d.Envelope) || a.Level > d.Envelope[a.Output] {
		r.violate(Durability, "%v, which nothing on disk permits", packetOf(a))
	}
}

// checkWhole compares the look that a start wants with the one on disk: all of it, or none where nothing is on disk.
func (r *run) checkWhole() {
	v, want := r.ctl.View(), r.disk.read()
	if want == nil {
		if v.Look.Preset != 0 {
			r.violate(Atomicity, "a new site wants preset %d", v.Look.Preset)
		}
		return
	}
	if !r.disk.offered[string(r.disk.flushed)] {
		r.violate(Atomicity, "what is kept is no state that was ever handed to the disk whole")
		return
	}
	w := want.Wanted
	if v.Look.Preset != w.Preset || v.Look.Identify != w.Identify || v.Look.Scale != w.Scale || v.Armed != w.Armed || v.Look.Previous != w.Previous {
		r.violate(Atomicity, "wants preset %d at %v, kept is %d at %v", v.Look.Preset, v.Look.Scale, w.Preset, w.Scale)
		return
	}
	for _, c := range v.Circuits {
		kept := slices.ContainsFunc(want.Proofs, func(p engine.Proof) bool { return p.Circuit == c.Name })
		if kept != (c.Proved != nil) {
			r.violate(Atomicity, "circuit %s is proved: %v, kept is %v", c.Name, c.Proved != nil, kept)
			return
		}
	}
	for o := range v.Outputs {
		steps := r.truth.Devices[r.truth.Outputs[o].Device].Steps
		level := min(w.Caps[o], w.Levels[o]*w.Scale).Down(steps)
		if v.Outputs[o].Wanted != level || v.Outputs[o].Black != w.Black[o] {
			r.violate(Atomicity, "output %s is wanted at %v, kept is %v", v.Outputs[o].Name, v.Outputs[o].Wanted, level)
			return
		}
	}
}

// countSwitch counts the changes from one lit look to another, and those in which whoever raises first and lowers then would have overrun: the wall with every
// output at the brighter of what it held or was last wanted at, and what the new look wants.
func (r *run) countSwitch(v engine.Verb) {
	switches := v == engine.Recall || v == engine.Go || v == engine.Back || v == engine.Worklight
	if !switches || r.before == nil || r.before.Look.Preset == 0 || r.before.Look.Preset == r.view.Look.Preset || r.before.Look.Blackout {
		return
	}
	r.stats.Switches++
	both := make([]units.Level, len(r.view.Outputs))
	for o := range both {
		both[o] = r.plant.State(o)
		if !r.before.Outputs[o].Black {
			both[o] = max(both[o], r.before.Outputs[o].Wanted)
		}
		if !r.view.Outputs[o].Black {
			both[o] = max(both[o], r.view.Outputs[o].Wanted)
		}
	}
	for i, a := range r.plant.Would(nil, both) {
		limit := r.limits[i].Limit
		if r.before.Look.Above != nil || r.view.Look.Above != nil {
			limit = ratingOf(r.truth, r.limits[i])
		}
		if !r.setup.Plan.Void[i] && a > limit {
			r.stats.NaiveOverruns++
			return
		}
	}
}
