// Package power computes what a set of levels draws on every conductor of a rig, at worst, and the highest levels that pass.
//
// It is planning arithmetic, not measurement: panels show full white, draw what their type says, and are constant-power loads at the lowest voltage
// that the rig expects (I = P / (V × pf)). Legs and neutrals are phasor sums. The worst current of a conductor is the largest that any point of a box
// of states makes: each output anywhere from its level down to off, each panel, circuit and other load on or off by itself. The top corner of that box
// is not enough: three legs of 10 A with 30 % third harmonic make 9.0 A in a neutral, and with one of them dark it is 11.7 A.
//
// What is exact and what is only safe: circuits and legs are exact, also where a displacement is unknown and each such load may stand anywhere within
// plus or minus arccos(pf). So are neutrals with known displacements and up to 24 line-to-neutral kinds of load (12 on a split-phase supply whose kinds differ
// in third harmonic), or with unknown ones and up to 6. A neutral beyond that gets a safe bound: the largest fundamental with the largest third harmonic.
package power

import (
	"slices"

	"lookgate/presets/rig"
)

// Model is a rig prepared for fast solving. It is read only: any number of goroutines may use one.
type Model struct {
	rig        *rig.Rig
	conductors []rig.Conductor
	circuits   []circuit
	terms      []term // of all circuits' loads
	boards     []bank
	supply     bank
	ofOutput   [][]int
	box        sum // what Worst looks at: the whole box, but for a planted mistake
}

// TopCorner gives the same model with a mistake: it takes the box's top corner for the worst of it. It is for the trial, which has to find it.
func (m *Model) TopCorner() *Model {
	wrong := *m
	wrong.box = exactly
	return &wrong
}

// New prepares a rig that has no problems. What the rig leaves open counts at its worst: a panel that no output drives stands at full white.
func New(r *rig.Rig) *Model {
	m := &Model{rig: r, conductors: r.Conductors(), boards: make([]bank, len(r.Boards)), ofOutput: make([][]int, len(r.Outputs))}
	m.addCircuits()
	m.addLoads()
	m.addSupply()
	m.addConductors()
	m.addOutputs()
	return m
}

// Rig gives the rig that the model was made from.
func (m *Model) Rig() *rig.Rig { return m.rig }

// Conductors lists the rig's conductors; their indexes are those of every other function here.
func (m *Model) Conductors() []rig.Conductor { return m.conductors }

// OfOutput gives the conductors that the output's panels load, ascending. The slice is the model's own.
func (m *Model) OfOutput(output int) []int { return m.ofOutput[output] }

// bank is what meets on a board, or on the supply: the kinds of load and the conductors that carry their sums.
type bank struct {
	groups   []group   // the kinds of load on it
	fixed    []float64 // amps of the other loads, per group
	circuits []int     // of a board
	up       []int     // of a board: its groups' indexes in the supply's bank
	first    int       // conductor of the first wire
	wires    []wire    // legs, then the neutral
}

// index gives the bank's index of a kind of load, adding it where it is new.
func (b *bank) index(g group) int {
	if i := slices.Index(b.groups, g); i >= 0 {
		return i
	}
	b.groups, b.fixed = append(b.groups, g), append(b.fixed, 0)
	return len(b.groups) - 1
}

// addLoads puts the other loads on their boards.
func (m *Model) addLoads() {
	for _, l := range m.rig.Loads {
		b := &m.boards[l.Board]
		i := b.index(group{connect(l.Legs, m.rig.Supply.System), waveOf(l.Displacement, l.DisplacementKnown, l.PF, l.Third)})
		b.fixed[i] += float64(l.Current)
	}
}

// addSupply joins the boards' kinds of load on the supply.
func (m *Model) addSupply() {
	for i := range m.boards {
		b := &m.boards[i]
		b.up = make([]int, len(b.groups))
		for k, g := range b.groups {
			b.up[k] = m.supply.index(g)
		}
	}
}

// addConductors makes the solver of every leg and neutral, and ties circuits to their conductors.
func (m *Model) addConductors() {
	for i, c := range m.conductors {
		switch c.Kind {
		case rig.CircuitWire:
			m.circuits[c.Circuit].wire = i
		case rig.CableWire:
			m.circuits[c.Circuit].cable = i
		default:
			b := m.bankOf(c)
			if len(b.wires) == 0 {
				b.first = i
			}
			b.wires = append(b.wires, newWire(m.armsOf(c, b.groups)))
		}
	}
}

func (m *Model) bankOf(c rig.Conductor) *bank {
	if c.Board < 0 {
		return &m.supply
	}
	return &m.boards[c.Board]
}

func (m *Model) armsOf(c rig.Conductor, groups []group) []arm {
	if c.Leg >= 0 {
		return legArms(groups, c.Leg, m.rig.Supply.System)
	}
	return neutralArms(groups, m.rig.Supply.System)
}

// addOutputs lists the conductors that each output's panels load.
func (m *Model) addOutputs() {
	fed := m.circuitOfPanels()
	for o, out := range m.rig.Outputs {
		var on []int
		for _, p := range out.Panels {
			if c := fed[p]; c >= 0 && !slices.Contains(on, c) {
				on = append(on, c)
			}
		}
		for i, c := range m.conductors {
			if slices.ContainsFunc(on, func(circuit int) bool { return m.loads(circuit, c) }) {
				m.ofOutput[o] = append(m.ofOutput[o], i)
			}
		}
	}
}

// loads reports whether a circuit's current runs through a conductor.
func (m *Model) loads(circuit int, c rig.Conductor) bool {
	if c.Circuit >= 0 {
		return c.Circuit == circuit
	}
	of := m.rig.Circuits[circuit]
	legs := m.rig.Legs(of)
	switch {
	case c.Board >= 0 && c.Board != of.Board:
		return false
	case c.Leg < 0:
		return len(legs) == 1
	default:
		return slices.Contains(legs, c.Leg)
	}
}

func (m *Model) circuitOfPanels() []int {
	fed := make([]int, len(m.rig.Panels))
	for i := range fed {
		fed[i] = -1
	}
	for i, c := range m.rig.Circuits {
		for _, p := range c.Panels {
			fed[p] = i
		}
	}
	return fed
}
