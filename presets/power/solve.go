package power

import "lookgate/presets/units"

// State is what a solve takes as given.
type State struct {
	// Levels has for each output the highest level that it may stand at. 0 is black and still draws the panels' black watts; what is no number
	// from 0 to 1 counts as 1.
	Levels []units.Level
	// Content has for each output what part of the way from black to full white its picture takes its panels at most; nil for all of it. It is the highest mean
	// over any one circuit's panels, so it holds for each circuit by itself.
	Content []units.Share
	// LockedOff has for each circuit whether its breaker is open and cannot be closed; nil for none. Only such a circuit counts nothing.
	LockedOff []bool
	// Void has for each conductor whether it is left out by Over, Cap and Auto; nil for none.
	Void []bool
}

// stack is how many kinds of load a board or supply may have before a solve allocates.
const stack = 64

func room(own []float64, n int) []float64 {
	if n > len(own) {
		return make([]float64, n)
	}
	return own[:n]
}

// Worst gives the largest current of every conductor over the whole box: each output from its level down to off, each circuit and other load on or off.
// It writes into dst where that has the capacity, and is then free of allocation.
func (m *Model) Worst(s State, dst []units.Amps) []units.Amps { return m.solve(s, dst, m.box) }

// At gives the current of every conductor with every output exactly at its level, every circuit that is not locked off in, and the other loads at their maximum.
// Displacements that are not known stand at their worst. It is never above Worst, and may be well below it.
func (m *Model) At(s State, dst []units.Amps) []units.Amps { return m.solve(s, dst, exactly) }

// sum says which current is meant. It is a value and no function, since slices that go to a function value would leave the stack.
type sum bool

const (
	worst   sum = false // the loads anywhere from nothing to their size
	exactly sum = true  // the loads at their size
)

func (w *wire) current(of sum, x []float64) float64 {
	if of == exactly {
		return w.exactly(x)
	}
	return w.worst(x)
}

func (m *Model) solve(s State, dst []units.Amps, of sum) []units.Amps {
	var own [stack]float64
	dst = grow(dst, len(m.conductors))
	m.solveBank(m.supply(), s, room(own[:], len(m.banks[m.supply()].groups)), dst, of)
	return dst
}

// solveBank writes the currents of a bank and of all that hangs on it, and leaves its loads by their kind in x, which is clear before.
func (m *Model) solveBank(i int, s State, x []float64, dst []units.Amps, of sum) {
	b := &m.banks[i]
	copy(x, b.fixed)
	for _, k := range b.fed {
		m.solveFed(k, s, x, dst, of)
	}
	for _, c := range b.circuits {
		m.solveCircuit(c, s, x, dst, of)
	}
	for k := range b.wires {
		dst[b.at[k]] = units.Amps(b.wires[k].current(of, x))
	}
}

func grow(dst []units.Amps, n int) []units.Amps {
	if cap(dst) < n {
		return make([]units.Amps, n)
	}
	return dst[:n]
}

// solveCircuit writes a circuit's current and adds its loads to the board's.
func (m *Model) solveCircuit(i int, s State, x []float64, dst []units.Amps, of sum) {
	c := &m.circuits[i]
	v := units.Amps(m.circuitSum(i, s, x, of))
	dst[c.wire] = v
	if c.cable >= 0 {
		dst[c.cable] = v
	}
}

// circuitSum gives a circuit's current, and adds its loads to x, which may be nil.
func (m *Model) circuitSum(i int, s State, x []float64, of sum) float64 {
	c := &m.circuits[i]
	if s.LockedOff != nil && s.LockedOff[i] {
		return 0
	}
	var own [few]float64
	y := room(own[:], len(c.loads))
	for k := range c.loads {
		y[k] = m.draw(&c.loads[k], s)
		if x != nil {
			x[c.loads[k].group] += y[k]
		}
	}
	if len(y) == 1 {
		return y[0]
	}
	return c.own.current(of, y)
}

// draw gives a load's amps with every output at its level.
func (m *Model) draw(l *load, s State) float64 {
	v := l.base
	for _, t := range m.terms[l.from:l.to] {
		v += t.slope * s.light(t.output)
	}
	return v
}

// light gives what part of the way from black to full white an output's panels go.
func (s *State) light(output int) float64 {
	level := float64(s.Levels[output])
	if !(level >= 0 && level <= 1) {
		level = 1
	}
	if s.Content == nil {
		return level
	}
	if part := float64(s.Content[output]); part >= 0 && part <= 1 {
		return level * part
	}
	return level
}

// solveFed solves a bank that hangs on another and adds its loads to that one's. The room for them is this function's, since what a loop declares for a call of
// its own function goes to the heap.
func (m *Model) solveFed(i int, s State, up []float64, dst []units.Amps, of sum) {
	var own [stack]float64
	x := room(own[:], len(m.banks[i].groups))
	m.solveBank(i, s, x, dst, of)
	m.banks[i].addTo(up, x)
}

// addTo adds a bank's loads to those of the bank that it hangs on.
func (b *bank) addTo(total, x []float64) {
	for k, at := range b.up {
		total[at] += x[k]
	}
}

// WorstOf gives the worst current of one conductor, the same number as Worst. It looks only at the circuits that the conductor feeds, and does not allocate.
func (m *Model) WorstOf(conductor int, s State) units.Amps {
	c := m.conductors[conductor]
	if c.Circuit >= 0 {
		return units.Amps(m.circuitSum(c.Circuit, s, nil, m.box))
	}
	b := m.bankOf(c)
	var own [stack]float64
	x := room(own[:], len(b.groups))
	m.fill(b, s, x)
	return units.Amps(b.wires[m.wireOf[conductor]].current(m.box, x))
}

// fill adds up a bank's loads by their kind, in x, which is clear before.
func (m *Model) fill(b *bank, s State, x []float64) {
	copy(x, b.fixed)
	for _, k := range b.fed {
		m.fillFed(&m.banks[k], s, x)
	}
	for _, i := range b.circuits {
		if s.LockedOff != nil && s.LockedOff[i] {
			continue
		}
		c := &m.circuits[i]
		for k := range c.loads {
			x[c.loads[k].group] += m.draw(&c.loads[k], s)
		}
	}
}

// fillFed adds up the loads of a bank that hangs on another, into that one's.
func (m *Model) fillFed(b *bank, s State, up []float64) {
	var own [stack]float64
	x := room(own[:], len(b.groups))
	m.fill(b, s, x)
	b.addTo(up, x)
}

// Over gives the conductors whose worst current is above their limit, ascending, without the void ones. At the limit is not over.
func (m *Model) Over(s State) []int {
	var over []int
	for i, w := range m.Worst(s, nil) {
		if !m.within(i, w, s) {
			over = append(over, i)
		}
	}
	return over
}

// within reports whether a conductor carries a current. What is no number is over.
func (m *Model) within(i int, w units.Amps, s State) bool {
	return s.Void != nil && s.Void[i] || w <= m.conductors[i].Limit
}
