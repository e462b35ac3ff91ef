package engine

import (
	"fmt"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/units"
)

// dip says what a switch to the verdict's levels would look like: nothing where every mixture of old and new passes, else that what gets darker goes first and
// what gets brighter waits for it.
func (e *Engine) dip(p *presets.Preset, v presets.Verdict) *DipView {
	with, without := e.highs()
	for o := range e.outs {
		l := e.onTheWay(o, v.Levels[o], p.Number)
		with[o], without[o] = max(with[o], l), max(without[o], l)
	}
	mixed, limits := false, e.limitsUnder(e.lent(v.Above))
	for c := range e.conductors {
		mixed = mixed || !within(e.worst(c, with, without), limits[c])
	}
	if !mixed {
		return nil
	}
	now, later, both := units.Level(0), units.Level(0), units.Level(0)
	d := &DipView{}
	for o := range e.outs {
		old, panels := e.outs[o].light(e.deviceOf(o), false), units.Level(len(e.plan.Rig.Outputs[o].Panels))
		now, later, both = now+old*panels, later+v.Levels[o]*panels, both+min(old, v.Levels[o])*panels
		if r := e.deviceOf(o); v.Levels[o] < old {
			d.About = max(d.About, r.PacketLife+r.Settling+p.FadeDown)
		}
	}
	d.Depth = -openStops // to dark: a view goes out as JSON, which knows no infinity
	if both > 0 {
		d.Depth = units.StopsBetween(min(now, later), both)
	}
	d.Zones = e.waitingZones(v)
	return d
}

// depth says how deep the dip is.
func (d *DipView) depth() string {
	if d.Depth == -openStops {
		return "to dark"
	}
	return fmt.Sprintf("by %v", d.Depth)
}

// waitingZones names the zones that get brighter, which are those that wait.
func (e *Engine) waitingZones(v presets.Verdict) []string {
	var names []string
	for _, z := range e.plan.Rig.Zones {
		for _, o := range z.Outputs {
			if v.Levels[o] > e.outs[o].light(e.deviceOf(o), false) {
				names = append(names, z.Name)
				break
			}
		}
	}
	return names
}

// dipFinding refuses a preset that allows no dip while the switch to it would have one.
func (e *Engine) dipFinding(p *presets.Preset, v presets.Verdict) *finding.Finding {
	d := e.dip(p, v)
	if d == nil {
		return nil
	}
	f := finding.New(finding.WouldDip, finding.Place{Kind: "preset", Name: p.Name}, "allows no dip, and the switch from what is on would dip "+d.depth())
	f.Remedies = []finding.Remedy{{When: finding.Now, Words: "black the wall out first", Do: &finding.Do{Verb: string(Blackout)}}}
	return &f
}

// binding names the conductor with the least room under the caps of the look: what stops a level there.
func (e *Engine) binding() string {
	name, room := "the preset's own level", units.Amps(0)
	with, _ := e.loads(&e.wanted)
	for c, k := range e.conductors {
		w := e.plan.Power.WorstOf(c, power.State{Levels: with, LockedOff: e.locked})
		if left := e.limits[c] - w; c == 0 || left < room {
			name, room = fmt.Sprintf("least room is on %v %s, %v of %v", k.Kind, k.Name, left, e.limits[c]), left
		}
	}
	return name
}
