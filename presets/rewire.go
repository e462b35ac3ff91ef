package presets

import (
	"math"
	"slices"
	"strings"

	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// rewire says what wiring would make a conductor carry a current that it does not carry now. Levels are those that made the current.
func (p *Plan) rewire(conductor int, levels []units.Level, worst units.Amps) []finding.Remedy {
	c := p.Power.Conductors()[conductor]
	switch c.Kind {
	case rig.CircuitWire:
		return append(p.movePanels(c, levels), p.largerBreaker(c, worst)...)
	case rig.CableWire:
		return append(p.movePanels(c, levels),
			later("home run, jumpers and panel feed-throughs rated for %s or more", upToTenths(worst)))
	case rig.FeederWire:
		return []finding.Remedy{later("a feeder rated for %s or more would carry it", upToTenths(worst))}
	case rig.BoardLeg, rig.SupplyLeg:
		if c.Kind == rig.SupplyLeg && p.boundByCapacity(c) {
			return []finding.Remedy{p.largerCapacity(p.evenly(worst))}
		}
		factor, numbering := p.mainOf(c)
		if r, ok := ratingFor(worst, factor, numbering); ok {
			return []finding.Remedy{later("a main of %s, with what feeds it to match, would carry it", short(r))}
		}
	default:
		factor, _ := p.mainOf(c)
		return []finding.Remedy{later("a neutral rated for %s or more would carry it", upToTenths(units.Amps(float64(worst)/float64(factor))))}
	}
	return nil
}

// movePanels says how many panels at the end of the chain a circuit has too many.
func (p *Plan) movePanels(c rig.Conductor, levels []units.Level) []finding.Remedy {
	circuit := p.Rig.Circuits[c.Circuit]
	n, sum := 0, units.Amps(0)
	for _, panel := range circuit.Panels {
		if sum += p.panelAmps(panel, levels); sum > c.Limit {
			break
		}
		n++
	}
	if all := len(circuit.Panels); n > 0 && n < all {
		return []finding.Remedy{later("move the last %d of its %d panels to another circuit", all-n, all)}
	}
	return nil
}

// panelAmps gives what a panel draws at its output's level, full white up; one that no output drives counts at level 1. Such currents add up to no less
// than what their phasors add up to, so a figure from them errs safe.
func (p *Plan) panelAmps(panel int, levels []units.Level) units.Amps {
	level := units.Level(1)
	if o := p.outputOf[panel]; o >= 0 {
		level = levels[o]
	}
	t := p.Rig.PanelTypes[p.Rig.Panels[panel].Type]
	return units.Amps(float64(t.Watts(level)) / (float64(p.Power.Lowest(panel)) * float64(t.PF)))
}

// largerBreaker names the standard breaker that would carry a circuit, where the panels' own feed-through bears it.
func (p *Plan) largerBreaker(c rig.Conductor, worst units.Amps) []finding.Remedy {
	circuit := p.Rig.Circuits[c.Circuit]
	r, ok := ratingFor(worst, circuit.Factor, p.Rig.Boards[circuit.Board].Numbering)
	if !ok || p.feedThrough(circuit.Panels) < r {
		return nil
	}
	return []finding.Remedy{later("a breaker of %s, with home run and jumpers to match, would carry it", short(r))}
}

// mainOf gives the continuous factor of the main that a leg or neutral belongs to, and how the place counts its poles.
func (p *Plan) mainOf(c rig.Conductor) (units.Share, rig.Numbering) {
	if c.Board >= 0 {
		return p.Rig.Boards[c.Board].Factor, p.Rig.Boards[c.Board].Numbering
	}
	if len(p.Rig.Boards) > 0 {
		return p.Rig.Supply.Factor, p.Rig.Boards[0].Numbering
	}
	return p.Rig.Supply.Factor, rig.OddEven
}

func upToTenths(a units.Amps) string { return units.Amps(math.Ceil(float64(a)*10) / 10).String() }

// lowerRestarts says what restart level would let the preset pass on a conductor that it fails for restarts alone.
func (p *Plan) lowerRestarts(b box, c Conditions, conductor int) []finding.Remedy {
	return p.lowerRestart(conductor, func(restarts []units.Level) bool {
		void := make([]bool, len(p.Void))
		for _, i := range p.Power.Over(power.State{Levels: restarts}) {
			void[i] = true // as a plan with these restart levels would have it
		}
		judged := make([]units.Level, len(restarts))
		for o, l := range restarts {
			judged[o] = max(l, b.loads[o])
		}
		return !slices.Contains(p.Power.Over(power.State{Levels: judged, LockedOff: c.LockedOff, Void: void}), conductor)
	})
}

// lowerRestart finds the highest whole per cent that, as the most that a device takes after a restart, passes; and says on which of a conductor's devices.
// It looks from the top down, since what passes at one level need not pass at a lower one where that ends a conductor's being void.
func (p *Plan) lowerRestart(conductor int, passes func(restarts []units.Level) bool) []finding.Remedy {
	for n := 99; n >= 0; n-- {
		top := units.Level(n) / 100
		if !slices.ContainsFunc(p.restart, func(l units.Level) bool { return l > top }) {
			continue
		}
		lower := make([]units.Level, len(p.restart))
		for o, l := range p.restart {
			lower[o] = min(l, top)
		}
		if passes(lower) {
			names := p.devicesOf(p.outputsOn(conductor), func(o int) bool { return p.restart[o] > top })
			return []finding.Remedy{later("a restart level of at most %d %% on %s", n, strings.Join(names, ", "))}
		}
	}
	return nil
}
