package power

import (
	"math"
	"math/cmplx"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// meet finds the boards' voltages. A circuit as a whole is nearly a load of constant power, so the boards settle with the circuits taken as such, and then the
// chains are solved again at what came out, until nothing moves.
func (m *Model) meet(s State, f *Flow) {
	before := math.Inf(1)
	for range most {
		moved, ok := m.settleBoards(f)
		if !ok {
			break
		}
		// Each time takes them about the same part nearer, so this is where the next would get them.
		if done := m.chains(s, f, true); done && (moved < fine || moved < 100*fine && moved*moved < fine*before) {
			return
		}
		before = moved
	}
	m.fall(s, f)
}

// settleBoards lets the boards' voltages settle, with every circuit as a load of the power that it drew when its chain was solved. It gives how far
// they moved, and whether they settled at all.
func (m *Model) settleBoards(f *Flow) (moved float64, ok bool) {
	floor := working * m.legVolts()
	m.powers(f)
	for round := range most {
		m.gather(f)
		change := m.losses(f)
		if round == 0 {
			moved = change
		}
		for i := range f.banks {
			for leg := range m.rig.Supply.System.Legs() {
				if !(square(f.banks[i].volts[leg]-f.banks[i].neutral) > floor*floor) {
					return moved, false
				}
			}
		}
		if change < fine/4 {
			return moved, true
		}
	}
	return moved, false
}

// powers sums up what the circuits of every board drew when their chains were solved, by where they stand.
func (m *Model) powers(f *Flow) {
	for i := range f.banks {
		f.banks[i].power = [2][3]complex128{}
	}
	for i := range m.circuits {
		if c := &m.circuits[i]; !f.fallen[i] {
			f.banks[c.bank].power[c.legs-1][c.first] += f.sent[i] * cmplx.Conj(f.current[i]) * complex(1+f.ahead[i], 0)
		}
	}
}

// gather sums up the currents of every bank, from the outermost boards in. The same power at another voltage draws the conjugate of power over voltage.
func (m *Model) gather(f *Flow) {
	legs := m.rig.Supply.System.Legs()
	for i := range f.banks {
		f.banks[i].amps, f.banks[i].neutralAmps = [3]complex128{}, 0
	}
	for i := m.supply() - 1; i >= 0; i-- {
		b, fb := &m.banks[i], &f.banks[i]
		for kind := range fb.power {
			for first, s := range fb.power[kind] {
				if c := (connection{kind + 1, first}); s != 0 {
					fb.add(c, cmplx.Conj(over(s, fb.across(c, legs))), legs)
				}
			}
		}
		for _, l := range b.loads {
			m.addLoad(fb, &m.rig.Loads[l])
		}
		up := &f.banks[b.from]
		for leg := range up.amps {
			up.amps[leg] += fb.amps[leg]
		}
		up.neutralAmps += fb.neutralAmps
	}
}

// add puts a circuit's current on its legs: a load between two comes back on the other one.
func (b *bankFlow) add(c connection, current complex128, legs int) {
	b.amps[c.first] += current
	if c.legs == 2 {
		b.amps[(c.first+1)%legs] -= current
		return
	}
	b.neutralAmps += current
}

// addLoad puts another load on its bank, at its current, lagging the voltage that it stands at.
func (m *Model) addLoad(b *bankFlow, l *rig.OtherLoad) {
	lag := 0.0
	if l.DisplacementKnown {
		lag = float64(l.Displacement)
	}
	re, im := unit(-lag)
	size := complex(float64(l.Current), 0) * complex(re, im)
	legs := m.rig.Supply.System.Legs()
	c := connect(l.Legs, m.rig.Supply.System)
	if c.legs < 3 {
		v := b.across(c, legs)
		b.add(c, size*v/complex(cmplx.Abs(v), 0), legs)
		return
	}
	for leg := range legs {
		v := b.volts[leg]
		b.amps[leg] += size * v / complex(cmplx.Abs(v), 0)
	}
}

// losses sets the boards' voltages to what the currents in their feeders leave, and gives the largest change.
func (m *Model) losses(f *Flow) float64 {
	change := 0.0
	for i := range m.rig.Boards {
		b, fb := &m.banks[i], &f.banks[i]
		up, z := &f.banks[b.from], complex(b.feeder.r, b.feeder.x)
		for leg := range m.rig.Supply.System.Legs() {
			v := up.volts[leg] - z*fb.amps[leg]
			change = max(change, length(v-fb.volts[leg]))
			fb.volts[leg] = v
		}
		n := up.neutral
		if m.rig.Supply.System.HasNeutral() {
			n += z * fb.neutralAmps
		}
		change = max(change, length(n-fb.neutral))
		fb.neutral = n
	}
	return change
}

// fall marks every circuit as without a working point: the boards have none.
func (m *Model) fall(s State, f *Flow) {
	for i := range m.circuits {
		f.fallen[i] = s.LockedOff == nil || !s.LockedOff[i]
	}
}

// report writes what was found.
func (m *Model) report(f *Flow) {
	m.powers(f)
	m.gather(f)
	for i := range f.banks {
		clear(f.banks[i].x)
		for k, v := range m.banks[i].fixed {
			f.banks[i].x[k] = v
		}
	}
	for i := range m.circuits {
		m.reportCircuit(i, f)
	}
	for i := m.supply() - 1; i >= 0; i-- {
		m.reportBank(i, f)
		m.banks[i].addTo(f.banks[m.banks[i].from].x, f.banks[i].x)
	}
	m.reportBank(m.supply(), f)
	for i, fell := range f.fallen {
		if fell {
			f.Collapsed = append(f.Collapsed, i)
			for _, c := range m.pathOf(i) {
				f.Amps[c] = units.Amps(math.Inf(1))
			}
		}
	}
}

// reportCircuit writes a circuit's current and its panels'.
func (m *Model) reportCircuit(i int, f *Flow) {
	c := &m.circuits[i]
	f.Amps[c.wire] = units.Amps(cmplx.Abs(f.current[i]))
	if c.cable >= 0 {
		f.Amps[c.cable] = f.Amps[c.wire]
	}
	if !f.fallen[i] {
		m.reportChain(i, f)
		return
	}
	for k := c.from; k < c.to; k++ {
		f.Panel[m.chain[k].panel] = PanelFlow{In: units.Amps(math.Inf(1))}
	}
}

// reportBank writes the currents of a bank's legs, neutral and feeder, once those of what hangs on it are known.
func (m *Model) reportBank(i int, f *Flow) {
	b, fb := &m.banks[i], &f.banks[i]
	for k, c := range b.at {
		at := m.conductors[c]
		if at.Leg >= 0 {
			f.Amps[c] = units.Amps(cmplx.Abs(fb.amps[at.Leg]))
			continue
		}
		f.Amps[c] = units.Amps(rss(cmplx.Abs(fb.neutralAmps), b.wires[k].thirdOf(fb.x)))
	}
}
