package engine

import (
	"slices"

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
	resumed bool // it ran when an incarnation before this one ended: nothing is sent for it, and what devices tell gives its outcome
}

// runs gives what a command that begins now has to reach: what it speaks of, and what the one that runs has not reached.
func (e *Engine) runs(c Command, ch change) *running {
	next := &running{command: c, since: e.now, until: e.now + e.plan.Rig.Hold + ch.fadeUp + ch.fadeDown, outputs: ch.outputs, picture: ch.picture}
	if old := e.running; old != nil && !old.resumed {
		next.outputs, next.picture = sorted(union(ch.outputs, old.outputs)), ch.picture || old.picture
		next.until = max(next.until, old.until)
	}
	return next
}

// resumePatience is how long the devices have to tell where a command that ran when lookgate ended has come to.
const resumePatience = Instant(2_000_000_000)

// open lists the commands whose outcomes are still to come once the commit under way is on disk.
func (e *Engine) open() []Open {
	var list []Open
	newest := e.gate.newest()
	if e.running != nil && newest < 0 {
		list = append(list, e.openOf(e.running))
	} else if r := e.running; r != nil {
		list = append(list, ending(r.command, Superseded))
	}
	for i := range e.gate.flying {
		g := &e.gate.flying[i]
		o := ending(g.command, On)
		switch {
		case i == newest:
			o = e.openOf(e.runs(g.command, *g.change))
		case g.change != nil || g.dead:
			o.End = Superseded
		case g.again:
			o.End = DroppedEnd
		}
		list = append(list, o)
	}
	for i := range e.gate.waiting { // only where nothing follows any more
		list = append(list, ending(e.gate.waiting[i].command, DroppedEnd))
	}
	return list
}

func ending(c Command, end End) Open {
	return Open{ID: c.ID, Station: c.Station, Verb: c.Verb, End: end}
}

func (e *Engine) openOf(r *running) Open {
	o := ending(r.command, "")
	o.Picture = r.picture
	for _, i := range r.outputs {
		o.Outputs = append(o.Outputs, e.name(i))
	}
	return o
}

// resumes takes up the commands that were open when an incarnation before this one ended, for their outcomes only.
func (e *Engine) resumes(list []Open) {
	for _, o := range list {
		if o.End != "" {
			e.owed = append(e.owed, Outcome{ID: o.ID, Station: o.Station, Verb: o.Verb, End: o.End, Resumed: true})
			continue
		}
		e.running = &running{command: Command{ID: o.ID, Station: o.Station, Verb: o.Verb}, until: resumePatience, picture: o.Picture, resumed: true}
		for i := range e.outs {
			if slices.Contains(o.Outputs, e.name(i)) {
				e.running.outputs = append(e.running.outputs, i)
			}
		}
	}
}

// arrived reports whether an output stands where the command that ran before the start wanted it, by what its device tells.
func (e *Engine) arrived(i int) bool {
	o, d := &e.outs[i], e.deviceOf(i)
	return o.reported && o.there(d) && o.dark == e.wanted.Black[i] && (o.dark || o.goal == e.wanted.target(i, d.Steps))
}

// supersede ends what runs because something newer begins.
func (e *Engine) supersede() {
	if e.running != nil {
		e.outcome(Superseded)
	}
}

// finish ends what runs once it is reached, or once its time is over.
func (e *Engine) finish() {
	if len(e.owed) > 0 {
		e.out.Outcomes, e.owed = append(e.out.Outcomes, e.owed...), nil
		e.keepSoon()
	}
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

// stands reports whether an output is where the running command wants it.
func (e *Engine) stands(i int) bool {
	if e.running.resumed {
		return e.arrived(i)
	}
	o := &e.outs[i]
	return o.attested || o.driven && o.there(e.deviceOf(i))
}

func (e *Engine) reached() bool {
	for _, o := range e.running.outputs {
		if !e.stands(o) {
			return false
		}
	}
	for i := range e.devs {
		want := e.devs[i].want
		if e.resuming() {
			want = e.wanted.Picture
		}
		if e.running.picture && !e.devs[i].picture.certain(want, &e.plan.Rig.Devices[i]) {
			return false
		}
	}
	return true
}

// outcome says how the running command ended and where every output that is not certainly there stands.
func (e *Engine) outcome(end End) {
	r := e.running
	e.keepSoon()
	o := Outcome{ID: r.command.ID, Station: r.command.Station, Verb: r.command.Verb, End: end, Took: e.now - r.since, Resumed: r.resumed}
	for _, i := range r.outputs {
		out, d := &e.outs[i], e.deviceOf(i)
		if want := e.wantedLight(i); !out.there(d) || r.resumed && !e.arrived(i) || !out.dark && out.goal != want { // what was reached is what is wanted now, and not what was asked for
			o.Short = append(o.Short, Reach{Output: e.name(i), Wanted: want, Low: out.least(d), High: out.light(d, true)})
			continue
		}
		if d.Class == rig.Silent {
			o.Assumed = append(o.Assumed, e.name(i))
		}
	}
	e.running = nil
	e.end(o)
}

func (e *Engine) resuming() bool { return e.running != nil && e.running.resumed }

// wantedLight gives the light level that the look asks of an output, blackout counted.
func (e *Engine) wantedLight(i int) units.Level {
	dark := e.outs[i].dark
	if e.resuming() {
		dark = e.wanted.Black[i]
	}
	if dark {
		return 0
	}
	return e.wanted.target(i, e.deviceOf(i).Steps)
}
