package power

import (
	"slices"

	"lookgate/presets/rig"
)

// circuit is a breaker with what hangs on it, summed up by kind of load: a solve costs outputs and circuits, not panels.
type circuit struct {
	loads []load
	own   wire // sum of the loads by their index; only read where there are several
	wire  int  // conductor of the breaker
	cable int  // conductor of the home run, -1 where it is none of its own
}

// load is the part of a circuit's current that is of one kind: base at black, and for each output a slope.
type load struct {
	group    int // in the board's bank
	base     float64
	from, to int // into the model's terms
}

// term is what one output adds to a load, in amps from black to full white.
type term struct {
	output int
	slope  float64
}

// addCircuits sums up the panels of every circuit.
func (m *Model) addCircuits() {
	outputs := m.outputOfPanels()
	m.circuits = make([]circuit, len(m.rig.Circuits))
	for i, c := range m.rig.Circuits {
		b := &m.boards[c.Board]
		b.circuits = append(b.circuits, i)
		m.circuits[i] = m.sum(c, b, outputs)
	}
}

// sum makes a circuit's loads from its panels. All of them see the voltage of the circuit's poles.
func (m *Model) sum(c rig.Circuit, b *bank, outputs []int) circuit {
	legs := m.rig.Legs(c)
	volts := float64(m.rig.Supply.Volts(len(legs)))
	var of circuit
	var parts [][]term
	for _, p := range c.Panels {
		t := m.rig.PanelTypes[m.rig.Panels[p].Type]
		i := of.load(b.index(group{connect(legs, m.rig.Supply.System), waveOf(t.Displacement, t.DisplacementKnown, t.PF, t.Third)}))
		if i == len(parts) {
			parts = append(parts, nil)
		}
		black, white := float64(t.Black)/(volts*float64(t.PF)), float64(t.White)/(volts*float64(t.PF))
		if outputs[p] < 0 {
			of.loads[i].base += white
			continue
		}
		of.loads[i].base += black
		parts[i] = addTerm(parts[i], term{outputs[p], white - black})
	}
	return m.close(of, b, parts)
}

// close stores the terms and makes the sum of the circuit's own kinds of load.
func (m *Model) close(of circuit, b *bank, parts [][]term) circuit {
	var arms []arm
	for i := range of.loads {
		of.loads[i].from = len(m.terms)
		m.terms = append(m.terms, parts[i]...)
		of.loads[i].to = len(m.terms)
		w := b.groups[of.loads[i].group].wave
		arms = append(arms, arm{group: i, angle: -w.lag, spread: w.spread})
	}
	of.own, of.cable = newWire(arms), -1
	return of
}

// load gives the index of the circuit's load of that kind, adding it where it is new.
func (c *circuit) load(group int) int {
	if i := slices.IndexFunc(c.loads, func(l load) bool { return l.group == group }); i >= 0 {
		return i
	}
	c.loads = append(c.loads, load{group: group})
	return len(c.loads) - 1
}

// addTerm adds a panel to its output's term. Neighbours in a chain mostly share an output, so the last term is looked at first.
func addTerm(ts []term, t term) []term {
	for i := len(ts) - 1; i >= 0; i-- {
		if ts[i].output == t.output {
			ts[i].slope += t.slope
			return ts
		}
	}
	return append(ts, t)
}

// outputOfPanels gives each panel's output, -1 where it has none.
func (m *Model) outputOfPanels() []int {
	of := make([]int, len(m.rig.Panels))
	for i := range of {
		of[i] = -1
	}
	for o, out := range m.rig.Outputs {
		for _, p := range out.Panels {
			of[p] = o
		}
	}
	return of
}
