package engine

import (
	"fmt"

	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// device is what the outputs of one device share.
type device struct {
	outputs []int // in the rig's order: the order of a report's lists
	picture register[Picture]
	want    Picture
	driven  bool    // a command of this incarnation asked for a picture; before that nothing is sent
	live    Instant // until when a change of picture that a command asked for may go
	asking  WriteID // the question that the worker still holds, or 0
	askAt   Instant // not before
	heard   Instant // last report
	lost    bool
}

// unknownPicture is a picture that nothing wants.
var unknownPicture = Picture{Layout: -1, Mode: -1}

func newDevice(r *rig.Rig, i int, number uint64) device {
	d := device{want: unknownPicture, picture: register[Picture]{base: []Picture{unknownPicture}, number: number}}
	if r.Devices[i].Class == rig.Reporting {
		d.picture.packets = []packet[Picture]{{value: unknownPicture, written: true}}
	}
	for o := range r.Outputs {
		if r.Outputs[o].Device == i {
			d.outputs = append(d.outputs, o)
		}
	}
	return d
}

// idlePoll is how often a device with nothing under way is asked, in its retry times: often enough that another hand at it shows within seconds.
const idlePoll = 10

// silenceFor is how long a device that should answer may say nothing, in its retry times, before that is an alarm.
const silenceFor = 25

// ask asks every device that can tell, soon after something was sent to it and now and then otherwise. One question at a time stands in a worker's slot.
func (e *Engine) ask(i int) {
	d, r := &e.devs[i], &e.plan.Rig.Devices[i]
	if r.Class == rig.Silent || d.asking != 0 || e.now < d.askAt || e.set.Watch {
		return
	}
	a := Action{Kind: Ask, Device: i, Output: -1, Lowering: false}
	d.asking = e.send(&a)
	d.askAt = e.now + r.Retry*idlePoll
	if !e.settled(i) {
		d.askAt = e.now + r.Retry
	}
}

// settled reports whether everything of a device certainly is where it is wanted.
func (e *Engine) settled(i int) bool {
	for _, o := range e.devs[i].outputs {
		if !e.outs[o].there(e.deviceOf(o)) {
			return false
		}
	}
	return e.devs[i].picture.holds(e.devs[i].want)
}

func (e *Engine) deviceDeadlines(i int, at func(Instant)) {
	d, r := &e.devs[i], &e.plan.Rig.Devices[i]
	d.picture.deadlines(d.want, e.now, r, at)
	at(d.live)
	if r.Class == rig.Silent || e.set.Watch {
		return
	}
	if d.asking == 0 {
		at(d.askAt)
	}
	if !d.lost {
		at(d.heard + r.Retry*silenceFor)
	}
}

// report takes what a device tells of itself.
func (e *Engine) report(in Report) {
	if in.Device < 0 || in.Device >= len(e.devs) {
		return
	}
	d, r := &e.devs[in.Device], &e.plan.Rig.Devices[in.Device]
	if len(in.Levels) != len(d.outputs) || len(in.Black) != len(d.outputs) || r.Class == rig.Silent || e.set.Watch {
		return
	}
	d.heard = e.now
	if e.has(AnyEcho) {
		in.Number = e.lastNumber
	}
	if d.lost {
		d.lost = false
		e.clear("lost " + r.Name)
	}
	for k, o := range d.outputs {
		if in.Levels[k].Valid() {
			e.reportOutput(o, in.Levels[k].Up(r.Steps), in.Black[k], in.Number)
		}
	}
	d.picture.told(in.Picture, in.Number, e.now, r)
	if !d.driven {
		e.foundPicture(in.Device, in.Picture)
	}
	if soon := e.now + r.Retry; !e.settled(in.Device) && d.askAt > soon {
		d.askAt = soon
	}
}

// foundPicture takes the picture that a device shows while no command wants one of it.
func (e *Engine) foundPicture(i int, p Picture) {
	d, r := &e.devs[i], &e.plan.Rig.Devices[i]
	if d.want != unknownPicture && p != d.want && p != e.wanted.Picture {
		e.alarm("picture "+r.Name, finding.Place{Kind: "device", Name: r.Name}, "shows another layout or mode than the look has", "recall the look to take it back")
	}
	if p == e.wanted.Picture {
		e.clear("picture " + r.Name)
	}
	d.want = p
}

// reportOutput takes one output's values. A value that nobody here sent is another hand's or a restart's: it becomes the state, and nothing is raised again.
func (e *Engine) reportOutput(i int, v units.Level, dark bool, number uint64) {
	o, d := &e.outs[i], e.deviceOf(i)
	if d.Class == rig.Numbered && number < o.level.number {
		return
	}
	explained := o.level.may(v) && o.black.may(dark) || o.attested
	first := !o.reported
	o.reported, o.attested = true, false
	o.level.told(v, number, e.now, d)
	o.black.told(dark, number, e.now, d)
	o.loose = o.flying()
	if first && !o.driven && e.wanted.Preset != 0 && (v != o.goal || dark != o.dark) {
		e.alarm("moved "+e.name(i), finding.Place{Kind: "output", Name: e.name(i)}, fmt.Sprintf("stands at %v and not as the look wants it: it was not reached before the restart", v),
			"recall the look to bring it there")
	}
	if !o.driven {
		o.goal, o.dark = v, dark
	}
	if explained || first {
		if explained && !first && o.there(d) && o.goal == e.wanted.target(i, d.Steps) {
			e.clear("moved " + e.name(i))
		}
		return
	}
	restarted := v == d.Restart.Up(d.Steps) && !dark
	e.alarm("moved "+e.name(i), finding.Place{Kind: "output", Name: e.name(i)}, movedSentence(v, dark, restarted), "recall the look to take it back")
	e.found(i, v, dark)
}

// found makes what a device was found at what is wanted, outside a command: never brighter than it is, and where it is brighter than wanted it is lowered
// only as far as nothing can rise by it.
func (e *Engine) found(i int, v units.Level, dark bool) {
	o := &e.outs[i]
	if e.now < o.live {
		return
	}
	o.stop()
	if v < o.goal || o.goal > o.low(e.deviceOf(i)) {
		o.goal = v
	}
	if dark {
		o.dark = true
	}
}

func movedSentence(v units.Level, dark, restarted bool) string {
	switch {
	case restarted:
		return fmt.Sprintf("stands at %v as after a restart", v)
	case dark:
		return "was made dark by another hand"
	default:
		return fmt.Sprintf("stands at %v, which was not sent from here", v)
	}
}

func (e *Engine) name(o int) string { return e.plan.Rig.Outputs[o].Name }

// lostDevices raises the alarm for devices that should tell and do not.
func (e *Engine) lostDevices() {
	for i := range e.devs {
		d, r := &e.devs[i], &e.plan.Rig.Devices[i]
		if r.Class == rig.Silent || d.lost || e.set.Watch || e.now < d.heard+r.Retry*silenceFor {
			continue
		}
		d.lost = true
		e.alarm("lost "+r.Name, finding.Place{Kind: "device", Name: r.Name}, "does not answer; its outputs count at their highest", "look at its power and network")
	}
}
