package engine

import (
	"fmt"
	"slices"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// reloaded takes an edited site. Any reason against it changes nothing: the engine goes on with the site that it has, and the reasons stay visible until the
// next reload that passes.
func (e *Engine) reloaded(in Reload) {
	c := in.Command
	if len(in.Problems) > 0 || in.Plan == nil {
		e.reload = in.Problems
		var fs []finding.Finding
		for _, p := range in.Problems {
			f := finding.New(finding.SiteBroken, finding.Place{Kind: "site", Name: e.plan.Rig.Name}, p)
			f.Remedies = []finding.Remedy{{When: finding.Later, Words: "mend the file there and reload; the running site stays"}}
			fs = append(fs, f)
		}
		e.refuse(c, fs...)
		return
	}
	next, fs := e.moved(in.Plan)
	if len(fs) == 0 {
		fs = next.misfits(e)
	}
	if len(fs) > 0 {
		e.reload = sentences(fs)
		e.refuse(c, fs...)
		return
	}
	for _, list := range [][]gated{e.gate.flying, e.gate.waiting} {
		for i := range list {
			list[i].dead = list[i].change != nil
		}
	}
	next.reload = nil
	out, proved := e.out, e.keptProofs()
	*e = *next
	e.out = out
	e.unproved(proved)
	e.gate.dirty = true
	e.done(c, nil)
}

// moved gives an engine for the new plan with the state of this one carried over by name, or the findings against lit panels that would change hands.
func (e *Engine) moved(plan *presets.Plan) (*Engine, []finding.Finding) {
	next := *e
	next.adopt(plan)
	if e.running != nil {
		next.running = &running{command: e.running.command, since: e.running.since, until: e.running.until, picture: e.running.picture, resumed: e.running.resumed}
	}
	fs := e.sameDevices(plan.Rig)
	for i, old := range e.plan.Rig.Outputs {
		k := slices.IndexFunc(plan.Rig.Outputs, func(o rig.Output) bool { return o.Name == old.Name })
		if k >= 0 && e.sameOutput(i, plan.Rig, k) {
			next.outs[k] = e.outs[i]
			next.follow(e.running, i, k)
			next.wanted.Levels[k], next.wanted.Caps[k], next.wanted.Black[k] = e.wanted.Levels[i], e.wanted.Caps[i], e.wanted.Black[i]
			continue
		}
		if e.outs[i].light(e.deviceOf(i), false) == 0 {
			next.heirs(&e.outs[i], e.plan.Rig, old)
		} else {
			f := finding.New(finding.LitPanelsMove, finding.Place{Kind: "output", Name: old.Name}, "may be lit, and the edited site gives its panels another output, circuit or device")
			f.Remedies = []finding.Remedy{{When: finding.Now, Words: "black out the wall, then reload", Do: &finding.Do{Verb: string(Blackout)}}}
			fs = append(fs, f)
		}
	}
	w := &next.wanted
	w.Preset, w.Scale, w.Picture, w.Previous, w.Armed = e.wanted.Preset, e.wanted.Scale, e.wanted.Picture, e.wanted.Previous, e.wanted.Armed
	w.Identify = e.wanted.Identify
	w.For, w.Above = e.wanted.For, next.lentAgain(e.wanted.Above, e.circuitNames)
	for c := range plan.Rig.Circuits {
		for k := range e.plan.Rig.Circuits {
			if e.plan.Rig.Circuits[k].Name == plan.Rig.Circuits[c].Name {
				next.setService(c, e.services[k])
			}
		}
	}
	next.proofs = Proved(plan.Rig, e.keptProofs())
	next.moveAccounts(e)
	next.setLimits()
	if len(fs) == 0 {
		copy(next.devs, e.devs)
		for i := range next.devs {
			next.devs[i].outputs = newDevice(plan.Rig, i, 0).outputs
		}
	}
	return &next, fs
}

// heirs gives what a dark output's device holds at its address to the output that has that address now.
func (e *Engine) heirs(o *output, r *rig.Rig, old rig.Output) {
	for k, out := range e.plan.Rig.Outputs {
		if out.Address == old.Address && e.plan.Rig.Devices[out.Device].Name == r.Devices[old.Device].Name {
			e.outs[k] = *o
			e.outs[k].goal, e.outs[k].live = 0, 0
			e.outs[k].stop()
			e.wanted.Black[k] = o.dark
		}
	}
}

// follow takes output i of the old rig, which is k now, into the command that runs.
func (e *Engine) follow(old *running, i, k int) {
	if old != nil && slices.Contains(old.outputs, i) {
		e.running.outputs = append(e.running.outputs, k)
	}
}

// sameDevices refuses an edit of the devices themselves: their wires are opened at the start.
func (e *Engine) sameDevices(r *rig.Rig) []finding.Finding {
	if slices.EqualFunc(e.plan.Rig.Devices, r.Devices, func(a, b rig.Device) bool { return a == b }) {
		return nil
	}
	f := finding.New(finding.LitPanelsMove, finding.Place{Kind: "site", Name: r.Name}, "the edited site drives other devices, or drives them otherwise")
	f.Remedies = []finding.Remedy{{When: finding.Later, Words: "black out the wall and start lookgate again with the edited site"}}
	return []finding.Finding{f}
}

// sameOutput reports whether an output keeps its device, address and panels, each on the circuit of the same name.
func (e *Engine) sameOutput(i int, r *rig.Rig, k int) bool {
	a, b := e.plan.Rig.Outputs[i], r.Outputs[k]
	if e.plan.Rig.Devices[a.Device].Name != r.Devices[b.Device].Name || a.Address != b.Address {
		return false
	}
	return slices.Equal(placed(e.plan.Rig, a.Panels), placed(r, b.Panels))
}

// placed describes panels by where they hang and what feeds them, sorted.
func placed(r *rig.Rig, panels []int) []string {
	feeds := make([]string, len(r.Panels))
	for _, c := range r.Circuits {
		for _, p := range c.Panels {
			feeds[p] = c.Name
		}
	}
	var out []string
	for _, p := range panels {
		at := r.Panels[p]
		out = append(out, fmt.Sprintf("%s C%dR%d %s", r.Walls[at.Wall].Name, at.Column, at.Row, feeds[p]))
	}
	slices.Sort(out)
	return out
}

// misfits gives the findings against what is on the wall, and may be levelled to, under the engine's own plan. A conductor that was no better under the plan before
// is none of them: where what a device holds is not known, an edit that makes nothing worse, or none at all, has to pass.
func (e *Engine) misfits(before *Engine) []finding.Finding {
	was := map[finding.Place]float64{}
	for c, w := range before.levellable() {
		was[before.placeOf(c)] = float64(w) / float64(before.limits[c])
	}
	var fs []finding.Finding
	for c, w := range e.levellable() {
		share, known := was[e.placeOf(c)]
		if e.fits(c, w) || known && float64(w)/float64(e.limits[c]) <= share*(1+tolerance) {
			continue
		}
		f := e.overFinding(c, w, e.limits[c])
		f.Remedies = []finding.Remedy{{When: finding.Later, Words: "recall a preset that the edited site carries, then reload; or mend the edit"}}
		fs = append(fs, f)
	}
	return fs
}

// levellable gives the worst current of every conductor under what may be on the wall and under the caps that it may be levelled to.
func (e *Engine) levellable() []units.Amps {
	with, without := e.highs()
	for o := range e.outs {
		caps := units.Level(0)
		if e.outs[o].driven {
			caps = e.wanted.Caps[o] * e.contentWith(o, e.wanted.Picture.Layout)
		}
		with[o], without[o] = max(with[o], caps), max(without[o], caps)
	}
	amps := make([]units.Amps, len(e.conductors))
	for c := range amps {
		amps[c] = e.worst(c, with, without)
	}
	return amps
}

func (e *Engine) placeOf(c int) finding.Place {
	return finding.Place{Kind: e.conductors[c].Kind.String(), Name: e.conductors[c].Name}
}

func sentences(fs []finding.Finding) []string {
	var out []string
	for _, f := range fs {
		out = append(out, f.Place.String()+" "+f.Sentence)
	}
	return out
}
