package presets

import (
	"slices"

	"lookgate/presets/power"
	"lookgate/presets/units"
)

// box is what a preset asks of the outputs. Whatever the levels, up to the caps, the plant must carry it; so what is judged is the box from off to caps.
type box struct {
	levels  []units.Level // per output, in the device's steps
	caps    []units.Level
	loads   []units.Level // the caps, by what the picture takes of them
	judged  []units.Level // that, or the level after a restart of the device's own where that is higher
	content []units.Share // what the preset states and may count on; nil for full white
	ratios  []units.Level // the caps before they go down to the devices' steps: what a scale is a scale of
	wanted  []units.Level // the most that automatic outputs are to get; nothing for others
	auto    []bool
	binds   int  // conductor that holds the automatic outputs down, -1 for none
	none    bool // what is fixed is over by itself
}

// box lays a preset out over the outputs: the last of its zones that has an output decides it, and one in none is dark. Levels and caps are scaled and
// go down to the device's steps. An automatic zone's cap is the level that it gets, since more was just found not to pass.
func (p *Plan) box(preset *Preset, c Conditions) box {
	n := len(p.Rig.Outputs)
	b := box{levels: make([]units.Level, n), caps: make([]units.Level, n), ratios: make([]units.Level, n), wanted: make([]units.Level, n), auto: make([]bool, n), binds: -1, content: p.contentOf(preset)}
	scale := c.Scale
	if scale == 0 {
		scale = 1
	}
	zones := slices.Repeat([]int{power.Alone}, n)
	for k, z := range preset.Zones {
		for _, o := range p.Rig.Zones[z.Zone].Outputs {
			steps := p.steps(o)
			b.levels[o] = (z.Level * scale).Down(steps)
			b.ratios[o] = max(z.Level, z.Cap) * scale
			b.caps[o] = b.ratios[o].Down(steps)
			b.auto[o], b.wanted[o], zones[o] = z.Auto, 0, power.Alone
			if z.Auto {
				zones[o] = k
				b.wanted[o], b.levels[o], b.caps[o] = b.levels[o], 0, 0
			}
		}
	}
	for _, l := range preset.Outputs {
		at := (l.Level * scale).Down(p.steps(l.Output))
		b.levels[l.Output], b.caps[l.Output], b.ratios[l.Output] = at, at, l.Level*scale
		b.auto[l.Output], b.wanted[l.Output], zones[l.Output] = false, 0, power.Alone
	}
	if slices.Contains(b.auto, true) {
		p.raiseAuto(&b, zones, c)
	}
	b.loads = lit(b.caps, b.content)
	b.judged = p.withRestarts(b.loads)
	return b
}

func (p *Plan) steps(output int) int { return p.Rig.Devices[p.Rig.Outputs[output].Device].Steps }

// withRestarts gives the levels, or those that the outputs take when their devices restart where those are higher.
func (p *Plan) withRestarts(levels []units.Level) []units.Level {
	with := make([]units.Level, len(levels))
	for o, l := range levels {
		with[o] = max(l, p.restart[o])
	}
	return with
}

// raiseAuto gives the automatic zones the highest levels that pass beside the others at their caps, max-min fair. Where restart levels count, the search goes on below
// what passes without them; where these do not pass at any level, they are what is wrong, and the levels stay.
func (p *Plan) raiseAuto(b *box, zones []int, c Conditions) {
	alone := func(levels []units.Level) bool {
		return len(p.Power.Over(power.State{Levels: levels, Content: b.content, LockedOff: c.LockedOff})) == 0
	}
	f := p.Power.Fair(b.caps, b.wanted, zones, alone)
	over := func(levels []units.Level) []int {
		return p.Power.Over(power.State{Levels: levels, Content: b.content, LockedOff: c.LockedOff})
	}
	if !f.None && (p.restartsLit() || p.limited()) && !p.passes(lit(f.Levels, b.content), p.withRestarts(lit(f.Levels, b.content)), c) {
		all := p.Power.Fair(b.caps, b.wanted, zones, func(levels []units.Level) bool {
			loads := lit(levels, b.content)
			return p.passes(loads, p.withRestarts(loads), c)
		})
		if !all.None {
			f = all
			over = func(levels []units.Level) []int {
				return p.Power.Over(power.State{Levels: p.withRestarts(lit(levels, b.content)), LockedOff: c.LockedOff, Void: p.Void})
			}
		}
	}
	b.none = f.None
	if f.Next != nil {
		b.binds = p.tightest(over(f.Next), lit(f.Next, b.content), c)
	}
	for o := range b.levels {
		if b.auto[o] {
			b.levels[o], b.caps[o], b.ratios[o] = f.Levels[o], f.Levels[o], f.Levels[o]
		}
	}
}

// load is what a box makes on every conductor: by its caps alone, and as it is judged.
type load struct {
	worst     []units.Amps // as judged: restarts counted except on void conductors
	over      []bool       // by the caps alone
	overAgain []bool       // only once restarts count
}

// load computes a box. Where no restart level is above its cap the two are one computation.
func (p *Plan) load(b box, c Conditions) load {
	n := len(p.Power.Conductors())
	l := load{over: make([]bool, n), overAgain: make([]bool, n)}
	caps := power.State{Levels: b.loads, LockedOff: c.LockedOff}
	l.worst = p.Power.Worst(caps, nil)
	for _, i := range p.Power.Over(caps) {
		l.over[i] = true
	}
	if slices.Equal(b.loads, b.judged) {
		return l
	}
	judged := power.State{Levels: b.judged, LockedOff: c.LockedOff, Void: p.Void}
	for i, worst := range p.Power.Worst(judged, nil) {
		if !p.Void[i] {
			l.worst[i] = worst
		}
	}
	for _, i := range p.Power.Over(judged) {
		l.overAgain[i] = !l.over[i]
	}
	return l
}

// overAt lists the conductors that loads take over by themselves.
func (p *Plan) overAt(loads []units.Level, c Conditions) []int {
	return p.Power.Over(power.State{Levels: loads, LockedOff: c.LockedOff})
}

// overRestarted lists those that they take over with restarts counted, void ones left out.
func (p *Plan) overRestarted(loads []units.Level, c Conditions) []int {
	return p.Power.Over(power.State{Levels: p.withRestarts(loads), LockedOff: c.LockedOff, Void: p.Void})
}

// passes reports whether the plant, and what stands behind its supply, carries what caps load it with, and the outputs' restart levels beside them where those count.
func (p *Plan) passes(loads, judged []units.Level, c Conditions) bool {
	if len(p.Power.Over(power.State{Levels: loads, LockedOff: c.LockedOff})) > 0 || !p.carries(loads, judged, c) {
		return false
	}
	return slices.Equal(loads, judged) || len(p.Power.Over(power.State{Levels: judged, LockedOff: c.LockedOff, Void: p.Void})) == 0
}

// darkened lists the automatic outputs that were to get light and get none. Where what is fixed is over by itself, that is what is to be said.
func (b box) darkened() []int {
	if b.none {
		return nil
	}
	var dark []int
	for o, auto := range b.auto {
		if auto && b.wanted[o] > 0 && b.levels[o] == 0 {
			dark = append(dark, o)
		}
	}
	return dark
}
