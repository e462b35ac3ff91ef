package engine

import (
	"slices"

	"lookgate/presets"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

func emptyLook(outputs int) Wanted {
	return Wanted{Scale: 1, Levels: make([]units.Level, outputs), Black: make([]bool, outputs), Caps: make([]units.Level, outputs)}
}

// target gives the level that the look asks of an output: its ratio at the look's scale, no higher than its cap, on a step of the device.
func (w *Wanted) target(o, steps int) units.Level {
	return min(w.Caps[o], w.Levels[o]*w.Scale).Down(steps)
}

// clone copies the look so that one side can change.
func (w Wanted) clone() Wanted {
	w.Levels, w.Black, w.Caps, w.Above = slices.Clone(w.Levels), slices.Clone(w.Black), slices.Clone(w.Caps), slices.Clone(w.Above)
	return w
}

// change is what one command makes of the look, decided and not yet done.
type change struct {
	look     Wanted
	outputs  []int // that the command speaks of, ascending
	picture  bool  // it is a preset: it asks for layout and mode, and what was on becomes what back goes to
	leaves   bool  // it is no preset, and what was on becomes what back goes to all the same
	disarm   bool  // it was armed, and is not any more
	fadeUp   Instant
	fadeDown Instant
}

// lowers reports whether nothing of the wall can be brighter after the change: no level that is wanted rises, no blackout is lifted, and the picture stays.
func (e *Engine) lowers(c change) bool {
	if c.picture && c.look.Picture != e.wanted.Picture {
		return false
	}
	for _, o := range c.outputs {
		steps := e.deviceOf(o).Steps
		if c.look.Black[o] {
			continue
		}
		if e.wanted.Black[o] || e.outs[o].dark || c.look.Caps[o] > e.wanted.Caps[o] || c.look.target(o, steps) > e.outs[o].goal {
			return false
		}
	}
	return true
}

// within reports whether the change stays inside the box of caps that is on disk already, with the picture as it is.
func (e *Engine) within(c change) bool {
	if c.look.Preset != e.wanted.Preset || c.look.Picture != e.wanted.Picture {
		return false
	}
	for _, o := range c.outputs {
		if c.look.Caps[o] > e.wanted.Caps[o] {
			return false
		}
	}
	return true
}

// apply makes the change what is wanted: from here the drive brings the wall there, lowering first.
func (e *Engine) apply(c change) {
	until := e.now + e.plan.Rig.Hold + c.fadeUp + c.fadeDown
	for _, o := range c.outputs {
		out := &e.outs[o]
		goal := c.look.target(o, e.deviceOf(o).Steps)
		if !out.driven || goal != out.goal || out.dark != c.look.Black[o] || out.fade.on {
			out.head(goal, c.fadeUp, c.fadeDown, e.now)
		}
		out.dark, out.driven, out.falls, out.live = c.look.Black[o], true, false, until
		out.attested = out.attested && out.dark
		out.retell(e.deviceOf(o))
		if len(e.alarms) > 0 {
			e.clear("moved " + e.name(o))
		}
	}
	if c.picture {
		for i := range e.devs {
			e.devs[i].want, e.devs[i].driven, e.devs[i].live = c.look.Picture, true, until
			e.devs[i].picture.again = e.plan.Rig.Devices[i].Class == rig.Silent
		}
	}
	e.wanted = e.wanted.worn(c)
	if c.picture || c.leaves {
		e.lend()
	}
	if e.set.Watch {
		e.assume(c.outputs)
	}
	for i := range e.devs {
		e.devs[i].askAt = min(e.devs[i].askAt, e.now+e.plan.Rig.Devices[i].Retry)
	}
}

// worn gives the look that is wanted once the change is done. What was armed or on in the meantime is taken from now, not from when the change was decided.
func (w Wanted) worn(c change) Wanted {
	next := c.look
	next.Armed, next.Previous = w.Armed, w.Previous
	if c.disarm {
		next.Armed = 0
	}
	if (c.picture || c.leaves) && w.Preset != 0 && w.Preset != c.look.Preset {
		next.Previous = w.Preset
	}
	return next
}

// assume takes what was wanted as what is, in watch mode, where another way of working drives the wall.
func (e *Engine) assume(outputs []int) {
	for _, i := range outputs {
		o := &e.outs[i]
		o.stop()
		o.level = register[units.Level]{base: []units.Level{o.goal}, assumed: true}
		o.black = register[bool]{base: []bool{o.dark}, assumed: true}
	}
	for i := range e.devs {
		e.devs[i].picture = register[Picture]{base: []Picture{e.devs[i].want}, assumed: true}
	}
}

// recalled gives the change that puts a preset on at a scale, under the verdict that it got at that scale.
func (e *Engine) recalled(p *presets.Preset, v presets.Verdict, scale units.Level) change {
	w := emptyLook(len(e.outs))
	w.Preset, w.Armed, w.Previous = p.Number, e.wanted.Armed, e.wanted.Previous
	copy(w.Caps, v.Caps)
	w.Scale = scale
	for o := range w.Levels {
		w.Levels[o] = v.Levels[o] / scale
	}
	if w.Above = e.lent(v.Above); w.Above != nil {
		w.For = p.Above
	}
	w.Picture = Picture{Layout: p.Number, Mode: p.Mode + 1}
	return change{look: w, outputs: e.all(), picture: true, fadeUp: p.FadeUp, fadeDown: p.FadeDown}
}

func (e *Engine) all() []int {
	all := make([]int, len(e.outs))
	for i := range all {
		all[i] = i
	}
	return all
}

// conditions are what every check of the moment takes as given.
func (e *Engine) conditions(scale units.Level) presets.Conditions {
	return presets.Conditions{LockedOff: append([]bool(nil), e.locked...), Above: e.allowances(), Scale: scale}
}
