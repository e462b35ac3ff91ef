package engine

import (
	"fmt"
	"slices"

	"lookgate/presets"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// account counts one circuit's time above its continuous limit, over all looks. It counts by what may be on the wall, so the true time is never more.
type account struct {
	Account
	above bool    // it may be above since the count was last brought to the moment
	until Instant // what may be used until what comes down has come down: above it, that is an alarm
	due   bool    // it was coming down when an incarnation before this one ended: it has to go on
}

// pass brings an account so much further. A rest of the full length without a break clears it.
func (a *account) pass(d, rest Instant) {
	if a.above {
		a.Used, a.Rest = a.Used+d, 0
		return
	}
	if a.Rest += d; a.Rest >= rest {
		a.Used, a.Begun, a.Rest = 0, 0, rest
	}
}

// adoptLimits sizes what follows the plan's circuits. Of time above a continuous limit nothing is known, so all of it counts as used until the circuit has rested.
func (e *Engine) adoptLimits() {
	circuits := e.plan.Rig.Circuits
	e.accounts, e.wires, e.settles = make([]account, len(circuits)), make([]int, len(circuits)), make([]Instant, len(circuits))
	e.limits, e.ratings = make([]units.Amps, len(e.conductors)), make([]units.Amps, len(e.conductors))
	for i, c := range e.conductors {
		e.ratings[i] = e.plan.Rating(i)
		if c.Kind == rig.CircuitWire {
			e.wires[c.Circuit] = i
		}
	}
	for c := range circuits {
		e.accounts[c].above = true
		if lends := circuits[c].Above; lends != nil {
			e.accounts[c].Used = lends.For
		}
	}
	for o := range e.outs {
		for _, i := range e.plan.Power.OfOutput(o) {
			if c := e.conductors[i]; c.Kind == rig.CircuitWire {
				e.settles[c.Circuit] = max(e.settles[c.Circuit], settles(e.deviceOf(o)))
			}
		}
	}
	e.setLimits()
}

// againFor is how often a packet to a device that can tell may be lost while a look is brought down in time: one in ten lost makes that one in a million.
const againFor = 6

// settles gives how long a device needs, at most, until it is certain that it holds something lower: everything brighter that is under way has to die, the lower level be
// told and told again, and a report come back.
func settles(d *rig.Device) Instant {
	again := againFor
	if d.Class == rig.Silent {
		again += d.Repeats
	}
	return 2*(2*d.PacketLife+d.Settling) + Instant(again)*d.Retry
}

// setLimits sets what every conductor may be raised to now.
func (e *Engine) setLimits() {
	for c, l := range e.limitsUnder(e.wanted.Above) {
		if l != e.limits[c] {
			e.limits[c], e.bounds.staleStops[c] = l, true
		}
	}
}

// limitsUnder gives the limits of all conductors while those circuits may be above their continuous ones.
func (e *Engine) limitsUnder(above []bool) []units.Amps {
	limits := make([]units.Amps, len(e.conductors))
	for i, c := range e.conductors {
		limits[i] = c.Limit
		if c.Kind == rig.CircuitWire && (above != nil && above[c.Circuit] || e.has(LimitStays) && e.limits[i] > c.Limit) {
			limits[i] = e.ratings[i]
		}
	}
	return limits
}

// bears gives what a conductor may carry without that being an alarm: a look that was above a continuous limit may take its time to come down.
func (e *Engine) bears(i int) units.Amps {
	c := e.conductors[i]
	if c.Kind != rig.CircuitWire || !e.accounts[c.Circuit].Coming || e.accounts[c.Circuit].Used >= e.accounts[c.Circuit].until {
		return e.limits[i]
	}
	return e.ratings[i]
}

// comes notes that a circuit is above its continuous limit only until what comes down has done so.
func (e *Engine) comes(c int, fade Instant) {
	a := &e.accounts[c]
	a.Coming, a.until = true, min(a.Used+fade+e.settles[c], e.plan.Rig.Circuits[c].Above.For)
}

// by says what sets a conductor's limit.
func (e *Engine) by(i int, limit units.Amps) string {
	if limit > e.conductors[i].Limit {
		return fmt.Sprintf("breaker %v, for a while", limit)
	}
	return e.conductors[i].By
}

// lent marks the circuits of a list; nil for none.
func (e *Engine) lent(circuits []int) []bool {
	if len(circuits) == 0 {
		return nil
	}
	above := make([]bool, len(e.accounts))
	for _, c := range circuits {
		above[c] = true
	}
	return above
}

// lentAgain marks the circuits of those names that may still be above, as far as the rig allows it; nil for none.
func (e *Engine) lentAgain(above []bool, names []string) []bool {
	var circuits []int
	for i, name := range names {
		if c := slices.Index(e.circuitNames, name); i < len(above) && above[i] && c >= 0 && e.plan.Rig.Circuits[c].Above != nil {
			circuits = append(circuits, c)
		}
	}
	return e.lent(circuits)
}

// lend begins what a look that was recalled may use of its circuits' time. What the look before it used stays counted.
func (e *Engine) lend() {
	for c := range e.accounts {
		a := &e.accounts[c]
		if e.limits[e.wires[c]] > e.conductors[e.wires[c]].Limit {
			e.comes(c, e.fadeDown())
		}
		a.Begun = a.Used
		if e.has(CountsEachLook) {
			a.Used, a.Begun = 0, 0
		}
	}
	e.setLimits()
	e.clear(aboveKey)
	e.told = never
	if e.wanted.Above != nil {
		e.note(fmt.Sprintf("is above the continuous limit on %s for at most %s, and is brought down then", e.lentNames(), units.Spoken(e.wanted.For)))
	}
}

// count brings every account to the moment.
func (e *Engine) count() {
	d := e.now - e.counted
	e.counted = e.now
	if d <= 0 {
		return
	}
	for c := range e.accounts {
		if lends := e.plan.Rig.Circuits[c].Above; lends != nil {
			rest := lends.Rest
			if e.has(RestsAtOnce) {
				rest = 0
			}
			e.accounts[c].pass(d, rest)
		}
	}
}

// countOn says for every circuit whether it counts as above from now on. What changes is kept soon, so that a start knows it.
func (e *Engine) countOn() {
	e.bound()
	for c := range e.accounts {
		if e.plan.Rig.Circuits[c].Above == nil {
			continue
		}
		a, wire := &e.accounts[c], e.wires[c]
		above := !within(e.amps(wire), e.conductors[wire].Limit)
		if e.has(CountsTheWanted) {
			above = e.wantedAbove(wire)
		}
		if a.above != above {
			a.above = above
			e.keepSoon()
		}
		a.Coming = a.Coming && above
		a.due = a.due && a.Coming
	}
}

// wantedAbove is how CountsTheWanted counts.
func (e *Engine) wantedAbove(wire int) bool {
	goals := make([]units.Level, len(e.outs))
	for o := range goals {
		if !e.outs[o].dark {
			goals[o] = e.outs[o].goal
		}
	}
	return !within(e.worst(wire, goals, goals), e.conductors[wire].Limit)
}

// allowances gives what every circuit has left, for a check.
func (e *Engine) allowances() []presets.Allowance {
	all := make([]presets.Allowance, len(e.accounts))
	for c := range all {
		all[c] = e.allowance(c)
	}
	return all
}

func (e *Engine) allowance(c int) presets.Allowance {
	a, lends := &e.accounts[c], e.plan.Rig.Circuits[c].Above
	switch {
	case lends == nil:
		return presets.Allowance{}
	case a.Used == 0:
		return presets.Allowance{Left: lends.For}
	}
	return presets.Allowance{Left: max(0, lends.For-a.Used), Rested: lends.Rest - a.Rest}
}

// keepAccounts writes down what has been used. Where the commit recalls a look, its time begins with it.
func (e *Engine) keepAccounts(k *Kept) {
	k.At, k.Accounts = e.now, make([]Account, len(e.accounts))
	for c := range e.accounts {
		k.Accounts[c] = e.accounts[c].Account
		if e.gate.newest() >= 0 {
			k.Accounts[c].Begun = k.Accounts[c].Used
		}
	}
}

// goneSlack is what the time since something was kept may be wrong by.
const goneSlack = Instant(1_000_000_000)

// believeAccounts takes over what was used. The time since it was kept counts as above wherever anything that the disk permitted may have been, and as rest elsewhere;
// where nobody knows how long that was, all of a circuit's time counts as used.
func (e *Engine) believeAccounts(kept *Kept) {
	levels := e.envelope(kept)
	for c := range e.accounts {
		lends, i := e.plan.Rig.Circuits[c].Above, slices.Index(kept.Names, e.circuitNames[c])
		if lends == nil || i < 0 || i >= len(kept.Accounts) {
			continue
		}
		a, wire := &e.accounts[c], e.wires[c]
		a.Coming, a.due = kept.Accounts[i].Coming, kept.Accounts[i].Coming
		if kept.Gone <= 0 {
			continue
		}
		a.Account = kept.Accounts[i]
		a.above = !within(e.worst(wire, levels, levels), e.conductors[wire].Limit)
		d := kept.Gone + goneSlack
		if !a.above {
			d = max(0, kept.Gone-goneSlack)
		}
		if !e.has(ForgetsTime) {
			a.pass(d, lends.Rest)
		}
		a.above = true // until the devices tell
	}
	if e.has(ForgetsTime) {
		for c := range e.accounts {
			e.accounts[c].Account = Account{}
		}
	}
}

// envelope gives the highest level that every output may have been set to since it was kept, restarts counted.
func (e *Engine) envelope(kept *Kept) []units.Level {
	levels := make([]units.Level, len(e.outs))
	for o := range levels {
		levels[o] = 1
		if i := slices.Index(kept.Outputs, e.name(o)); i >= 0 && i < len(kept.Envelope) {
			levels[o] = max(kept.Envelope[i], e.deviceOf(o).Restart)
		}
	}
	return levels
}

// moveAccounts takes over the accounts of an engine before a reload, by the circuits' names.
func (e *Engine) moveAccounts(before *Engine) {
	for c := range e.accounts {
		if i := slices.Index(before.circuitNames, e.circuitNames[c]); i >= 0 && before.plan.Rig.Circuits[i].Above != nil && e.plan.Rig.Circuits[c].Above != nil {
			e.accounts[c] = before.accounts[i]
		}
	}
}
