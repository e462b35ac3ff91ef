package engine

import (
	"fmt"
	"math"
	"slices"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// command takes one order: it is refused with findings, or becomes a change of the look, or is done on the spot.
func (e *Engine) command(c Command) {
	switch c.Verb {
	case Recall, Worklight, Go, Back:
		e.recall(c)
	case Arm:
		e.arm(c)
	case Level, StepBy:
		e.scale(c)
	case ZoneLevel:
		e.zoneLevel(c)
	case Blackout:
		e.blackout(c)
	case CircuitOut, CircuitIn, LockedOff:
		e.circuit(c)
	case Attest:
		e.attest(c)
	case Identify:
		e.identify(c)
	case Prove:
		e.prove(c)
	case Query:
		for i := range e.devs {
			e.devs[i].askAt = e.now
		}
		e.done(c, nil)
	default:
		e.refuse(c, finding.New(finding.BadArguments, verbPlace(c), fmt.Sprintf("there is no command %q", c.Verb)))
	}
}

func verbPlace(c Command) finding.Place { return finding.Place{Kind: "command", Name: string(c.Verb)} }

// refuse answers a command with what stands against it. Nothing has changed.
func (e *Engine) refuse(c Command, fs ...finding.Finding) {
	e.out.Answers = append(e.out.Answers, Answer{c.ID, c.Station, c.Verb, Refused, remedied(fs)})
}

func (e *Engine) accept(c Command, fs []finding.Finding) {
	e.out.Answers = append(e.out.Answers, Answer{c.ID, c.Station, c.Verb, Accepted, fs})
}

// done answers a command that is over as soon as it is accepted.
func (e *Engine) done(c Command, fs []finding.Finding) {
	e.accept(c, fs)
	e.end(Outcome{ID: c.ID, Station: c.Station, Verb: c.Verb, End: On})
}

func (e *Engine) end(o Outcome) { e.out.Outcomes = append(e.out.Outcomes, o) }

// preset finds the preset that a command names, by its number or else its name.
func (e *Engine) preset(c Command) (*presets.Preset, *finding.Finding) {
	var p *presets.Preset
	name := fmt.Sprint(c.Preset)
	if c.Preset != 0 {
		p = e.plan.Book.ByNumber(c.Preset)
	} else {
		p, name = e.plan.Book.ByName(c.Target), c.Target
	}
	if p != nil {
		return p, nil
	}
	f := finding.New(finding.UnknownPreset, finding.Place{Kind: "preset", Name: name}, fmt.Sprintf("the book has no preset %s", name))
	f.Remedies = []finding.Remedy{{When: finding.Now, Words: "recall one of the numbers that the book has"}}
	return nil, &f
}

// which gives the preset that a recall, go, back or worklight means.
func (e *Engine) which(c Command) (*presets.Preset, *finding.Finding) {
	refuse := func(code finding.Code, sentence string) (*presets.Preset, *finding.Finding) {
		f := finding.New(code, verbPlace(c), sentence)
		return nil, &f
	}
	switch c.Verb {
	case Go:
		if e.wanted.Armed == 0 {
			return refuse(finding.NothingArmed, "no preset is armed")
		}
		return e.preset(Command{Preset: e.wanted.Armed})
	case Back:
		if e.wanted.Previous == 0 {
			return refuse(finding.NothingBefore, "there was no look before this one")
		}
		return e.preset(Command{Preset: e.wanted.Previous})
	case Worklight:
		if e.plan.Book.Worklight == 0 {
			return refuse(finding.NoWorklight, "the book names no worklight")
		}
		return e.preset(Command{Preset: e.plan.Book.Worklight})
	}
	return e.preset(c)
}

// maxStops is far beyond any wall's range, and near enough that a scale times it is still a number: nothing times infinity is none, and would pass for a lowering.
const maxStops = 64

// minScale is the lowest scale that is not nothing: far below any device's step, and such that a level divided by it is still a number.
const minScale = 1e-9

// badLevel checks the number that a command carries.
func badLevel(c Command) *finding.Finding {
	switch {
	case (c.Verb == Level || c.Verb == ZoneLevel || c.HasLevel) && !c.Level.Valid():
		f := finding.New(finding.BadLevel, verbPlace(c), fmt.Sprintf("a level is a number from 0 to 1, not %v", float64(c.Level)))
		return &f
	case c.Verb == StepBy && !units.Finite(c.Stops):
		f := finding.New(finding.BadLevel, verbPlace(c), fmt.Sprintf("a step is a number of stops, not %v", float64(c.Stops)))
		return &f
	case c.Verb == StepBy && math.Abs(float64(c.Stops)) > maxStops:
		f := finding.New(finding.BadLevel, verbPlace(c), fmt.Sprintf("a step is at most %d stops, not %v", maxStops, float64(c.Stops)))
		return &f
	}
	return nil
}

// recall puts a preset on: checked as a whole under the circuits as they are, kept on disk, then switched to.
func (e *Engine) recall(c Command) {
	if f := badLevel(c); f != nil {
		e.refuse(c, *f)
		return
	}
	p, f := e.which(c)
	if f != nil {
		e.refuse(c, *f)
		return
	}
	v, ok := e.judge(c, p)
	if !ok {
		return
	}
	scale := units.Level(1)
	if c.HasLevel {
		scale = c.Level
	}
	ch := e.recalled(p, v, scale)
	ch.disarm = c.Verb == Go
	e.order(c, ch, v.Findings)
}

// judge gives the verdict of a preset, and answers a command that it refuses. In watch mode it tells and refuses nothing.
func (e *Engine) judge(c Command, p *presets.Preset) (presets.Verdict, bool) {
	scale := units.Level(0)
	if c.HasLevel {
		if scale = c.Level; scale == 0 {
			f := finding.New(finding.BadLevel, verbPlace(c), "a recall at a level of 0 is a blackout; ask for that")
			f.Remedies = []finding.Remedy{{When: finding.Now, Words: "black the wall out", Do: &finding.Do{Verb: string(Blackout)}}}
			e.refuse(c, f)
			return presets.Verdict{}, false
		}
	}
	v := presets.Admit(e.plan, p, e.conditions(scale))
	if v.Admitted && p.NoDip {
		if f := e.dipFinding(p, v); f != nil {
			v.Admitted, v.Findings = false, append(v.Findings, *f)
		}
	}
	if !v.Admitted && !e.set.Watch {
		e.refuse(c, v.Findings...)
		return v, false
	}
	return v, true
}

// arm makes a preset the next. It is judged now so that the booth knows; go judges it again.
func (e *Engine) arm(c Command) {
	if f := badLevel(c); f != nil {
		e.refuse(c, *f)
		return
	}
	p, f := e.preset(c)
	if f != nil {
		e.refuse(c, *f)
		return
	}
	v, ok := e.judge(c, p)
	if !ok {
		return
	}
	e.wanted.Armed = p.Number
	e.gate.dirty = true
	e.done(c, v.Findings)
}

// scale sets the look's level, or moves it by stops.
func (e *Engine) scale(c Command) {
	if f := badLevel(c); f != nil {
		e.refuse(c, *f)
		return
	}
	if e.wanted.Preset == 0 {
		e.refuse(c, finding.New(finding.NoLook, verbPlace(c), "no look is on that could be levelled"))
		return
	}
	ch := change{look: e.wanted.clone(), outputs: e.all()}
	var fs []finding.Finding
	scale := c.Level
	if c.Verb == StepBy {
		scale = e.wanted.Scale * units.Level(math.Exp2(float64(c.Stops)))
	}
	if scale > 1 {
		f := finding.New(finding.AboveCap, verbPlace(c), "the look's level stops at 100 %, where its preset stands")
		f.Computed, f.Limit = units.InLevel(scale), units.InLevel(1)
		fs, scale = append(fs, f), 1
	}
	if scale < minScale {
		scale = 0
	}
	ch.look.Scale = scale
	e.order(c, ch, append(fs, e.capped(ch.look)...))
}

// capped says which outputs a look's level would take above their caps.
func (e *Engine) capped(w Wanted) []finding.Finding {
	for o := range e.outs {
		steps := e.deviceOf(o).Steps
		if ask := (w.Levels[o] * w.Scale).Down(steps); ask > w.Caps[o].Up(steps) {
			f := finding.New(finding.AboveCap, finding.Place{Kind: "output", Name: e.name(o)}, fmt.Sprintf("stops at its cap of %v: %s", w.Caps[o], e.binding()))
			f.Computed, f.Limit = units.InLevel(ask), units.InLevel(w.Caps[o])
			return []finding.Finding{f}
		}
	}
	return nil
}

// zoneLevel sets one zone's level as an absolute value, no higher than its caps.
func (e *Engine) zoneLevel(c Command) {
	if f := badLevel(c); f != nil {
		e.refuse(c, *f)
		return
	}
	z := e.zone(c.Target)
	if z < 0 {
		e.refuse(c, unknown(finding.UnknownZone, "zone", c.Target))
		return
	}
	if e.wanted.Preset == 0 {
		e.refuse(c, finding.New(finding.NoLook, verbPlace(c), "no look is on that could be levelled"))
		return
	}
	ch := change{look: e.wanted.clone(), outputs: sorted(e.plan.Rig.Zones[z].Outputs)}
	var fs []finding.Finding
	for _, o := range ch.outputs {
		if c.Level > ch.look.Caps[o] && len(fs) == 0 {
			f := finding.New(finding.AboveCap, finding.Place{Kind: "zone", Name: c.Target}, fmt.Sprintf("stops at its cap of %v: %s", ch.look.Caps[o], e.binding()))
			f.Computed, f.Limit = units.InLevel(c.Level), units.InLevel(ch.look.Caps[o])
			fs = append(fs, f)
		}
		ch.look.Levels[o] = c.Level
		if ch.look.Scale > 0 {
			ch.look.Levels[o] = c.Level / ch.look.Scale
		}
	}
	e.order(c, ch, fs)
}

// blackout takes the light away, of everything or of one zone, or lets the look come back at its levels.
func (e *Engine) blackout(c Command) {
	ch := change{look: e.wanted.clone(), outputs: e.all()}
	if c.Target != "" {
		z := e.zone(c.Target)
		if z < 0 {
			e.refuse(c, unknown(finding.UnknownZone, "zone", c.Target))
			return
		}
		ch.outputs = sorted(e.plan.Rig.Zones[z].Outputs)
	}
	if c.Off && e.wanted.Preset == 0 {
		e.refuse(c, finding.New(finding.NoLook, verbPlace(c), "no look is on that could come back"))
		return
	}
	for _, o := range ch.outputs {
		ch.look.Black[o] = !c.Off
	}
	e.order(c, ch, nil)
}

func (e *Engine) zone(name string) int {
	for i := range e.plan.Rig.Zones {
		if e.plan.Rig.Zones[i].Name == name {
			return i
		}
	}
	return -1
}

func unknown(code finding.Code, kind, name string) finding.Finding {
	return finding.New(code, finding.Place{Kind: kind, Name: name}, fmt.Sprintf("the rig has no %s %q", kind, name))
}

func sorted(in []int) []int {
	out := slices.Clone(in)
	slices.Sort(out)
	return out
}

// union gives what is in a or b, once each.
func union(a, b []int) []int {
	out := slices.Clone(a)
	for _, v := range b {
		if !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	return out
}
