package engine

import (
	"fmt"
	"slices"
	"strings"

	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// tellAt is how long before a look is brought down people are told, the last one last.
var tellAt = [...]Instant{5 * 60_000_000_000, 60_000_000_000}

// aboveKey is the alarm of a look that will be brought down.
const aboveKey = "above continuous"

// downPart is what part of a look's time above the continuous limit its fade down may take, when it is brought down.
const downPart = 4

// downFade gives how long the look takes to be brought down.
func (e *Engine) downFade() Instant { return min(e.fadeDown(), e.wanted.For/downPart) }

// fadeDown gives how long the look's preset fades down.
func (e *Engine) fadeDown() Instant {
	p := e.plan.Book.ByNumber(e.wanted.Preset)
	if p == nil {
		return 0
	}
	return p.FadeDown
}

// timeLeft gives for how long a circuit of the look may go on being above until the look has to be brought down: what the look stated or the circuit has left, whichever is
// less, without what coming down takes.
func (e *Engine) timeLeft(c int) Instant {
	a := &e.accounts[c]
	left := min(e.plan.Rig.Circuits[c].Above.For-a.Used, e.wanted.For-(a.Used-a.Begun))
	if e.has(LowersLate) {
		return left
	}
	return left - e.downFade() - e.settles[c]
}

// leastLeft gives the least time left of the look's circuits, and whether any has its time running.
func (e *Engine) leastLeft() (left Instant, runs bool) {
	left = never
	for c, lent := range e.wanted.Above {
		if lent {
			left, runs = min(left, e.timeLeft(c)), runs || e.accounts[c].above
		}
	}
	return left, runs
}

// watchAbove tells people of a look that is above a continuous limit, in time, and brings it down when its time is over.
func (e *Engine) watchAbove() {
	for c := range e.accounts {
		if a := &e.accounts[c]; a.Coming && a.above && (a.due || e.latest(c) <= 0) {
			e.hasten(c)
		}
	}
	if e.wanted.Above == nil {
		return
	}
	left, _ := e.leastLeft()
	switch {
	case left > 0:
		e.tellLeft(left)
	case e.set.Watch:
		e.alarm(aboveKey, e.lookPlace(), "has used its time above the continuous limit on "+e.lentNames(), "bring it down: nothing is sent in watch mode")
	default:
		e.bringDown()
	}
}

// tellLeft raises the alarm once for every time that is told, and takes it back where a rest has given the look more time.
func (e *Engine) tellLeft(left Instant) {
	if left > tellAt[0] && e.told != never {
		e.told = never
		e.clear(aboveKey)
	}
	for _, at := range tellAt {
		if left <= at && e.told > at {
			e.tellDown(left)
			e.told = at
		}
	}
}

// tellDown raises the alarm, or tells it again with less time.
func (e *Engine) tellDown(left Instant) {
	e.alarm(aboveKey, e.lookPlace(), fmt.Sprintf("is above the continuous limit on %s, and is brought down in %s", e.lentNames(), units.Spoken(units.UpToSeconds(left))),
		"recall a darker look, or let it be brought down")
	if e.told != never { // an alarm that is there already makes no event of its own
		e.out.Events = append(e.out.Events, e.alarms[slices.IndexFunc(e.alarms, func(ev Event) bool { return ev.Key == aboveKey })])
	}
}

func (e *Engine) lookPlace() finding.Place {
	place := finding.Place{Kind: "preset", Name: fmt.Sprint(e.wanted.Preset)}
	if p := e.plan.Book.ByNumber(e.wanted.Preset); p != nil {
		place.Name = p.Name
	}
	return place
}

// lentNames names the circuits that the look may take above their continuous limits, few of them by name.
func (e *Engine) lentNames() string {
	const few = 3
	var names []string
	for c, lent := range e.wanted.Above {
		if lent {
			names = append(names, e.circuitNames[c])
		}
	}
	if more := len(names) - few; more > 0 {
		return fmt.Sprintf("circuit %s and %d more", strings.Join(names[:few], ", "), more)
	}
	return "circuit " + strings.Join(names, ", ")
}

// note tells something of the look that no command asked for.
func (e *Engine) note(sentence string) {
	e.out.Events = append(e.out.Events, Event{Kind: "note", Key: aboveKey, Place: e.lookPlace(), Sentence: sentence})
}

// downSteps is how finely it is looked for how far a look has to come down.
const downSteps = 1000

// bringDown lowers the look to where its circuits may stay for any time. It asks nobody and waits for nothing, as every lowering. Levels and caps come down in the
// same ratio, so the look keeps its balance and no fader takes it up again; what raises is over. The look has no time above the limit any more.
func (e *Engine) bringDown() {
	names := e.lentNames()
	e.dropRaise()
	k := e.share()
	w := e.wanted.clone()
	scale := e.downScale(&w, k)
	for o := range w.Caps {
		w.Caps[o] = (w.Caps[o] * k).Down(e.deviceOf(o).Steps)
	}
	w.Scale *= scale
	fade := e.downFade()
	for c, lent := range w.Above {
		if lent {
			e.comes(c, fade)
		}
	}
	w.Above, w.For = nil, 0
	e.wanted = w
	e.setLimits()
	for o := range e.outs {
		e.fall(o, fade)
	}
	e.clear(aboveKey)
	e.told = never
	e.note(fmt.Sprintf("brought down to %v of its levels: its time above the continuous limit is over on %s", scale, names))
	e.gate.dirty = true
}

// dropRaise ends a command that still waits for something brighter, or for its picture: what was reached is what is wanted.
func (e *Engine) dropRaise() {
	if e.running == nil || e.reached() || !slices.ContainsFunc(e.running.outputs, func(o int) bool { return !e.outs[o].dark }) {
		return
	}
	e.outcome(DroppedEnd)
	for i := range e.devs {
		e.devs[i].live, e.devs[i].driven = 0, false
	}
}

// fall makes an output go down to what is wanted now, and no output rise.
func (e *Engine) fall(i int, fade Instant) {
	o, d := &e.outs[i], e.deviceOf(i)
	goal := min(o.goal, e.wanted.target(i, d.Steps))
	if o.dark {
		o.goal = goal
		return
	}
	if goal != o.goal || o.fade.on || !o.driven {
		o.head(goal, 0, fade, e.now)
	}
	o.driven, o.falls, o.live = true, true, e.now+e.plan.Rig.Hold+fade
	o.level.again = d.Class == rig.Silent
}

// latest gives how long what comes down from above a circuit's continuous limit may still take its time: then its fade is cut short, and a start that found it on its way
// brings it down all the same.
func (e *Engine) latest(c int) Instant {
	left := e.plan.Rig.Circuits[c].Above.For - e.accounts[c].Used
	if e.has(LowersLate) {
		return left
	}
	return left - e.settles[c]
}

// hasten makes every output of a circuit that may stand above what is wanted go there at once.
func (e *Engine) hasten(c int) {
	for i := range e.outs {
		o, d := &e.outs[i], e.deviceOf(i)
		if !slices.Contains(e.plan.Power.OfOutput(i), e.wires[c]) || o.dark || o.highest() <= min(o.goal, e.wanted.target(i, d.Steps)) {
			continue
		}
		switch {
		case !o.driven:
			e.fall(i, 0)
		case o.fade.on && o.fade.to < o.fade.from:
			o.fade = fade{}
		}
	}
}

// share gives the highest part of the look's caps, in thousandths, at which its circuits are within their continuous limits, restart levels counted.
func (e *Engine) share() units.Level {
	pass, fail := 0, downSteps+1
	for fail-pass > 1 {
		if k := pass + (fail-pass)/2; e.stays(units.Level(k) / downSteps) {
			pass = k
		} else {
			fail = k
		}
	}
	return units.Level(pass) / downSteps
}

func (e *Engine) stays(k units.Level) bool {
	w := e.wanted
	w.Caps = make([]units.Level, len(e.outs))
	for o := range w.Caps {
		w.Caps[o] = (e.wanted.Caps[o] * k).Down(e.deviceOf(o).Steps)
	}
	with, without := e.loads(&w)
	for c, lent := range e.wanted.Above {
		if wire := e.wires[c]; lent && !within(e.worst(wire, with, without), e.conductors[wire].Limit) {
			return false
		}
	}
	return true
}

// downScale gives the part of its levels at which no output of the look is above a part of its cap.
func (e *Engine) downScale(w *Wanted, k units.Level) units.Level {
	scale := units.Level(1)
	for o, most := range w.Caps {
		if is := min(most, w.Levels[o]*w.Scale); is > 0 {
			scale = min(scale, most*k/is)
		}
	}
	return scale
}

// showEvery is how often a time that runs is told anew where nothing else happens: a watcher that comes finds it no older than that.
const showEvery = Instant(10_000_000_000)

// lacks counts how often a circuit has less time left than a preset states.
func (e *Engine) lacks() int {
	n := 0
	for i := range e.plan.Book.Presets {
		for c := range e.accounts {
			if lends := e.plan.Rig.Circuits[c].Above; lends != nil && lends.For-e.accounts[c].Used < e.plan.Book.Presets[i].Above {
				n++
			}
		}
	}
	return n
}

// aboveDeadlines says when somebody has to be told, when the look has to come down, when a circuit has rested, and when it has too little time left for a preset.
func (e *Engine) aboveDeadlines(at func(Instant)) {
	for c := range e.accounts {
		a, lends := &e.accounts[c], e.plan.Rig.Circuits[c].Above
		if lends != nil && a.above {
			for i := range e.plan.Book.Presets {
				if p := &e.plan.Book.Presets[i]; p.Above > 0 {
					at(e.now + lends.For - a.Used - p.Above + 1)
				}
			}
		}
		switch {
		case lends == nil:
		case !a.above && a.Used > 0:
			at(e.now + lends.Rest - a.Rest)
		case a.above && a.Coming:
			at(e.now + e.latest(c))
			at(e.now + a.until - a.Used)
		case a.above && e.wanted.Above != nil && e.wanted.Above[c]:
			left := e.timeLeft(c)
			at(e.now + left)
			at(e.now + showEvery)
			for _, told := range tellAt {
				at(e.now + left - told)
			}
		}
	}
}
