package engine

import (
	"slices"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// tolerance is what floating-point sums may be off by; it is no room for load.
const tolerance = 1e-9

// highs gives, to change, the highest load of every output under everything that may be, as the level at which full white would draw it, with restart levels and without. A conductor on which the promise is
// void, because restart levels alone are over its limit, is judged without.
func (e *Engine) highs() (with, without []units.Level) {
	e.bound()
	copy(e.with, e.bounds.with)
	copy(e.without, e.bounds.without)
	return e.with, e.without
}

// bounds is how high every output may load the plant, and what that makes on every conductor. It lives from step to step, so that a conductor is only computed again once an
// output on it, or a circuit's state, has changed.
type bounds struct {
	with, without []units.Level // per output, with restart levels and without
	amps          []units.Amps  // per conductor
	stale         []bool        // per conductor: amps is of before
	stops         []units.Stops // per conductor: the light by which its outputs can rise
	staleStops    []bool        // per conductor: stops is of before
}

// newBounds has everything to be computed.
func newBounds(outputs, conductors int) bounds {
	b := bounds{with: make([]units.Level, outputs), without: make([]units.Level, outputs), amps: make([]units.Amps, conductors), stale: make([]bool, conductors),
		stops: make([]units.Stops, conductors), staleStops: make([]bool, conductors)}
	b.forget()
	return b
}

// forget has everything computed again.
func (b *bounds) forget() {
	for c := range b.stale {
		b.stale[c], b.staleStops[c] = true, true
	}
}

// bound brings the outputs' bounds to the moment, and marks the conductors of those that changed. Whoever asks for a current of the moment calls it first.
func (e *Engine) bound() {
	b := &e.bounds
	for i := range e.outs {
		d := e.deviceOf(i)
		without := e.outs[i].light(d, false) * e.content(i)
		with := max(without, d.Restart)
		if with == b.with[i] && without == b.without[i] {
			continue
		}
		b.with[i], b.without[i] = with, without
		for _, c := range e.plan.Power.OfOutput(i) {
			b.stale[c], b.staleStops[c] = true, true
		}
	}
}

// amps gives the worst current of a conductor under the bounds.
func (e *Engine) amps(c int) units.Amps {
	b := &e.bounds
	if b.stale[c] {
		b.amps[c], b.stale[c] = e.worst(c, b.with, b.without), false
	}
	return b.amps[c]
}

// worst gives the worst current of a conductor with those highest levels.
func (e *Engine) worst(c int, with, without []units.Level) units.Amps {
	levels := with
	if e.plan.Void[c] {
		levels = without
	}
	return e.plan.Power.WorstOf(c, power.State{Levels: levels, LockedOff: e.locked})
}

// fits reports whether the conductor stays within its limit of the moment.
func (e *Engine) fits(c int, w units.Amps) bool { return within(w, e.limits[c]) }

func within(w, limit units.Amps) bool { return float64(w) <= float64(limit)*(1+tolerance) }

// admissible reports whether output o may be made to stand as high as v: the send rule. Where a conductor of o is over already it is not, since a bound on
// what is unknown is no permission. What raises nothing may go as long as no conductor may carry more than its rating: a look that comes down from above a continuous limit
// is above it until it is down.
func (e *Engine) admissible(o int, v units.Level) bool {
	e.bound()
	b := &e.bounds
	v *= e.content(o)
	if e.before == nil && v <= b.with[o] && v <= b.without[o] {
		return !slices.ContainsFunc(e.plan.Power.OfOutput(o), func(c int) bool { return !within(e.amps(c), e.ratings[c]) })
	}
	with, without := e.highs()
	if e.before != nil {
		copy(with, e.before)
	}
	with[o], without[o] = max(with[o], v), max(without[o], v)
	for _, c := range e.plan.Power.OfOutput(o) {
		if !e.fits(c, e.worst(c, with, without)) {
			return false
		}
	}
	return true
}

// boxOver lists the conductors that the whole box of a look's caps would carry over, restart levels counted.
func (e *Engine) boxOver(w *Wanted) []int {
	limits := e.limitsUnder(w.Above)
	with, without := e.loads(w)
	var cs []int
	for c := range e.conductors {
		if !within(e.worst(c, with, without), limits[c]) {
			cs = append(cs, c)
		}
	}
	return cs
}

func (e *Engine) deviceOf(o int) *rig.Device {
	return &e.plan.Rig.Devices[e.plan.Rig.Outputs[o].Device]
}
