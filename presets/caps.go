package presets

import (
	"slices"

	"lookgate/presets/units"
)

// Caps says how far a preset could go up, what stops it and what would come of taking that away.
type Caps struct {
	Scale    units.Share // highest scale of the preset's ratios that passes, as in [Verdict]
	Binding  []int       // conductors that stop it, those that are over together one step higher; none where every level reaches 1
	BySupply bool        // what stands behind the supply stops it
	Relief   []Relief    // what would be reached without what stops it, and then without what stops that; at most three steps
	Zones    []ZoneCap   // per zone of the preset
}

// Relief is one step of taking limits away: with those conductors no longer in the way the scale that passes, and what stops it then.
type Relief struct {
	Without  []int
	Scale    units.Share
	Then     []int // none where nothing does
	BySupply bool
}

// ZoneCap is how far one zone could go up with all others at their caps.
type ZoneCap struct {
	Zone     int
	Cap      units.Level
	Nits     units.Nits  // of the dimmest of its panel types, at the cap
	Stops    units.Stops // from the zone's level in the preset up to the cap
	Binding  int         // the conductor that stops it, -1 for none, and where nothing passes whatever the zone does
	BySupply bool
	None     bool // not even with the zone dark do the others pass
}

// CapsOf works out the caps of a preset under conditions. It takes some hundred solves, so it is for who asks, not for every switch.
func CapsOf(p *Plan, preset *Preset, c Conditions) Caps {
	p = p.allowing(preset)
	b := p.box(preset, c)
	out := Caps{}
	out.Scale, out.Binding, out.BySupply = p.stops(b, c)
	for q, at, stop := p, out.Scale, out.Binding; len(stop) > 0 && len(out.Relief) < 3; {
		q = q.without(stop)
		r := Relief{Without: stop}
		r.Scale, r.Then, r.BySupply = q.stops(b, c)
		if r.Scale <= at && len(r.Then) == 0 {
			break
		}
		out.Relief = append(out.Relief, r)
		at, stop = r.Scale, r.Then
	}
	for _, z := range preset.Zones {
		out.Zones = append(out.Zones, p.zoneCap(b, z, c))
	}
	return out
}

// stops gives the highest scale that passes, and all conductors that are over one step above it.
func (p *Plan) stops(b box, c Conditions) (units.Share, []int, bool) {
	scale, binding, bySupply := p.highest(b, c)
	if binding < 0 {
		return scale, nil, bySupply
	}
	next := lit(p.scaled(b.ratios, int(float64(scale)*scaleSteps+0.5)+1), b.content)
	return scale, p.overWith(next, c), false
}

// overWith lists the conductors that loads take over, by themselves or with restarts counted.
func (p *Plan) overWith(loads []units.Level, c Conditions) []int {
	over := p.overAt(loads, c)
	for _, i := range p.overRestarted(loads, c) {
		if !slices.Contains(over, i) {
			over = append(over, i)
		}
	}
	slices.Sort(over)
	return over
}

// without gives the plan in which some conductors have no limit. It is for seeing what would be next, and for nothing else.
func (p *Plan) without(conductors []int) *Plan {
	q := *p
	free := slices.Clone(p.Power.Conductors())
	for _, i := range conductors {
		free[i].Limit = unbounded
	}
	q.Power = p.Power.Limited(free)
	return &q
}

// unbounded is a limit that no plant reaches.
const unbounded units.Amps = 1e15

// zoneCap gives how far one zone of a preset can go up.
func (p *Plan) zoneCap(b box, z ZoneLevel, c Conditions) ZoneCap {
	outputs := p.Rig.Zones[z.Zone].Outputs
	steps := 1
	for _, o := range outputs {
		steps = max(steps, p.steps(o))
	}
	at := func(k int) []units.Level {
		levels := slices.Clone(b.caps)
		for _, o := range outputs {
			levels[o] = units.Level(float64(k) / float64(steps)).Down(p.steps(o))
		}
		return lit(levels, b.content)
	}
	k := lastThatPasses(steps, func(k int) bool { return p.passes(at(k), p.withRestarts(at(k)), c) })
	out := ZoneCap{Zone: z.Zone, Binding: -1, None: k < 0}
	if k < steps {
		over := p.overWith(at(k+1), c)
		out.Binding = p.tightest(over, p.withRestarts(at(k+1)), c)
		out.BySupply = out.Binding < 0
	}
	out.Cap = units.Level(float64(max(k, 0)) / float64(steps))
	out.Nits, out.Stops = p.peakOf(outputs)*units.Nits(out.Cap), units.StopsBetween(p.levelOf(b, outputs), out.Cap)
	return out
}

// peakOf gives the luminance at level 1 of the dimmest panel type among outputs.
func (p *Plan) peakOf(outputs []int) units.Nits {
	least := units.Nits(0)
	for _, o := range outputs {
		for _, panel := range p.Rig.Outputs[o].Panels {
			if peak := p.Rig.PanelTypes[p.Rig.Panels[panel].Type].Peak; least == 0 || peak < least {
				least = peak
			}
		}
	}
	return least
}

// levelOf gives the level of a zone's brightest output.
func (p *Plan) levelOf(b box, outputs []int) units.Level {
	level := units.Level(0)
	for _, o := range outputs {
		level = max(level, b.levels[o])
	}
	return level
}
