package presets

import (
	"slices"

	"lookgate/presets/power"
	"lookgate/presets/units"
)

// box is what a preset asks of the outputs. Whatever the levels, up to the caps, the plant must carry it; so what is judged is the box from off to caps.
type box struct {
	levels []units.Level // per output, in the device's steps
	caps   []units.Level
	judged []units.Level // the caps, or the level after a restart of the device's own where that is higher
	ratios []units.Level // the caps before they go down to the devices' steps: what a scale is a scale of
	wanted []units.Level // the most that automatic outputs are to get; nothing for others
	auto   []bool
	binds  int  // conductor that holds the automatic outputs down, -1 for none
	none   bool // what is fixed is over by itself
}

// box lays a preset out over the outputs: the last of its zones that has an output decides it, and one in none is dark. Levels and caps are scaled and
// go down to the device's steps. An automatic zone's cap is the level that it gets, since more was just found not to pass.
func (p *Plan) box(preset *Preset, c Conditions) box {
	n := len(p.Rig.Outputs)
	b := box{levels: make([]units.Level, n), caps: make([]units.Level, n), ratios: make([]units.Level, n), wanted: make([]units.Level, n), auto: make([]bool, n), binds: -1}
	scale := c.Scale
	if scale == 0 {
		scale = 1
	}
	for _, z := range preset.Zones {
		for _, o := range p.Rig.Zones[z.Zone].Outputs {
			steps := p.steps(o)
			b.levels[o] = (z.Level * scale).Down(steps)
			b.ratios[o] = max(z.Level, z.Cap) * scale
			b.caps[o] = b.ratios[o].Down(steps)
			b.auto[o], b.wanted[o] = z.Auto, 0
			if z.Auto {
				b.wanted[o], b.levels[o], b.caps[o] = b.levels[o], 0, 0
			}
		}
	}
	if slices.Contains(b.auto, true) {
		p.raiseAuto(&b, c)
	}
	b.judged = p.withRestarts(b.caps)
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

// raiseAuto gives the automatic outputs the highest common level, none above what it is to get, that passes beside the others at their caps. Where restart
// levels count, the search goes on below what passes without them; where these do not pass at any level, they are what is wrong, and the levels stay.
func (p *Plan) raiseAuto(b *box, c Conditions) {
	levels, found := p.Power.Auto(power.State{Levels: b.caps, LockedOff: c.LockedOff}, b.wanted, b.auto)
	b.binds, b.none = found.Binding, found.None
	if !found.None && p.restartsLit() && !p.passes(levels, p.withRestarts(levels), c) {
		at := func(k int) []units.Level { return p.common(b, k) }
		passes := func(k int) bool { return p.passes(at(k), p.withRestarts(at(k)), c) }
		if k := lastThatPasses(found.Steps-1, passes); k >= 0 {
			levels = at(k)
			next := power.State{Levels: p.withRestarts(at(k + 1)), LockedOff: c.LockedOff, Void: p.Void}
			b.binds = p.tightest(p.Power.Over(next), next.Levels, c)
		}
	}
	for o := range b.levels {
		if b.auto[o] {
			b.levels[o], b.caps[o], b.ratios[o] = levels[o], levels[o], levels[o]
		}
	}
}

// common gives the caps with every automatic output at k steps of the finest of their devices, at most at what it is to get.
func (p *Plan) common(b *box, k int) []units.Level {
	finest := 1
	for o, auto := range b.auto {
		if auto {
			finest = max(finest, p.steps(o))
		}
	}
	levels := slices.Clone(b.caps)
	for o, auto := range b.auto {
		if auto {
			levels[o] = min(b.wanted[o], units.Level(float64(k)/float64(finest))).Down(p.steps(o))
		}
	}
	return levels
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
	caps := power.State{Levels: b.caps, LockedOff: c.LockedOff}
	l.worst = p.Power.Worst(caps, nil)
	for _, i := range p.Power.Over(caps) {
		l.over[i] = true
	}
	if slices.Equal(b.caps, b.judged) {
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

// passes reports whether the plant carries caps, and the outputs' restart levels beside them where those count.
func (p *Plan) passes(caps, judged []units.Level, c Conditions) bool {
	if len(p.Power.Over(power.State{Levels: caps, LockedOff: c.LockedOff})) > 0 {
		return false
	}
	return slices.Equal(caps, judged) || len(p.Power.Over(power.State{Levels: judged, LockedOff: c.LockedOff, Void: p.Void})) == 0
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
