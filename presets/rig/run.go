package rig

import (
	"lookgate/presets/cable"
	"lookgate/presets/units"
)

// Impedance is what one conductor of a run of cable puts in the way of a current.
type Impedance struct{ R, X units.Ohms }

// Impedance gives that of one conductor of a run, over its length one way, all its sets in parallel. Nothing is known of a nil run: it counts as none, and
// [Rig.Problems] has made sure that every cable's size and stranding is in the published tables.
func (r *Rig) Impedance(run *Run) Impedance {
	if run == nil {
		return Impedance{}
	}
	c := r.Cables[run.Cable]
	resistance, _ := cable.Resistance(c.Size, c.Stranding, c.At)
	reactance, _ := cable.Reactance(c.Size)
	metres := float64(run.Length) / float64(max(1, run.Sets))
	return Impedance{units.Ohms(float64(resistance) * metres), units.Ohms(float64(reactance) * metres)}
}

// Fed gives the board that feeds board b, and whether there is one: the supply feeds the others.
func (r *Rig) Fed(b int) (int, bool) { return r.Boards[b].From - 1, r.Boards[b].From > 0 }
