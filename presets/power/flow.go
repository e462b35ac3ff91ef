package power

import (
	"math"
	"math/cmplx"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Flow is what a plant carries in one state, with the voltages that come of it. One Flow may be used for many solves of the same model and then allocates once.
type Flow struct {
	Amps      []units.Amps // per conductor of the model
	Panel     []PanelFlow  // per panel of the rig
	Collapsed []int        // circuits with no working point, ascending: more is asked of them than can arrive. They, and what feeds them, count as infinite

	model    *Model       // that f has room for
	apparent []float64    // per link of the chain, volt-amperes
	own      []pair       // per link, the current that its panel draws
	change   []float64    // per circuit, volts by which its last round changed its far end
	left     []float64    // per circuit, the part of an error that a round leaves
	ahead    []float64    // per circuit, the part of its current by which it is expected to change once more
	current  []complex128 // per circuit
	sent     []complex128 // per circuit, the voltage at its board
	banks    []bankFlow
	fallen   []bool // per circuit
}

// PanelFlow is what one panel sees: its voltage, and the current that enters it, its own and that of all panels behind it.
type PanelFlow struct {
	Volts units.Volts
	In    units.Amps
}

// pair is a phasor. The built-in type's division and absolute value look after infinities, which costs more than all the rest.
type pair struct{ re, im float64 }

// bankFlow is what a bank carries: voltages of legs and neutral against the middle of the source, and their currents.
type bankFlow struct {
	volts, amps          [3]complex128
	neutral, neutralAmps complex128
	power                [2][3]complex128 // of circuits from a leg to neutral, and from a leg to the next
	x                    []float64        // amps by kind of load, as magnitudes
}

// fine is the error in volts that a chain, or the boards by themselves, may leave; both together stay within a millivolt.
const fine = 5e-5

// most is the number of rounds after which a chain, or the boards, are taken to have no working point.
const most = 300

// Flow solves the plant as it stands in one state: every output at its level, every circuit that is not locked off in, other loads at their current. Panels
// draw constant power at their own voltages; a displacement that is not known counts as none. Third harmonics lose nothing on the way. It writes into f and,
// once f has room for the model, does not allocate. Void of s is not read.
func (m *Model) Flow(s State, f *Flow) {
	m.room(f)
	m.boardVolts(f)
	m.begin(s, f)
	if m.feeds {
		m.meet(s, f)
	} else {
		m.chains(s, f, false)
	}
	m.report(f)
}

// Lost gives what part of the supply's voltage is lost at a panel.
func (m *Model) Lost(circuit int, v units.Volts) units.Share {
	full := m.rig.Supply.Volts(m.circuits[circuit].legs)
	return units.Share(1 - float64(v)/float64(full))
}

// BoardVolts gives the voltage of a board from one of its legs to the neutral, or on a delta to the middle of the source. Legs count from 0.
func (f *Flow) BoardVolts(board, leg int) units.Volts {
	b := &f.banks[board]
	return units.Volts(cmplx.Abs(b.volts[leg] - b.neutral))
}

// Sent gives the voltage at the board that a circuit's home run begins with.
func (f *Flow) Sent(circuit int) units.Volts { return units.Volts(cmplx.Abs(f.sent[circuit])) }

// room makes f fit the model.
func (m *Model) room(f *Flow) {
	if f.model != m {
		n := len(m.chain)
		*f = Flow{model: m, Panel: make([]PanelFlow, len(m.rig.Panels)), apparent: make([]float64, n), own: make([]pair, n), banks: make([]bankFlow, len(m.banks))}
		for i := range f.banks {
			f.banks[i].x = make([]float64, len(m.banks[i].groups))
		}
	}
	f.Amps, f.Collapsed = grow(f.Amps, len(m.conductors)), f.Collapsed[:0]
	f.change, f.ahead, f.left = sized(f.change, len(m.circuits)), sized(f.ahead, len(m.circuits)), sized(f.left, len(m.circuits))
	f.current, f.sent, f.fallen = sized(f.current, len(m.circuits)), sized(f.sent, len(m.circuits)), sized(f.fallen, len(m.circuits))
}

// sized gives a clear slice of that length.
func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	s = s[:n]
	clear(s)
	return s
}

// boardVolts starts every bank at the source's voltages.
func (m *Model) boardVolts(f *Flow) {
	size := m.legVolts()
	var source [3]complex128
	for leg := range m.rig.Supply.System.Legs() {
		re, im := unit(legAngle(leg, m.rig.Supply.System))
		source[leg] = complex(size*re, size*im)
	}
	for i := range f.banks {
		f.banks[i].volts, f.banks[i].neutral = source, 0
	}
}

// legVolts gives the voltage from a leg of the source to its middle. The two figures of a supply are rounded (208Y/120), and the larger reading of them is
// taken, so that no load stands below its own figure.
func (m *Model) legVolts() float64 {
	s := m.rig.Supply
	switch s.System {
	case rig.SplitPhase:
		return max(float64(s.LineNeutral), float64(s.LineLine)/2)
	case rig.Wye, rig.Delta:
		return max(float64(s.LineNeutral), float64(s.LineLine)/math.Sqrt(3))
	default:
		return float64(s.LineNeutral)
	}
}

// across gives the voltage that a circuit, or load, stands at on a bank.
func (b *bankFlow) across(c connection, legs int) complex128 {
	if c.legs == 2 {
		return b.volts[c.first] - b.volts[(c.first+1)%legs]
	}
	return b.volts[c.first] - b.neutral
}
