package power

import (
	"math"
	"slices"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// connection says between which conductors a load stands: line to neutral on leg first; line to line from leg first to the next; or balanced on all legs.
type connection struct{ legs, first int }

// wave is what of a load's current matters for sums, besides its size: the lag behind its voltage and how far that is uncertain either way, in degrees,
// and the third harmonic as a share of the current.
type wave struct{ lag, spread, third float64 }

// group is a kind of load. Loads of one kind on one board add up arithmetically.
type group struct {
	connection
	wave wave
}

// connect gives the connection of a load on these legs, counted from 0. The order of two legs says only which way the current is counted.
func connect(legs []int, s rig.System) connection {
	switch {
	case len(legs) == 1:
		return connection{1, legs[0]}
	case len(legs) > 2:
		return connection{3, 0}
	case s.Legs() < 3:
		return connection{2, 0}
	case legs[1] == (legs[0]+1)%3:
		return connection{2, legs[0]}
	default:
		return connection{2, legs[1]}
	}
}

// waveOf gives a load's wave. An unknown displacement may be anywhere within plus or minus arccos(pf), and a missing power factor anywhere at all.
func waveOf(displacement units.Degrees, known bool, pf, third units.Share) wave {
	if known {
		return wave{lag: float64(displacement), third: float64(third)}
	}
	spread := 90.0
	if pf > 0 && pf <= 1 {
		spread = math.Acos(float64(pf)) * 180 / math.Pi
	}
	return wave{spread: spread, third: float64(third)}
}

// legAngle gives the angle of a leg's voltage to neutral: 0, -120, +120 degrees; 0, 180 on a split-phase supply.
func legAngle(leg int, s rig.System) float64 {
	if s == rig.SplitPhase {
		return float64(180 * leg)
	}
	return float64(-120 * leg)
}

// on gives the angle at which the load's current leaves the supply by a leg, before its lag, and whether it does. A line-to-line load leaves by its
// first leg (30 degrees ahead of that leg's voltage on a wye) and returns by the other, which is the opposite direction.
func (c connection) on(leg int, s rig.System) (float64, bool) {
	if c.legs != 2 {
		return legAngle(leg, s), c.legs == 3 || c.first == leg
	}
	angle := legAngle(c.first, s)
	if s.Legs() == 3 {
		angle += 30
	}
	if leg != c.first {
		angle += 180
	}
	return angle, leg == c.first || leg == (c.first+1)%s.Legs()
}

// legArms gives what the kinds of load add to a leg. The third harmonic is part of the computed current, so a leg counts nothing besides.
func legArms(groups []group, leg int, s rig.System) []arm {
	var arms []arm
	for i, g := range groups {
		if angle, ok := g.on(leg, s); ok {
			arms = append(arms, arm{group: i, angle: angle - g.wave.lag, spread: g.wave.spread})
		}
	}
	return arms
}

// neutralArms gives what the kinds of load add to a neutral. The whole computed current counts as fundamental and the third harmonic comes on top, which
// errs safe. Third harmonics of a wye's legs are in step and add up; a balanced load on all legs adds three of them and no fundamental. Those
// of opposite legs cancel like the fundamentals (3 × 180° = 180°), as far as the loads are alike: others count as if none did. A single-phase neutral carries
// what its leg carries.
func neutralArms(groups []group, s rig.System) []arm {
	if s == rig.SinglePhase {
		return legArms(groups, 0, s)
	}
	var arms []arm
	var forms []wave
	for i, g := range groups {
		a := arm{group: i, angle: legAngle(g.first, s) - g.wave.lag, spread: g.wave.spread, third: g.wave.third}
		switch {
		case g.legs == 2:
			continue
		case g.legs == 3:
			a.third, a.balanced = 3*a.third, true
		case s == rig.SplitPhase:
			a.form = place(&forms, g.wave)
			a.third *= float64(1 - 2*g.first)
		}
		arms = append(arms, a)
	}
	return arms
}

// place gives the index of a wave in the list, adding it where it is new.
func place(forms *[]wave, w wave) int {
	if i := slices.Index(*forms, w); i >= 0 {
		return i
	}
	*forms = append(*forms, w)
	return len(*forms) - 1
}

// unit gives the unit vector at an angle in degrees. Multiples of 30 degrees come out alike in every quadrant, so that balanced legs sum to nothing at all.
func unit(degrees float64) (re, im float64) {
	quarter := math.Floor(degrees / 90)
	rest := degrees - 90*quarter
	sin, cos := math.Sincos(rest * math.Pi / 180)
	switch rest {
	case 30:
		sin, cos = 0.5, math.Sqrt(3)/2
	case 60:
		sin, cos = math.Sqrt(3)/2, 0.5
	}
	switch int(math.Mod(quarter, 4)+4) % 4 {
	case 0:
		return cos, sin
	case 1:
		return -sin, cos
	case 2:
		return -cos, -sin
	default:
		return sin, -cos
	}
}
