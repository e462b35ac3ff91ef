package engine

import (
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// running is the change of the look whose outcome is still open. There is one at most: the next one supersedes it.
type running struct {
	command Command
	since   Instant
	until   Instant
	outputs []int
	picture bool
}

// supersede ends what runs because something newer begins.
func (e *Engine) supersede() {
	if e.running != nil {
		e.outcome(Superseded)
	}
}

// finish ends what runs once it is reached, or once its time is over.
func (e *Engine) finish() {
	if e.running == nil {
		return
	}
	if e.reached() {
		e.rest()
		e.outcome(On)
		return
	}
	if e.now >= e.running.until {
		e.outcome(DroppedEnd)
		for i := range e.devs {
			e.devs[i].driven = e.devs[i].driven && e.now < e.devs[i].live
		}
		e.gate.dirty = true
	}
}

// rest ends the permission to raise of everything that the running command reached: a device that loses it later is not brought back unasked.
func (e *Engine) rest() {
	for _, o := range e.running.outputs {
		e.outs[o].live = 0
	}
	for i := range e.devs {
		if e.running.picture {
			e.devs[i].live, e.devs[i].driven = 0, false
		}
	}
}

func (e *Engine) reached() bool {
	for _, o := range e.running.outputs {
		out := &e.outs[o]
		if !out.attested && (!out.driven || !out.there(e.deviceOf(o))) {
			return false
		}
	}
	for i := range e.devs {
		if e.running.picture && !e.devs[i].picture.certain(e.devs[i].want, &e.plan.Rig.Devices[i]) {
			return false
		}
	}
	return true
}

// outcome says how the running command ended and where every output that is not certainly there stands.
func (e *Engine) outcome(end End) {
	r := e.running
	e.running = nil
	o := Outcome{ID: r.command.ID, Station: r.command.Station, Verb: r.command.Verb, End: end, Took: e.now - r.since}
	for _, i := range r.outputs {
		out, d := &e.outs[i], e.deviceOf(i)
		if want := e.wantedLight(i); !out.there(d) || !out.dark && out.goal != want { // what was reached is what is wanted now, and not what was asked for
			o.Short = append(o.Short, Reach{Output: e.name(i), Wanted: want, Low: out.least(d), High: out.light(d, true)})
			continue
		}
		if d.Class == rig.Silent {
			o.Assumed = append(o.Assumed, e.name(i))
		}
	}
	e.end(o)
}

// wantedLight gives the light level that the look asks of an output, blackout counted.
func (e *Engine) wantedLight(i int) units.Level {
	if e.outs[i].dark {
		return 0
	}
	return e.wanted.target(i, e.deviceOf(i).Steps)
}
