package rig

import (
	"math"

	"lookgate/presets/units"
)

// Middle gives the voltage from a leg to the middle of the source. The two figures of a supply are rounded (208Y/120): the larger reading counts.
func (s Supply) Middle() units.Volts {
	switch s.System {
	case SplitPhase:
		return max(s.LineNeutral, s.LineLine/2)
	case Wye, Delta:
		return max(s.LineNeutral, s.LineLine/units.Volts(math.Sqrt(3)))
	}
	return s.LineNeutral
}

// Line gives what one leg of a transformer or generator may carry continuously, and whether it is known: its rated power is that of all legs evenly loaded, so
// a leg that carries more than its part overloads its winding, whatever the others carry. At the lowest voltage of the rig that is a little more
// than on the plate, by as much as the voltage is lower.
func (s Supply) Line() (units.Amps, bool) {
	if s.Origin == Service || s.Capacity.Power <= 0 || s.System == NoSystem {
		return 0, false
	}
	return units.Amps(float64(s.Capacity.Power) * float64(s.Capacity.Factor) / (float64(s.Middle()) * float64(s.System.Legs()))), true
}
