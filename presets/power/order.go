package power

import (
	"cmp"
	"math"
	"slices"
	"time"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// ClosingGap is the least time from one breaker to the next: time for pulses of some milliseconds to be over and for a person to hear a breaker trip.
// No published figure for walls was found; common practice, no source.
const ClosingGap = 2 * time.Second

// Order is the order in which a plant's breakers are closed, with the pauses that its generator needs.
type Order struct {
	Steps  []Closing
	Window time.Duration // of a generator whose step is known: no more than that step comes within it; 0 where its settling time is not known, or for no generator
	Step   units.Watts   // 0 where it is not known, or for no generator
}

// Closing is one breaker that is closed while others are in.
type Closing struct {
	Circuit  int
	At       time.Duration // after the first
	Load     units.Watts   // that it puts on and that stays
	StepOver bool          // that load alone is more than the generator takes at once
	Surge    Surge
}

// Surge is what the main with the least room sees at a closing.
type Surge struct {
	Conductor int        // the leg of a board or of the supply; -1 where no panel's peak is known
	Before    units.Amps // crest of what flows already
	Peak      units.Amps // crest with the pulse
	Holds     units.Amps // low end of the main's band
}

// Over reports whether the main may trip.
func (s Surge) Over() bool { return s.Conductor >= 0 && s.Peak > s.Holds }

// Order gives an order for closing all circuits that are not locked off while outputs stand at their levels in s, which is black for an order that serves. Every other
// load is on already, at its connected maximum.
//
// What is on already adds to each pulse, so circuits whose pulse is large against what they draw afterwards come first: on one conductor no order does better,
// since of two neighbours the second then adds the least to the first's draw. Those alike go board by board, the legs of the supply as even as they can be.
// Only where a main may trip that way is the whole plant taken in one order, over all boards. A main's own curve is not known to a rig, so the lowest band counts
// that there is, 3 to 5 times the rating.
func (m *Model) Order(s State) Order {
	by := m.order(s, true)
	if slices.ContainsFunc(by.Steps, func(c Closing) bool { return c.Surge.Over() }) {
		if all := m.order(s, false); all.overs() < by.overs() {
			return all
		}
	}
	return by
}

// overs counts the steps at which a main may trip.
func (o Order) overs() int {
	n := 0
	for _, c := range o.Steps {
		if c.Surge.Over() {
			n++
		}
	}
	return n
}

func (m *Model) order(s State, boards bool) Order {
	c := m.closer(s)
	var o Order
	if g := m.rig.Supply; g.Origin == rig.Generator && g.Capacity.Step > 0 {
		o.Step, o.Window = g.Capacity.Step, g.Capacity.Settle
	}
	for _, circuit := range c.sequence(boards) {
		step := c.close(circuit, s)
		o.append(step)
	}
	return o
}

// append puts a step at the earliest time that the gap and the generator allow.
func (o *Order) append(step Closing) {
	n := len(o.Steps)
	if n > 0 {
		step.At = o.Steps[n-1].At + ClosingGap
	}
	step.StepOver = o.Step > 0 && step.Load > o.Step
	if step.StepOver && n > 0 { // what it does to the generator is bad enough by itself
		step.At = max(step.At, o.Steps[n-1].At+o.Window)
	}
	for o.Step > 0 && !step.StepOver {
		sum, first := step.Load, step.At
		for _, c := range slices.Backward(o.Steps) {
			if c.At+o.Window > step.At {
				sum, first = sum+c.Load, c.At
			}
		}
		if sum <= o.Step {
			break
		}
		step.At = first + o.Window
	}
	o.Steps = append(o.Steps, step)
}

// Return gives what one circuit's return does while all others are in and outputs stand at their levels in s. What flows already counts at no more than a
// conductor's limit, since nothing may be on the wall that carries it further.
func (m *Model) Return(circuit int, s State) Closing {
	c := m.closer(s)
	for i := range c.open {
		c.open[i] = s.LockedOff != nil && s.LockedOff[i]
	}
	c.open[circuit], c.limited = true, true
	step := c.close(circuit, s)
	g := m.rig.Supply
	step.StepOver = g.Origin == rig.Generator && g.Capacity.Step > 0 && step.Load > g.Capacity.Step
	return step
}

// closer knows which breakers are still open.
type closer struct {
	m       *Model
	open    []bool
	limited bool // what flows already is at most the limit
	out     []bool
	even    *balancer
	pulse   []units.Amps // per circuit, crest; negative where it is not known
	drawn   []units.Amps // per circuit, afterwards
	load    []units.Watts
}

func (m *Model) closer(s State) *closer {
	n := len(m.rig.Circuits)
	c := &closer{m: m, open: make([]bool, n), out: make([]bool, n), even: m.balancer(s), pulse: make([]units.Amps, n), drawn: make([]units.Amps, n), load: make([]units.Watts, n)}
	at, outputs := m.At(s, nil), m.outputOfPanels()
	for i, of := range m.rig.Circuits {
		c.open[i], c.out[i] = true, s.LockedOff != nil && s.LockedOff[i]
		c.drawn[i] = at[m.circuits[i].wire]
		c.load[i] = m.realOf(i, s, outputs, c.drawn[i])
		for _, p := range of.Panels {
			peak := m.rig.PanelTypes[m.rig.Panels[p].Type].Inrush.Peak
			if peak <= 0 || c.pulse[i] < 0 {
				c.pulse[i] = -1
				continue
			}
			c.pulse[i] += peak
		}
	}
	return c
}

// sequence puts the circuits into their order.
func (c *closer) sequence(boards bool) []int {
	var left, order []int
	for i := range c.out {
		if !c.out[i] {
			left = append(left, i)
		}
	}
	slices.SortStableFunc(left, func(a, b int) int {
		x, y := c.m.rig.Circuits[a].Board, c.m.rig.Circuits[b].Board
		if boards && x != y {
			return cmp.Compare(x, y)
		}
		return cmp.Or(cmp.Compare(c.lead(b), c.lead(a)), cmp.Compare(x, y))
	})
	var sum legSums
	for len(left) > 0 {
		k := c.evenest(left, &sum)
		order = append(order, left[k])
		left = slices.Delete(left, k, k+1)
	}
	return order
}

// lead gives how much larger a circuit's pulse is than the crest of what it draws afterwards.
func (c *closer) lead(circuit int) float64 {
	return math.Round(1e6*(float64(c.pulse[circuit])-math.Sqrt2*float64(c.drawn[circuit]))) / 1e6
}

// evenest gives the place of the next circuit: of those at the head that are alike, the one after which the legs of the supply carry the least at most.
func (c *closer) evenest(left []int, sum *legSums) int {
	best, least := 0, math.Inf(1)
	for k, i := range left {
		if c.m.rig.Circuits[i].Board != c.m.rig.Circuits[left[0]].Board || c.lead(i) != c.lead(left[0]) {
			break
		}
		with := *sum
		c.even.add(&with, c.even.places[i], c.even.drawn[i])
		legs, _ := c.even.figure(with)
		if most := float64(slices.Max(legs)); most < least-1e-9 {
			best, least = k, most
		}
	}
	c.even.add(sum, c.even.places[left[best]], c.even.drawn[left[best]])
	return best
}

// close closes one circuit after those that are in.
func (c *closer) close(circuit int, s State) Closing {
	before := c.m.At(State{Levels: s.Levels, LockedOff: c.open}, nil)
	c.open[circuit] = false
	step := Closing{Circuit: circuit, Load: c.load[circuit], Surge: Surge{Conductor: -1}}
	if c.pulse[circuit] < 0 {
		return step
	}
	for _, i := range c.m.pathOf(circuit) {
		main := c.mainOf(c.m.conductors[i])
		if main == 0 {
			continue
		}
		if c.limited {
			before[i] = min(before[i], c.m.conductors[i].Limit)
		}
		crest := units.Amps(math.Sqrt2 * float64(before[i]))
		low, _ := Instantaneous(rig.CurveB, main)
		if at := (Surge{i, crest, crest + c.pulse[circuit], low}); step.Surge.Conductor < 0 || at.tighter(step.Surge) {
			step.Surge = at
		}
	}
	return step
}

func (s Surge) tighter(than Surge) bool { return s.Peak/s.Holds > than.Peak/than.Holds }

// mainOf gives the rating of the main that a leg runs through, 0 for what is no leg of a board or supply.
func (c *closer) mainOf(of rig.Conductor) units.Amps {
	switch of.Kind {
	case rig.BoardLeg:
		return c.m.rig.Boards[of.Board].Main
	case rig.SupplyLeg:
		return c.m.rig.Supply.Main
	}
	return 0
}
