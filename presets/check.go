package presets

import (
	"lookgate/presets/finding"
	"lookgate/presets/picture"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Check says whether a preset may be on, and everything that speaks against it: breakers that do not protect the cables of circuits that it lights, then
// conductors in the power model's order, then time above continuous limits, then automatic zones that stay dark, then windows, sources and data runs.
//
// What must pass is the whole box of levels from off to the caps, with every output that restarts brighter than its cap counted at its restart level, since
// a device may restart while the preset is on. A remedy for now is a command that was checked in the same way and passed. A switch to the preset may
// still have to wait or to dip; that is the engine's to say.
func Check(p *Plan, preset *Preset, c Conditions) Verdict {
	shown := p.shown(preset)
	p = p.allowing(preset)
	v, b := p.judge(preset, c, shown)
	v.Cap, v.Binding, v.BySupply = p.highest(b, c)
	if d, ok := p.drop(b.loads, c); ok {
		v.Drop = &d
		v.Findings = append(v.Findings, p.dropOver(d)...)
	}
	if !v.Admitted {
		p.addRemedies(&v, preset, c, b, shown)
	}
	return v
}

// Admit is Check for whoever switches: where the preset passes, the cap is not looked for (Cap is 0, Binding -1), which is most of the work; where it does not, the
// verdict is Check's.
func Admit(p *Plan, preset *Preset, c Conditions) Verdict {
	shown := p.shown(preset)
	v, _ := p.allowing(preset).judge(preset, c, shown)
	if v.Admitted {
		return v
	}
	return Check(p, preset, c)
}

// shown gives what is wrong with a preset's picture. That of the book's own presets was found when the plan was made: it depends on nothing else, and exact rates take
// longer than all the rest of a check.
func (p *Plan) shown(preset *Preset) []finding.Finding {
	for i := range p.Book.Presets {
		if preset == &p.Book.Presets[i] && i < len(p.pictures) {
			return p.pictures[i]
		}
	}
	return picture.Check(p.Rig, preset.Mode, preset.Windows)
}

// judge gives the verdict without remedies and cap, and the box that it was reached from. What is wrong with the picture comes in, as no scale changes it.
func (p *Plan) judge(preset *Preset, c Conditions, shown []finding.Finding) (Verdict, box) {
	b := p.box(preset, c)
	l := p.load(b, c)
	v := Verdict{Preset: preset.Number, Name: preset.Name, Levels: b.levels, Caps: b.caps, Binding: -1}
	v.Findings = append(p.unprotected(b, c), p.overloads(b, l)...)
	v.Findings = append(v.Findings, p.collapsed(b.loads, c)...)
	v.Findings = append(v.Findings, p.capacityOver(preset, b, c)...)
	if v.Credit = p.creditOf(b, c); v.Credit != nil {
		v.Findings = append(v.Findings, p.onCredit(preset, v.Credit))
	}
	v.Above = p.aboveOf(l.worst)
	v.Findings = append(v.Findings, p.aboveTime(preset, v.Above, c)...)
	if f, ok := p.autoDark(preset, b); ok {
		v.Findings = append(v.Findings, f)
	}
	v.Findings = append(v.Findings, shown...)
	v.Admitted = !finding.Refuses(v.Findings)
	for i, cond := range p.Power.Conductors() {
		v.Conductors = append(v.Conductors, ConductorLoad{Conductor: i, Worst: l.worst[i], Limit: cond.Limit, Void: p.Void[i], For: p.forAt(i, preset)})
	}
	return v, b
}

// unprotected finds the circuits whose breakers do not protect their cables and whose panels the preset lights. A circuit that is locked off is not lit.
func (p *Plan) unprotected(b box, c Conditions) []finding.Finding {
	var fs []finding.Finding
	for i := range p.Rig.Circuits {
		if c.LockedOff != nil && c.LockedOff[i] || !p.lights(b, i) {
			continue
		}
		if f, ok := p.breakerOverCable(i); ok {
			fs = append(fs, f)
		}
	}
	return fs
}

func (p *Plan) lights(b box, circuit int) bool {
	for _, o := range p.feeding[circuit] {
		if b.caps[o] > 0 {
			return true
		}
	}
	return false
}

// scaleSteps is how finely a cap is looked for: tenths of a per cent.
const scaleSteps = 1000

// highest gives the highest scale of the preset's ratios that passes, and what stops it: a conductor, or what stands behind the supply.
func (p *Plan) highest(b box, c Conditions) (scale units.Share, binding int, bySupply bool) {
	moving := make([]bool, len(b.ratios))
	for o, l := range b.ratios {
		moving[o] = l > 0
	}
	alone := p.Power.Cap(power.State{Levels: b.caps, Content: b.content, LockedOff: c.LockedOff}, b.ratios, moving, scaleSteps)
	at := func(k int) []units.Level { return lit(p.scaled(b.ratios, k), b.content) }
	over := func(k int) []int {
		return p.Power.Over(power.State{Levels: p.withRestarts(at(k)), LockedOff: c.LockedOff, Void: p.Void})
	}
	passes := func(k int) bool { return len(over(k)) == 0 && p.carries(at(k), p.withRestarts(at(k)), c) }
	if !p.restartsLit() && !p.limited() || alone.None || passes(alone.Steps) {
		return alone.Scale, alone.Binding, false
	}
	k := lastThatPasses(alone.Steps-1, passes)
	binding = p.tightest(over(k+1), p.withRestarts(at(k+1)), c)
	return units.Share(float64(max(k, 0)) / scaleSteps), binding, binding < 0
}

// scaled gives levels times k/scaleSteps, at most 1, in the devices' steps.
func (p *Plan) scaled(levels []units.Level, k int) []units.Level {
	out := make([]units.Level, len(levels))
	for o, l := range levels {
		out[o] = min(1, units.Level(float64(l)*float64(k)/scaleSteps)).Down(p.steps(o))
	}
	return out
}

func (p *Plan) restartsLit() bool {
	for _, l := range p.restart {
		if l > 0 {
			return true
		}
	}
	return false
}

// tightest gives the conductor of a list that is the most over its limit, as a share of it.
func (p *Plan) tightest(over []int, levels []units.Level, c Conditions) int {
	worst := p.Power.Worst(power.State{Levels: levels, LockedOff: c.LockedOff}, nil)
	at, most := -1, 0.0
	for _, i := range over {
		if share := float64(worst[i]) / float64(p.Power.Conductors()[i].Limit); at < 0 || share > most {
			at, most = i, share
		}
	}
	return at
}

// lastThatPasses gives the highest whole number from 0 to top that passes, where all below one that passes pass; -1 where 0 does not.
func lastThatPasses(top int, passes func(int) bool) int {
	pass, fail := -1, top+1
	for fail-pass > 1 {
		k := pass + (fail-pass)/2
		if passes(k) {
			pass = k
		} else {
			fail = k
		}
	}
	return pass
}

// placeOf names a conductor as findings do.
func placeOf(c rig.Conductor) finding.Place {
	return finding.Place{Kind: c.Kind.String(), Name: c.Name}
}
