package engine

import (
	"lookgate/presets/units"
)

// content gives what part of the way from black to full white an output's picture may take its panels at most: the highest by every picture that its device may show
// now or come to show. A picture that no preset speaks of may be full white. That a picture is what its preset says is nobody's to see here; it is an assumption, and so
// is that a device that restarts while a level is on its way to it shows no more than that.
func (e *Engine) content(o int) units.Level {
	if !e.plan.Credits() {
		return 1
	}
	if e.has(CreditByWanted) {
		return units.Level(e.plan.Content(e.wanted.Picture.Layout, o))
	}
	most, pictures := units.Share(0), &e.devs[e.plan.Rig.Outputs[o].Device].picture
	for _, p := range pictures.base {
		most = max(most, e.plan.Content(p.Layout, o))
	}
	for _, p := range pictures.packets {
		most = max(most, e.plan.Content(p.value.Layout, o))
	}
	return units.Level(most)
}

// contentWith is content once a preset's picture may be up besides.
func (e *Engine) contentWith(o, preset int) units.Level {
	return max(e.content(o), units.Level(e.plan.Content(preset, o)))
}

// onTheWay gives the most that an output loads the plant with on its way to a level and the picture of a preset: it goes down first where it has to, then its picture
// changes, and then it goes up.
func (e *Engine) onTheWay(o int, level units.Level, preset int) units.Level {
	old, next := e.outs[o].light(e.deviceOf(o), false), units.Level(e.plan.Content(preset, o))
	return max(old*e.content(o), min(old, level)*e.contentWith(o, preset), level*next)
}

// loads gives what a look's caps load the plant with, its picture up, restart levels counted and not.
func (e *Engine) loads(w *Wanted) (with, without []units.Level) {
	with, without = make([]units.Level, len(w.Caps)), make([]units.Level, len(w.Caps))
	for o, cap := range w.Caps {
		without[o] = cap * units.Level(e.plan.Content(w.Picture.Layout, o))
		with[o] = max(without[o], e.deviceOf(o).Restart)
	}
	return with, without
}

// showable reports whether a device may be told its picture: whether every conductor of its outputs carries them as bright as they may stand with that picture up. A
// picture that is no brighter than what may be up may always go.
func (e *Engine) showable(device int) bool {
	if !e.plan.Credits() || e.has(PictureUnchecked) {
		return true
	}
	preset, brighter := e.devs[device].want.Layout, false
	with, without := e.highs()
	for _, o := range e.devs[device].outputs {
		if next := e.contentWith(o, preset); next > e.content(o) {
			brighter = true
			l := e.outs[o].light(e.deviceOf(o), false) * next
			with[o], without[o] = max(with[o], l), max(without[o], l)
		}
	}
	if !brighter {
		return true
	}
	for _, o := range e.devs[device].outputs {
		for _, c := range e.plan.Power.OfOutput(o) {
			if !e.fits(c, e.worst(c, with, without)) {
				return false
			}
		}
	}
	return true
}
