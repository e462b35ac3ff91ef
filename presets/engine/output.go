package engine

import (
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// output is one brightness value of one device: what it may be, and where it is to go.
type output struct {
	level    register[units.Level]
	black    register[bool]
	goal     units.Level // level that is wanted
	dark     bool        // blackout that is wanted
	live     Instant     // until when raises that a command asked for may go; nothing rises after
	fade     fade
	reserve  units.Level // end of a fade that has begun: the room is taken before the first step
	loose    units.Level // highest level sent since the device was known to be dark: it may have restarted, lit, just before one of them arrived
	attested bool        // a person says that it is dark, until a report says what it is
	reported bool        // a report has come since the start
	falls    bool        // it is brought down by itself: it may only be lowered, since nobody asked
	driven   bool        // a command of this incarnation spoke of it; before that nothing is sent
}

// fade is the way of a level to its goal.
type fade struct {
	on       bool
	started  bool // a fade up starts when its end is admitted
	from, to units.Level
	start    Instant
	length   Instant
	value    units.Level // of the curve, at the last step of the fade
	next     Instant     // when the next step of the fade is due
}

// step takes the curve's value of the moment, once a fade step: whatever else happens in between must not make a packet of its own.
func (f *fade) step(now, every Instant, steps int) {
	if f.on && f.started && (now >= f.next || now >= f.start+f.length) {
		f.value, f.next = f.at(now, steps), now+every
	}
}

// at gives the level of the curve at a time, rounded down to the device's steps.
func (f fade) at(now Instant, steps int) units.Level {
	if !f.started {
		return f.from
	}
	if now >= f.start+f.length {
		return f.to
	}
	part := units.Level(float64(now-f.start) / float64(f.length))
	return (f.from + part*(f.to-f.from)).Down(steps)
}

// low gives the lowest level that the register may hold, restarts counted: a value that is not above it cannot raise the output whatever happened.
func (o *output) low(d *rig.Device) units.Level { return min(o.lowest(), d.Restart) }

// lowest gives the lowest level that the register may hold but for restarts.
func (o *output) lowest() units.Level {
	low := units.Level(1)
	for _, v := range o.level.base {
		low = min(low, v)
	}
	for _, p := range o.level.packets {
		low = min(low, p.value)
	}
	return low
}

// highest gives the highest level that the register may hold but for restarts.
func (o *output) highest() units.Level {
	high := units.Level(0)
	for _, v := range o.level.base {
		high = max(high, v)
	}
	for _, p := range o.level.packets {
		high = max(high, p.value)
	}
	return high
}

// flying gives the highest level that is still under way.
func (o *output) flying() units.Level {
	high := units.Level(0)
	for _, p := range o.level.packets {
		if !p.dead {
			high = max(high, p.value)
		}
	}
	return high
}

// light gives the highest light level that the output may stand at. A level held under blackout makes no light; one sent since the blackout was known does, since the
// device may have restarted, which lifts its blackout, before the packet arrived. Restart says whether the restart level counts.
func (o *output) light(d *rig.Device, restart bool) units.Level {
	high := o.highest()
	if !o.black.may(false) {
		high = min(high, max(o.flying(), o.loose))
	}
	if restart {
		high = max(high, d.Restart)
	}
	return max(high, o.reserve)
}

// least gives the lowest light level that the output may stand at while it runs.
func (o *output) least(d *rig.Device) units.Level {
	if o.black.may(true) {
		return 0
	}
	return o.low(d)
}

// there reports whether the output certainly stands where it is wanted.
func (o *output) there(d *rig.Device) bool {
	if o.dark {
		return o.black.certain(true, d)
	}
	return !o.fade.on && o.level.certain(o.goal, d) && o.black.certain(false, d)
}

// retell makes a silent device be told everything again.
func (o *output) retell(d *rig.Device) {
	o.level.again, o.black.again = d.Class == rig.Silent, d.Class == rig.Silent
}

// aim gives the level that should be sent now.
func (o *output) aim() units.Level {
	if o.fade.on && o.fade.started {
		return o.fade.value
	}
	if o.fade.on {
		return o.fade.from
	}
	return o.goal
}

// head sets a new goal. From is the level that the output is taken to stand at; a fade of length 0 is a jump.
func (o *output) head(goal units.Level, up, down, now Instant) {
	from := o.from()
	o.goal, o.fade, o.reserve = goal, fade{}, 0
	switch {
	case goal > from && up > 0:
		o.fade = fade{on: true, from: from, to: goal, length: up}
	case goal < from && down > 0:
		o.fade = fade{on: true, started: true, from: from, to: goal, start: now, length: down, value: from, next: now}
	}
}

// from gives where a fade of this output begins: dark where it may be dark, else the level that was sent last or is known.
func (o *output) from() units.Level {
	if !o.black.holds(false) {
		return 0
	}
	if n := o.level.newest(); n != nil {
		return n.value
	}
	return o.lowest()
}

// stop ends a fade where it is.
func (o *output) stop() { o.fade, o.reserve = fade{}, 0 }

// open reports whether anything is on its way to the output.
func (o *output) open() bool { return len(o.level.packets)+len(o.black.packets) > 0 }

// expire lets go of packets whose lives are over. A silent device whose blackout is settled by that is taken as dark from then on.
func (o *output) expire(now Instant, d *rig.Device) {
	open := len(o.black.packets) > 0
	o.level.expire(now, d)
	o.black.expire(now, d)
	if open && d.Class == rig.Silent && o.black.certain(true, d) {
		o.loose = o.flying()
	}
}
