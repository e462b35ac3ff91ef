package power

import (
	"math"
	"math/cmplx"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// NoLoad is the resistance of nothing at all between a leg and the neutral.
var NoLoad = units.Ohms(math.Inf(1))

// LostNeutral gives the voltage across each leg's load once the neutral that all of them return by is open: what is left is a star whose middle hangs free
// (Millman's theorem). Source has the voltage from each leg to the source's middle, line the resistance of each leg's conductor, and load what stands from each
// leg to the lost neutral, all in parallel; [NoLoad] for nothing. A leg alone has no way back, and 0 V.
//
// It holds for resistances. A supply of constant power draws less the more voltage it sees, which pulls the middle further: there, over-voltage is possible up
// to [MostWithoutNeutral] and how much of it comes is not computed.
func LostNeutral(s rig.System, source []units.Volts, line, load []units.Ohms) []units.Volts {
	var toward complex128
	var all float64
	across := make([]units.Volts, len(load))
	angled := make([]complex128, len(load))
	for leg := range load {
		re, im := unit(legAngle(leg, s))
		angled[leg] = complex(float64(source[leg])*re, float64(source[leg])*im)
		y := 1 / float64(line[leg]+load[leg])
		toward, all = toward+angled[leg]*complex(y, 0), all+y
	}
	if all == 0 {
		return across
	}
	middle := toward / complex(all, 0)
	for leg := range load {
		if y := 1 / float64(line[leg]+load[leg]); y > 0 {
			across[leg] = units.Volts(cmplx.Abs(angled[leg]-middle) * float64(load[leg]) * y)
		}
	}
	return across
}

// MostWithoutNeutral gives the highest voltage that a load from a leg to a lost neutral can see: line to line, where one leg's loads are next to nothing
// against another's.
func MostWithoutNeutral(s rig.Supply) units.Volts { return s.LineLine }

// NeutralNeeded lists the circuits and the other loads on a board, and on those behind it, that stand between a leg and a neutral that other legs share: the ones
// that a lost neutral endangers. On a single-phase supply, or where all of them are on one leg, a lost neutral switches them off, and a delta has none.
func (m *Model) NeutralNeeded(board int) (circuits, loads []int) {
	if s := m.rig.Supply.System; s != rig.SplitPhase && s != rig.Wye {
		return nil, nil
	}
	var on [3]int
	for i, c := range m.rig.Circuits {
		if len(c.Poles) == 1 && hangsOn(m.rig, c.Board, board) {
			circuits = append(circuits, i)
			on[m.rig.Legs(c)[0]] = 1
		}
	}
	for i, l := range m.rig.Loads {
		if len(l.Legs) == 1 && hangsOn(m.rig, l.Board, board) {
			loads = append(loads, i)
			on[l.Legs[0]] = 1
		}
	}
	if on[0]+on[1]+on[2] < 2 {
		return nil, nil
	}
	return circuits, loads
}
