package presets

import (
	"fmt"
	"math"
	"slices"
	"time"

	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// supplyPlace names the supply as a whole, and so what stands behind it.
func (p *Plan) supplyPlace() finding.Place {
	return finding.Place{Kind: "supply", Name: p.Rig.Supply.Name}
}

// limited reports whether anything is known of what the transformer or generator can give.
func (p *Plan) limited() bool {
	s := p.Rig.Supply
	return s.Origin != rig.Service && (s.Capacity.Power > 0 || s.Capacity.Real > 0)
}

// beyond is what of a demand is more than a transformer or generator gives.
type beyond struct {
	apparent, real       bool
	ofApparent, ofReal   float64 // of the limits
	demand               power.Demand
	apparentMax, realMax float64
}

func (b beyond) any() bool { return b.apparent || b.real }

// beyond holds a demand against the capacity. What a continuous load may use of the rated apparent power, it may use of the active power.
func (p *Plan) beyond(s power.State) beyond {
	var b beyond
	if !p.limited() {
		return b
	}
	c := p.Rig.Supply.Capacity
	b.demand = p.Power.Demand(s)
	b.apparentMax, b.realMax = float64(c.Power)*float64(c.Factor), float64(c.Real)*float64(c.Factor)
	b.apparent = c.Power > 0 && !(float64(b.demand.Apparent) <= b.apparentMax)
	b.real = c.Real > 0 && !(float64(b.demand.Real) <= b.realMax)
	b.ofApparent, b.ofReal = float64(b.demand.Apparent)/b.apparentMax, float64(b.demand.Real)/b.realMax
	return b
}

// carries reports whether what stands behind the supply gives what loads ask for, and the restart levels beside them where those count.
func (p *Plan) carries(loads, judged []units.Level, c Conditions) bool {
	if !p.limited() {
		return true
	}
	if p.beyond(power.State{Levels: loads, LockedOff: c.LockedOff}).any() {
		return false
	}
	return !p.beyond(power.State{Levels: judged, LockedOff: c.LockedOff}).any() || p.supplyVoid()
}

// supplyVoid reports whether every output at its restart level alone is more than the supply gives: then restarts are not counted there and nothing is promised.
func (p *Plan) supplyVoid() bool { return p.beyond(power.State{Levels: p.restart}).any() }

// finding words what is too much, the worse of the two.
func (b beyond) finding(p *Plan, code finding.Code, when string) finding.Finding {
	s := p.Rig.Supply
	word, limit := "volt-amperes", fmt.Sprintf("%v %v", s.Origin, kilo(float64(s.Capacity.Power), "VA"))
	computed, most := units.InVoltAmps(b.demand.Apparent), units.InVoltAmps(units.VoltAmps(b.apparentMax))
	if b.real && (!b.apparent || b.ofReal > b.ofApparent) {
		word, limit = "watts", fmt.Sprintf("%v %v", s.Origin, kilo(float64(s.Capacity.Real), "W"))
		computed, most = units.InWatts(b.demand.Real), units.InWatts(units.Watts(b.realMax))
	}
	if s.Capacity.Factor != 1 {
		limit += " × " + s.Capacity.Factor.String()
	}
	f := finding.New(code, p.supplyPlace(), fmt.Sprintf("%sit would have to give %v of at most %v in %s (%s)", when, apart(computed, most), most, word, limit))
	f.Computed, f.Limit = computed, most
	return f
}

// apart prints what is computed so that it does not read like the limit that it is above.
func apart(computed, limit units.Quantity) string {
	if computed.String() != limit.String() {
		return computed.String()
	}
	return fmt.Sprintf("a little more than %v", limit)
}

// kilo prints thousands: "150 kVA".
func kilo(v float64, unit string) string { return fmt.Sprintf("%.4g k%s", v/1000, unit) }

// capacityOver finds what a preset asks of a transformer or generator beyond what it gives, by itself or once restarts count; and what it puts on at once.
func (p *Plan) capacityOver(preset *Preset, b box, c Conditions) []finding.Finding {
	var fs []finding.Finding
	if over := p.beyond(power.State{Levels: b.loads, LockedOff: c.LockedOff}); over.any() {
		fs = append(fs, over.finding(p, finding.CapacityOver, ""))
	} else if over := p.beyond(power.State{Levels: b.judged, LockedOff: c.LockedOff}); over.any() && !p.supplyVoid() {
		fs = append(fs, over.finding(p, finding.RestartLoad, "if a device restarted while it is on, "))
	}
	if f, ok := p.stepOver(preset, b, c); ok {
		fs = append(fs, f)
	}
	return fs
}

// steps reports whether there is a generator whose step is known.
func (p *Plan) takesSteps() bool {
	return p.Rig.Supply.Origin == rig.Generator && p.Rig.Supply.Capacity.Step > 0
}

// stepOver finds a preset that takes a generator from black to its levels faster than it takes up load: it dips, and what hangs on it may restart. The preset's fade
// spreads the load; where that is enough, it is said that a blackout that ends, or a level that jumps, has no fade.
func (p *Plan) stepOver(preset *Preset, b box, c Conditions) (finding.Finding, bool) {
	if !p.takesSteps() {
		return finding.Finding{}, false
	}
	g := p.Rig.Supply.Capacity
	rise := p.Power.Rise(power.State{Levels: lit(b.levels, b.content), LockedOff: c.LockedOff})
	step := power.StepOf(rise, preset.FadeUp, g.Settle)
	code, how := finding.StepOver, "from black it puts %s on the generator at once, which takes %s"
	switch {
	case step <= g.Step && rise <= g.Step:
		return finding.Finding{}, false
	case step <= g.Step:
		code, step, how = finding.StepSudden, rise, "when a blackout ends or a level jumps, without its fade, it puts %s on the generator at once, which takes %s"
	case g.Settle > 0 && preset.FadeUp > g.Settle:
		how = "from black it puts %s on the generator within the " + seconds(g.Settle) + " that it takes to settle, which takes %s"
	}
	f := finding.New(code, p.supplyPlace(), fmt.Sprintf(how, kilo(float64(step), "W"), kilo(float64(g.Step), "W")))
	f.Computed, f.Limit = units.InWatts(step), units.InWatts(g.Step)
	if code == finding.StepSudden {
		f.Remedies = []finding.Remedy{p.largerStep(step)}
	}
	return f, true
}

func seconds(d time.Duration) string { return fmt.Sprintf("%.3g s", d.Seconds()) }

// lowerOrShared leaves out of the remedies what lower caps do: a step is made by levels.
func lowerOrShared(code finding.Code, lower, shared []finding.Remedy) []finding.Remedy {
	if code == finding.StepOver {
		return slices.Clone(lower)
	}
	return slices.Clone(shared)
}

// supplyRemedies says what would answer a finding about what stands behind the supply.
func (p *Plan) supplyRemedies(f finding.Finding, preset *Preset, b box, c Conditions) []finding.Remedy {
	switch f.Code {
	case finding.CapacityOver:
		return []finding.Remedy{p.largerCapacity(p.Power.Demand(power.State{Levels: b.loads, LockedOff: c.LockedOff}))}
	case finding.RestartLoad:
		return []finding.Remedy{p.largerCapacity(p.Power.Demand(power.State{Levels: b.judged, LockedOff: c.LockedOff}))}
	case finding.StepOver:
		rise := p.Power.Rise(power.State{Levels: lit(b.levels, b.content), LockedOff: c.LockedOff})
		return append(p.longerFade(rise), p.largerStep(power.StepOf(rise, preset.FadeUp, p.Rig.Supply.Capacity.Settle)))
	}
	return nil
}

// largerCapacity names, in whole thousands, what would give a demand.
func (p *Plan) largerCapacity(d power.Demand) finding.Remedy {
	c := p.Rig.Supply.Capacity
	whole := func(v float64) int { return int(math.Ceil(v/float64(c.Factor)/1000 - 1e-9)) }
	apparent, real := max(whole(float64(d.Apparent)), whole(float64(c.Power)*float64(c.Factor))), max(whole(float64(d.Real)), whole(float64(c.Real)*float64(c.Factor)))
	if p.Rig.Supply.Origin == rig.Generator && c.Real > 0 {
		return later("a generator of %d kVA and %d kW or more would carry it", apparent, real)
	}
	return later("a %v of %d kVA or more would carry it", p.Rig.Supply.Origin, apparent)
}

// boundByCapacity reports whether the transformer or generator, and not the main, limits a leg of the supply.
func (p *Plan) boundByCapacity(leg rig.Conductor) bool {
	line, known := p.Rig.Supply.Line()
	return known && leg.Limit == line
}

// evenly gives the demand that loads every leg with a current: what the plate must say for one of them to carry it.
func (p *Plan) evenly(leg units.Amps) power.Demand {
	s := p.Rig.Supply
	return power.Demand{Apparent: units.VoltAmps(float64(s.Middle()) * float64(leg) * float64(s.System.Legs()))}
}

// longerFade gives the shortest fade in whole seconds over which a rise passes, computed again with it.
func (p *Plan) longerFade(rise units.Watts) []finding.Remedy {
	g := p.Rig.Supply.Capacity
	if g.Settle <= 0 {
		return nil
	}
	n := int(math.Ceil(float64(rise) / float64(g.Step) * g.Settle.Seconds()))
	for power.StepOf(rise, time.Duration(n)*time.Second, g.Settle) > g.Step {
		n++
	}
	return []finding.Remedy{later("a fade up over %d s or more", n)}
}

func (p *Plan) largerStep(step units.Watts) finding.Remedy {
	return later("a generator that takes %d kW or more at once", int(math.Ceil(float64(step)/1000-1e-9)))
}

// behindSupply says what is to be said of a transformer or generator whatever the preset: restarts alone that it does not carry, and what of it is not known.
func (p *Plan) behindSupply() []finding.Finding {
	s := p.Rig.Supply
	if s.Origin == rig.Service {
		return nil
	}
	var fs []finding.Finding
	if over := p.beyond(power.State{Levels: p.restart}); over.any() {
		f := over.finding(p, finding.RestartOver, "with every output at the level that it takes after a restart ")
		f.Sentence += ": no promise is made here"
		f.Remedies = []finding.Remedy{p.largerCapacity(over.demand)}
		fs = append(fs, f)
	}
	for _, u := range []struct {
		unknown           bool
		sentence, missing string
	}{
		{s.Capacity.Power <= 0, "its rated apparent power is not known: whether it carries a look is not assessed", "its rated apparent power"},
		{s.Origin == rig.Generator && s.Capacity.Real <= 0, "its rated active power is not known: whether its engine carries a look is not assessed", "its rated active power"},
		{s.Origin == rig.Generator && s.Capacity.Step <= 0, "how much load it takes at once is not known: what a switch does to it is not assessed", "the largest load that it takes at once"},
		{p.takesSteps() && s.Capacity.Settle <= 0, "how long it needs to settle after a step is not known: no fade counts as spreading a load", "its settling time"},
	} {
		if u.unknown {
			f := finding.New(finding.Unassessed, p.supplyPlace(), u.sentence)
			f.Remedies = []finding.Remedy{later("give %s in the rig, as its maker has it", u.missing)}
			fs = append(fs, f)
		}
	}
	return fs
}
