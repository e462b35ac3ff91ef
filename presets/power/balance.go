package power

import (
	"math"
	"slices"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Balance is how evenly the legs of a board, or of the supply, are loaded in one state. Its figure is the largest deviation of a leg's current from the mean
// of the legs, as a share of that mean: what NEMA MG 1 defines for voltages, applied to currents (common practice).
type Balance struct {
	Board  int // -1 for the supply
	Legs   []units.Amps
	Figure units.Share
	Swap   *Swap // the best there is; nil where none makes the figure smaller
}

// Swap is two circuits of one board that take each other's places for poles, and what comes of it. The home runs stay where they are: what changes is under
// which breakers they are put.
type Swap struct {
	A, B   int // circuits
	Legs   []units.Amps
	Figure units.Share
}

// Balance gives every board's balance in the rig's order, then the supply's; nothing for a single-phase supply, whose one leg is even with itself. Outputs stand
// at their levels, circuits that are not locked off are in, and other loads draw their connected maximum.
//
// Legs are phasor sums of what each circuit draws in [Model.At], so what is lost on the way counts. A displacement that is not known counts as none here: a
// limit needs the worst that it could be, a comparison of legs does not. A board's legs carry the boards behind it too, and the places looked at are those of
// all circuits behind it: every two of one board with as many poles as each other that stand on different legs.
func (m *Model) Balance(s State) []Balance {
	n := m.rig.Supply.System.Legs()
	if n < 2 {
		return nil
	}
	b := m.balancer(s)
	var all []Balance
	for board := range m.rig.Boards {
		all = append(all, b.balance(board))
	}
	return append(all, b.balance(-1))
}

// legSums are the currents of up to three legs as phasors.
type legSums [3]complex128

// balancer knows what every circuit and load adds to the legs.
type balancer struct {
	m      *Model
	legs   int
	drawn  []complex128 // per circuit, against the voltage across it
	places []connection // per circuit
	poles  []int
	fixed  []legSums // per board, the other loads
}

func (m *Model) balancer(s State) *balancer {
	r := m.rig
	b := &balancer{m: m, legs: r.Supply.System.Legs(), fixed: make([]legSums, len(r.Boards))}
	at := m.At(s, nil)
	of := make([]units.Amps, len(r.Circuits))
	for i, c := range m.conductors {
		if c.Kind == rig.CircuitWire {
			of[c.Circuit] = at[i]
		}
	}
	outputs := m.outputOfPanels()
	for i, c := range r.Circuits {
		re, im := m.lean(c, s, outputs)
		b.drawn = append(b.drawn, complex(float64(of[i])*re, float64(of[i])*im))
		b.places = append(b.places, connect(r.Legs(c), r.Supply.System))
		b.poles = append(b.poles, len(c.Poles))
	}
	for _, l := range r.Loads {
		var lag float64
		if l.DisplacementKnown {
			lag = float64(l.Displacement)
		}
		re, im := unit(-lag)
		b.add(&b.fixed[l.Board], connect(l.Legs, r.Supply.System), complex(float64(l.Current)*re, float64(l.Current)*im))
	}
	return b
}

// lean gives the direction of a circuit's current against its voltage: that of the sum of its panels' currents.
func (m *Model) lean(c rig.Circuit, s State, outputs []int) (re, im float64) {
	for _, p := range c.Panels {
		t := m.rig.PanelTypes[m.rig.Panels[p].Type]
		va, lag := float64(t.Watts(levelOf(s, outputs[p])))/float64(t.PF), 0.0
		if t.DisplacementKnown {
			lag = float64(t.Displacement)
		}
		cos, sin := unit(-lag)
		re, im = re+va*cos, im+va*sin
	}
	if size := math.Hypot(re, im); size > 0 {
		return re / size, im / size
	}
	return 1, 0
}

// levelOf gives what part of the way from black to full white the panels of an output go; one without an output stands at full white.
func levelOf(s State, output int) units.Level {
	if output < 0 {
		return 1
	}
	return units.Level(s.light(output))
}

// add puts a current on the legs of a place.
func (b *balancer) add(sum *legSums, at connection, current complex128) {
	for leg := range b.legs {
		if angle, on := at.on(leg, b.m.rig.Supply.System); on {
			re, im := unit(angle)
			sum[leg] += complex(re, im) * current
		}
	}
}

// balance gives one board's balance with the best swap, the first of those that come out alike.
func (b *balancer) balance(board int) Balance {
	var sum legSums
	var circuits []int
	for i, c := range b.m.rig.Circuits {
		if hangsOn(b.m.rig, c.Board, board) {
			circuits = append(circuits, i)
			b.add(&sum, b.places[i], b.drawn[i])
		}
	}
	for i := range b.fixed {
		if hangsOn(b.m.rig, i, board) {
			for leg := range sum {
				sum[leg] += b.fixed[i][leg]
			}
		}
	}
	legs, figure := b.figure(sum)
	of := Balance{Board: board, Legs: legs, Figure: figure}
	best := figure - 1e-9 // less than that is rounding
	for k, i := range circuits {
		for _, j := range circuits[k+1:] {
			if !b.swappable(i, j) {
				continue
			}
			if legs, figure := b.figure(b.swapped(sum, i, j)); figure < best {
				best, of.Swap = figure-1e-9, &Swap{i, j, slices.Clone(legs), figure}
			}
		}
	}
	return of
}

func (b *balancer) swappable(i, j int) bool {
	return b.m.rig.Circuits[i].Board == b.m.rig.Circuits[j].Board && b.poles[i] == b.poles[j] && b.places[i] != b.places[j]
}

func (b *balancer) swapped(sum legSums, i, j int) legSums {
	b.add(&sum, b.places[i], b.drawn[j]-b.drawn[i])
	b.add(&sum, b.places[j], b.drawn[i]-b.drawn[j])
	return sum
}

// figure gives the legs' currents and how far the farthest is from their mean.
func (b *balancer) figure(sum legSums) ([]units.Amps, units.Share) {
	var legs [3]units.Amps
	for i := range b.legs {
		legs[i] = units.Amps(math.Hypot(real(sum[i]), imag(sum[i])))
	}
	return legs[:b.legs], Unevenness(legs[:b.legs])
}

// Unevenness gives the largest deviation of legs from their mean as a share of the mean; 0 where nothing is drawn.
func Unevenness(legs []units.Amps) units.Share {
	var mean, most float64
	for _, a := range legs {
		mean += float64(a) / float64(len(legs))
	}
	if mean == 0 {
		return 0
	}
	for _, a := range legs {
		most = max(most, math.Abs(float64(a)-mean))
	}
	return units.Share(most / mean)
}
