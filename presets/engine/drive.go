package engine

import (
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// drive sends what may be sent now: first everything that lowers, then pictures, then what raises, as far as the guard lets it. It is called after every input, so
// whatever gave room is followed at once.
func (e *Engine) drive() {
	if e.set.Watch {
		return
	}
	for i := range e.outs {
		e.expireRaise(i)
		e.endFade(i)
		e.driveDown(i)
	}
	for i := range e.devs {
		e.drivePicture(i)
	}
	e.before = nil
	if e.has(CheckThenReserve) {
		with, _ := e.highs()
		e.before = append(e.before, with...)
	}
	for i := range e.outs {
		e.driveUp(i)
	}
	for i := range e.devs {
		e.ask(i)
	}
	e.lostDevices()
}

// expireRaise ends what a command asked of an output when its time is over: nothing rises later by itself. What was reached is what is wanted now; where that is
// not certain, nothing more is sent until a device tells or a command comes. Only a blackout goes on.
func (e *Engine) expireRaise(i int) {
	o := &e.outs[i]
	if !o.driven || o.live == 0 || e.now < o.live {
		return
	}
	if o.falls && o.highest() > o.goal && !o.dark { // what brings it down goes on until it is down
		o.live = e.now + e.plan.Rig.Hold
		return
	}
	o.live, o.falls = 0, false
	o.stop()
	if o.dark || o.there(e.deviceOf(i)) {
		return
	}
	o.driven = false
	if len(o.level.base) == 1 && o.level.holds(o.level.base[0]) {
		o.goal = o.level.base[0]
	}
	if o.black.holds(true) {
		o.dark = true
	}
}

// endFade ends a fade whose time is over. The room that it reserved stays taken until its last level is sent.
func (e *Engine) endFade(i int) {
	o := &e.outs[i]
	o.fade.step(e.now, e.set.FadeStep, e.deviceOf(i).Steps)
	if o.fade.on && o.fade.started && e.now >= o.fade.start+o.fade.length {
		o.fade.on = false
	}
	if !o.fade.on && o.reserve > 0 && o.level.may(o.goal) {
		o.reserve = 0
	}
}

// driveDown sends a blackout, and a level that is not above anything that the output may stand at.
func (e *Engine) driveDown(i int) {
	o, d := &e.outs[i], e.deviceOf(i)
	if !o.driven {
		return
	}
	if o.dark {
		if due, _ := o.black.due(true, e.now, d); due {
			e.sendBlack(i, true)
		}
		return
	}
	v := o.aim()
	due, _ := o.level.due(v, e.now, d)
	if due && v > o.lowest() && d.Class == rig.Silent && e.now < o.live {
		e.collapse(i, v)
	}
	if !due || v > o.lowest() {
		return
	}
	switch {
	case v <= o.low(d):
		e.sendLevel(i, v, true)
	case e.now < o.live && e.admissible(i, v):
		e.sendLevel(i, v, true)
	case e.now < o.live && v < o.lowest() && o.lowest() > d.Restart:
		// A conductor is over, and the device may have restarted darker than v. Only its restart level is sure to raise nothing, and a lowering waits for nothing.
		if low := o.low(d).Down(d.Steps); !o.level.holds(low) {
			if due, _ := o.level.due(low, e.now, d); due {
				e.sendLevel(i, low, true)
			}
		}
	}
}

// drivePicture sets layout and mode once nothing of the device is brighter than the new look wants it, and the plant carries it with the new picture up.
func (e *Engine) drivePicture(i int) {
	d, r := &e.devs[i], &e.plan.Rig.Devices[i]
	if !d.driven || e.now >= d.live {
		return
	}
	if due, _ := d.picture.due(d.want, e.now, r); !due {
		return
	}
	for _, o := range d.outputs {
		out := &e.outs[o]
		if !out.dark && out.black.may(false) && out.highest() > max(out.goal, r.Restart) {
			return
		}
	}
	if !e.showable(i) {
		return
	}
	a := Action{Kind: SendPicture, Device: i, Output: -1, Picture: d.want}
	id := e.send(&a)
	d.picture.sent(id, a.Number, d.want)
}

// driveUp raises an output whose command is alive and whose device shows the picture, if the guard admits it: check and reserve are one step, since
// what is sent counts from here on.
func (e *Engine) driveUp(i int) {
	o, d := &e.outs[i], e.deviceOf(i)
	if !o.driven || o.falls || o.dark || e.now >= o.live || !e.pictured(i) {
		return
	}
	if !o.black.certain(false, d) && !e.lift(i) {
		return
	}
	if o.fade.on && o.fade.to > o.fade.from && !o.fade.started {
		if !o.black.holds(false) || !e.admissible(i, o.fade.to) {
			return
		}
		o.fade.started, o.fade.start, o.reserve = true, e.now, o.fade.to
		o.fade.value, o.fade.next = o.fade.from, e.now+e.set.FadeStep
	}
	v := o.aim()
	due, _ := o.level.due(v, e.now, d)
	if due && v > o.lowest() && v <= e.wanted.Caps[i] && e.admissible(i, v) {
		e.sendLevel(i, v, false)
	}
}

// collapse makes a silent device certain that may stand above v and below it: nobody can be asked. It is told v where that has room, and else to be as dark as it may
// be already, since not knowing what it holds is what leaves no room.
func (e *Engine) collapse(i int, v units.Level) {
	o, d := &e.outs[i], e.deviceOf(i)
	if o.highest() <= v {
		return
	}
	if !e.admissible(i, max(v, o.goal)) {
		v = o.low(d)
	}
	if due, _ := o.level.due(v, e.now, d); due && !o.level.holds(v) {
		e.sendLevel(i, v, true)
	}
}

// lift brings an output out of blackout, once its level under the blackout can be nothing brighter than where it begins. It reports whether the level may be
// worked on.
func (e *Engine) lift(i int) bool {
	o, d := &e.outs[i], e.deviceOf(i)
	begin := o.aim()
	if o.highest() > begin {
		return true
	}
	if due, _ := o.black.due(false, e.now, d); due && e.admissible(i, o.highest()) {
		e.sendBlack(i, false)
	}
	return true
}

// pictured reports whether the output's device shows the picture that is wanted, or nobody asks for one any more.
func (e *Engine) pictured(i int) bool {
	d := &e.devs[e.plan.Rig.Outputs[i].Device]
	return !d.driven || e.now >= d.live || d.picture.holds(d.want)
}

func (e *Engine) sendLevel(i int, v units.Level, lowering bool) {
	a := Action{Kind: SendLevel, Device: e.plan.Rig.Outputs[i].Device, Output: i, Level: v, Lowering: lowering}
	id := e.send(&a)
	e.outs[i].level.sent(id, a.Number, v)
	e.outs[i].loose = max(e.outs[i].loose, v)
}

func (e *Engine) sendBlack(i int, dark bool) {
	a := Action{Kind: SendBlack, Device: e.plan.Rig.Outputs[i].Device, Output: i, Black: dark, Lowering: dark}
	id := e.send(&a)
	e.outs[i].black.sent(id, a.Number, dark)
}

// send gives a packet its name, and its number where the device keeps numbers.
func (e *Engine) send(a *Action) WriteID {
	e.lastWrite++
	a.Write = e.lastWrite
	if e.plan.Rig.Devices[a.Device].Class == rig.Numbered {
		e.lastNumber++
		a.Number = e.lastNumber
	}
	e.out.Actions = append(e.out.Actions, *a)
	return a.Write
}

// wrote starts the life of a packet.
func (e *Engine) wrote(id WriteID) {
	for i := range e.outs {
		d := e.deviceOf(i)
		if e.outs[i].level.wrote(id, e.now, d) || e.outs[i].black.wrote(id, e.now, d) {
			if n := e.outs[i].level.newest(); e.has(WrittenIsDone) && n != nil && n.written && n.value <= e.outs[i].lowest() {
				e.outs[i].level.base, e.outs[i].level.packets = []units.Level{n.value}, nil
			}
			return
		}
	}
	for i := range e.devs {
		if e.devs[i].picture.wrote(id, e.now, &e.plan.Rig.Devices[i]) {
			return
		}
		if e.devs[i].asking == id {
			e.devs[i].asking = 0
		}
	}
}

// droppedWrite takes out a packet that never left.
func (e *Engine) droppedWrite(id WriteID) {
	for i := range e.outs {
		until := e.now + e.deviceOf(i).Retry
		if e.outs[i].level.dropped(id, until) || e.outs[i].black.dropped(id, until) {
			return
		}
	}
	for i := range e.devs {
		until := e.now + e.plan.Rig.Devices[i].Retry
		if e.devs[i].picture.dropped(id, until) {
			return
		}
		if e.devs[i].asking == id {
			e.devs[i].asking, e.devs[i].askAt = 0, until
		}
	}
}
