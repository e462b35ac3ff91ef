// Package power computes what a set of levels draws on every conductor of a rig, at worst, and the highest levels that pass.
//
// It is planning arithmetic, not measurement: panels show full white, draw what their type says, and are constant-power loads (I = P / (V × pf)). Each
// stands at the lowest voltage that it can see: that of the supply under load, less what feeders, home run and jumpers lose with everything on them at
// full white. So a current is right where all is at full white, and never too low below that. Legs and neutrals are phasor sums. The worst current of a
// conductor is the largest that any point of a box of states makes: each output anywhere from its level down to off, each panel, circuit and other load
// on or off by itself. The top corner of that box is not enough: three legs of 10 A with 30 % third harmonic make 9.0 A in a neutral, and with one of them dark
// it is 11.7 A. [Model.Flow] solves one state with its own voltages, exactly.
//
// What is exact and what is only safe: with no drop, circuits and legs are exact, also where a displacement is unknown and each such load may stand anywhere
// within plus or minus arccos(pf). So are neutrals with known displacements and up to 24 line-to-neutral kinds of load (12 on a split-phase supply whose kinds
// differ in third harmonic), or with unknown ones and up to 6. A neutral beyond that gets a safe bound: the largest fundamental with the largest third harmonic.
// Drop turns voltages by a degree or so besides; where directions differ that counts at its worst.
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
	terms      []term    // of all circuits' loads
	chain      []link    // panels of all circuits, in feeding order
	panelAt    []int32   // per link, its panel
	lost       []float64 // per link, what part of its board's voltage it loses with all of its circuit at full white
	kinds      []kind    // per panel type
	banks      []bank    // per board, then the supply's
	wireOf     []int     // per conductor, its wire in its bank
	lowest     []float64 // per panel, the lowest voltage that it can see; 0 where nothing feeds it
	ofOutput   [][]int   // per output, the conductors that it loads
	drops      bool      // some run has an impedance
	fragile    bool      // some circuit breaks down at full white
	feeds      bool      // some feeder has one, so that boards' voltages hang on their load
	box        sum       // what Worst looks at: the whole box, but for a planted mistake
}

// TopCorner gives the same model with a mistake: it takes the box's top corner for the worst of it. It is for the trial, which has to find it.
func (m *Model) TopCorner() *Model {
	wrong := *m
	wrong.box = exactly
	return &wrong
}

// New prepares a rig that has no problems. What the rig leaves open counts at its worst: a panel that no output drives stands at full white.
func New(r *rig.Rig) *Model {
	m := &Model{rig: r, conductors: r.Conductors(), banks: make([]bank, len(r.Boards)+1)}
	m.addKinds()
	m.addBanks()
	m.addCircuits()
	m.addLoads()
	m.joinBanks()
	m.addConductors()
	m.addOutputs()
	m.settle()
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
	turned   []turn    // how far drop may have turned the currents of a group
	circuits []int     // of a board
	loads    []int     // other loads, of a board
	fed      []int     // banks that hang on this one
	up       []int     // its groups' indexes in the bank that it hangs on
	from     int       // that bank, -1 for the supply
	feeder   impedance // of one conductor, from there to here
	at       []int     // conductors
	wires    []wire    // their sums: legs, the neutral, the feeder's
	lowest   volts     // that loads on it can see
	angle    turn      // how far drop may turn its voltages
}

// supply is the index of the supply's bank.
func (m *Model) supply() int { return len(m.banks) - 1 }

// addBanks hangs the boards on each other.
func (m *Model) addBanks() {
	m.banks[m.supply()].from = -1
	for i, b := range m.rig.Boards {
		from, ok := m.rig.Fed(i)
		if !ok {
			from = m.supply()
		}
		z := m.rig.Impedance(b.Feeder)
		m.banks[i].from, m.banks[i].feeder = from, impedance{float64(z.R), float64(z.X)}
		m.banks[from].fed = append(m.banks[from].fed, i)
		m.feeds = m.feeds || !m.banks[i].feeder.none()
	}
	m.drops = m.feeds
}

// index gives the bank's index of a kind of load, adding it where it is new.
func (b *bank) index(g group) int {
	if i := slices.Index(b.groups, g); i >= 0 {
		return i
	}
	b.groups, b.fixed, b.turned = append(b.groups, g), append(b.fixed, 0), append(b.turned, turn{})
	return len(b.groups) - 1
}

// addLoads puts the other loads on their boards.
func (m *Model) addLoads() {
	for k, l := range m.rig.Loads {
		b := &m.banks[l.Board]
		i := b.index(group{connect(l.Legs, m.rig.Supply.System), waveOf(l.Displacement, l.DisplacementKnown, l.PF, l.Third)})
		b.fixed[i] += float64(l.Current)
		b.loads = append(b.loads, k)
	}
}

// joinBanks gives every bank the kinds of load of those that hang on it. A board stands behind the one that feeds it, so the last comes first.
func (m *Model) joinBanks() {
	for i := m.supply() - 1; i >= 0; i-- {
		b := &m.banks[i]
		b.up = make([]int, len(b.groups))
		for k, g := range b.groups {
			b.up[k] = m.banks[b.from].index(g)
		}
	}
}

// addConductors makes the solver of every leg, neutral and feeder, and ties circuits to their conductors.
func (m *Model) addConductors() {
	m.wireOf = make([]int, len(m.conductors))
	for i, c := range m.conductors {
		switch c.Kind {
		case rig.CircuitWire:
			m.circuits[c.Circuit].wire = i
		case rig.CableWire:
			m.circuits[c.Circuit].cable = i
		default:
			b := m.bankOf(c)
			m.wireOf[i] = len(b.wires)
			b.at = append(b.at, i)
			b.wires = append(b.wires, newWire(m.armsOf(c, b.groups)))
		}
	}
}

func (m *Model) bankOf(c rig.Conductor) *bank {
	if c.Board < 0 {
		return &m.banks[m.supply()]
	}
	return &m.banks[c.Board]
}

func (m *Model) armsOf(c rig.Conductor, groups []group) []arm {
	if c.Leg >= 0 {
		return legArms(groups, c.Leg, m.rig.Supply.System)
	}
	return neutralArms(groups, m.rig.Supply.System)
}

// addOutputs lists the conductors that each output's panels load.
func (m *Model) addOutputs() {
	m.ofOutput = make([][]int, len(m.rig.Outputs))
	fed := m.circuitOfPanels()
	on := make([][]int, len(m.circuits))
	for o, out := range m.rig.Outputs {
		last := -1
		for _, p := range out.Panels {
			c := fed[p]
			if c < 0 || c == last {
				continue
			}
			last = c
			if on[c] == nil {
				on[c] = m.pathOf(c)
			}
			m.ofOutput[o] = append(m.ofOutput[o], on[c]...)
		}
		slices.Sort(m.ofOutput[o])
		m.ofOutput[o] = slices.Clip(slices.Compact(m.ofOutput[o]))
	}
}

// pathOf lists the conductors that a circuit's current runs through.
func (m *Model) pathOf(circuit int) []int {
	c := &m.circuits[circuit]
	path := []int{c.wire}
	if c.cable >= 0 {
		path = append(path, c.cable)
	}
	legs := m.rig.Legs(m.rig.Circuits[circuit])
	for b := c.bank; b >= 0; b = m.banks[b].from {
		for _, i := range m.banks[b].at {
			if leg := m.conductors[i].Leg; leg < 0 && len(legs) == 1 || leg >= 0 && slices.Contains(legs, leg) {
				path = append(path, i)
			}
		}
	}
	return path
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
