package power

import (
	"slices"

	"lookgate/presets/rig"
)

// circuit is a breaker with what hangs on it, summed up by kind of load: a solve costs outputs and circuits, not panels.
type circuit struct {
	connection
	bank                 int
	loads                []load
	own                  wire       // sum of the loads by their index; only read where there are several
	wire                 int        // conductor of the breaker
	cable                int        // conductor of the home run, -1 where it is none of its own
	from, to             int        // into the model's chain
	home, jump           impedance  // of the loops from the board to the first panel, and from each to the next
	alike                bool       // all of its panels are of one kind of load
	lag                  complex128 // what its currents are kept without where they are alike, else 1
	homeLoses, jumpLoses complex128 // what an amp so kept loses in the home run's loop, and from panel to panel
	even                 bool       // and of one type and one output, so that all draw the same
	white                float64    // volt-amperes of all of it at full white
	whole                float64    // ohms from the board to the last panel
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

// link is one panel in its chain.
type link struct {
	panel, output int32 // output -1: none, at full white
	kind          int32
	load, term    int32 // where its amps are summed up: a load of its circuit, a term of the model
}

// kind is what a panel type draws.
type kind struct {
	black, white float64 // volt-amperes
	wave         wave
	cos, sin     float64 // of the lag; 1 and 0 where it is not known
}

func (m *Model) addKinds() {
	for _, t := range m.rig.PanelTypes {
		k := kind{black: float64(t.Black) / float64(t.PF), white: float64(t.White) / float64(t.PF)}
		k.wave = waveOf(t.Displacement, t.DisplacementKnown, t.PF, t.Third)
		k.cos, k.sin = unit(k.wave.lag)
		m.kinds = append(m.kinds, k)
	}
}

// addCircuits lays the panels of every circuit out in their chains, and gives them their loads and terms. The amps come later, with the voltages.
func (m *Model) addCircuits() {
	outputs := m.outputOfPanels()
	m.circuits = make([]circuit, len(m.rig.Circuits))
	for i, c := range m.rig.Circuits {
		b := &m.banks[c.Board]
		b.circuits = append(b.circuits, i)
		m.circuits[i] = m.lay(c, b, outputs)
	}
}

// lay makes a circuit's chain, loads and terms.
func (m *Model) lay(c rig.Circuit, b *bank, outputs []int) circuit {
	of := circuit{connection: connect(m.rig.Legs(c), m.rig.Supply.System), bank: c.Board, from: len(m.chain), cable: -1}
	of.home, of.jump = loop(m.rig.Impedance(c.Home)), loop(m.rig.Impedance(c.Link))
	m.drops = m.drops || !of.home.none() || !of.jump.none()
	var parts [][]int // by load, the outputs of its terms
	for _, p := range c.Panels {
		k := m.rig.Panels[p].Type
		i := of.load(b.index(group{of.connection, m.kinds[k].wave}))
		if i == len(parts) {
			parts = append(parts, nil)
		}
		l := link{panel: int32(p), output: int32(outputs[p]), kind: int32(k), load: int32(i), term: -1}
		if outputs[p] >= 0 {
			if l.term = int32(last(parts[i], outputs[p])); l.term < 0 {
				l.term = int32(len(parts[i]))
				parts[i] = append(parts[i], outputs[p])
			}
		}
		m.chain, m.panelAt = append(m.chain, l), append(m.panelAt, int32(p))
	}
	of.to = len(m.chain)
	of.whole = of.home.size() + float64(len(c.Panels)-1)*of.jump.size()
	return m.close(of, b, parts)
}

// last gives the last place of an output in a list, -1 where it is not in it. Neighbours in a chain mostly share an output.
func last(list []int, output int) int {
	for i := len(list) - 1; i >= 0; i-- {
		if list[i] == output {
			return i
		}
	}
	return -1
}

// close stores the terms and makes the sum of the circuit's own kinds of load.
func (m *Model) close(of circuit, b *bank, parts [][]int) circuit {
	var arms []arm
	for i := range of.loads {
		of.loads[i].from = len(m.terms)
		for _, o := range parts[i] {
			m.terms = append(m.terms, term{output: o})
		}
		of.loads[i].to = len(m.terms)
		w := b.groups[of.loads[i].group].wave
		arms = append(arms, arm{group: i, angle: -w.lag, spread: w.spread})
	}
	for k := of.from; k < of.to; k++ {
		if l := &m.chain[k]; l.term >= 0 {
			l.term += int32(of.loads[l.load].from)
		}
	}
	of.own, of.alike, of.even, of.lag = newWire(arms), len(of.loads) == 1, of.from < of.to, 1
	if of.alike {
		k := &m.kinds[m.chain[of.from].kind]
		of.lag = complex(k.cos, -k.sin)
	}
	of.homeLoses, of.jumpLoses = complex(of.home.r, of.home.x)*of.lag, complex(of.jump.r, of.jump.x)*of.lag
	for _, l := range m.chain[of.from:of.to] {
		of.even = of.even && l.output >= 0 && l.output == m.chain[of.from].output && l.kind == m.chain[of.from].kind
	}
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
