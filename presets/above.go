package presets

import (
	"fmt"
	"slices"
	"time"

	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Allowance is what a circuit has left of its time above its continuous limit.
type Allowance struct {
	Left   time.Duration // until it has to be at or below the limit
	Rested time.Duration // until it has all of its time again, if it stays at or below the limit from now on
}

// Rating gives the highest current that a conductor may ever carry: a circuit whose rig allows it goes up to its breaker's rating for a while. For everything else, and for
// cables and connectors above all, and where nothing is promised, that is the limit at any time.
func (p *Plan) Rating(conductor int) units.Amps {
	c := p.unlent()[conductor]
	if c.Kind == rig.CircuitWire && p.Rig.Circuits[c.Circuit].Above != nil && !p.Void[conductor] {
		return max(c.Limit, p.Rig.Circuits[c.Circuit].Breaker)
	}
	return c.Limit
}

// unlent gives the conductors with the limits that hold for any time.
func (p *Plan) unlent() []rig.Conductor {
	if p.continuous != nil {
		return p.continuous
	}
	return p.Power.Conductors()
}

// allowing gives the plan that a preset is judged by. For one that states a time above the continuous limit that is a plan in which the circuits whose rig allows it have their
// breakers' ratings for limits; how long is judged apart.
func (p *Plan) allowing(preset *Preset) *Plan {
	if preset.Above <= 0 || p.continuous != nil {
		return p
	}
	lent := slices.Clone(p.Power.Conductors())
	for i := range lent {
		if rating := p.Rating(i); rating > lent[i].Limit {
			lent[i].Limit, lent[i].By = rating, fmt.Sprintf("breaker %v for %s", rating, units.Spoken(preset.Above))
		}
	}
	q := *p
	q.continuous, q.Power = p.Power.Conductors(), p.Power.Limited(lent)
	return &q
}

// aboveOf lists the circuits that currents take above their continuous limits and that may be there for a while. Without such a plan there are none.
func (p *Plan) aboveOf(worst []units.Amps) []int {
	var above []int
	for i, c := range p.continuous {
		if lent := p.Power.Conductors()[i].Limit; lent > c.Limit && worst[i] > c.Limit {
			above = append(above, c.Circuit)
		}
	}
	return above
}

// forAt gives how long a conductor may carry up to the limit that a preset is judged by; 0 for any time.
func (p *Plan) forAt(conductor int, preset *Preset) time.Duration {
	if p.continuous == nil || p.Power.Conductors()[conductor].Limit <= p.continuous[conductor].Limit {
		return 0
	}
	return preset.Above
}

// aboveTime finds the circuits that have less time above their continuous limits than the preset states: by what their rig allows, or by what has been used since they
// last rested.
func (p *Plan) aboveTime(preset *Preset, above []int, c Conditions) []finding.Finding {
	var fs []finding.Finding
	for _, circuit := range above {
		most := p.Rig.Circuits[circuit].Above.For
		place := finding.Place{Kind: rig.CircuitWire.String(), Name: p.Rig.Circuits[circuit].Name}
		switch {
		case preset.Above > most:
			fs = append(fs, tooLong(place, preset.Above, most, "its rig allows %s"))
		case c.Above != nil && preset.Above > c.Above[circuit].Left:
			fs = append(fs, tooLong(place, preset.Above, c.Above[circuit].Left, "%s are left of "+units.Spoken(most)+"; it has rested after "+
				units.Spoken(units.UpToSeconds(c.Above[circuit].Rested))+" at or below the limit"))
		}
	}
	return fs
}

func tooLong(place finding.Place, asked, has time.Duration, words string) finding.Finding {
	f := finding.New(finding.AboveTime, place, fmt.Sprintf("it would be above its continuous limit for %s, and "+words, units.Spoken(asked), units.Spoken(has.Truncate(time.Second))))
	f.Computed, f.Limit = units.InSeconds(asked), units.InSeconds(has)
	return f
}

// aboveRemedies says what would answer a circuit's lack of time later.
func (p *Plan) aboveRemedies(f *finding.Finding, preset *Preset, c Conditions) []finding.Remedy {
	i := slices.IndexFunc(p.Rig.Circuits, func(k rig.Circuit) bool { return k.Name == f.Place.Name })
	if most := p.Rig.Circuits[i].Above.For; preset.Above > most {
		return []finding.Remedy{later("store it for at most %s above the continuous limit", units.Spoken(most))}
	}
	return []finding.Remedy{later("recall it again after %s at or below the limit", units.Spoken(units.UpToSeconds(c.Above[i].Rested)))}
}
