package engine

import (
	"math"
	"slices"

	"lookgate/presets"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// View makes the state of the moment for stations. The result shares nothing with the engine.
func (e *Engine) View() *View {
	e.judgeBook()
	v := e.Glance()
	v.Presets, v.Promise, v.Conductors = append([]PresetView(nil), e.verdicts...), e.promise(), e.conductorViews()
	for i, least := 0, 0; i < len(v.Conductors); i++ {
		if c, l := v.Conductors[i], v.Conductors[least]; i == 0 || c.Stops < l.Stops || c.Stops == l.Stops && c.Headroom < l.Headroom {
			least, v.Look.Worst = i, c.Kind+" "+c.Name
		}
	}
	if p := e.plan.Book.ByNumber(e.wanted.Armed); p != nil && e.wanted.Armed != 0 {
		if verdict := presets.Check(e.plan, p, e.conditions(0)); verdict.Admitted {
			v.Dip = e.dip(p, verdict)
		}
	}
	return v
}

// Glance makes the part of the view that costs next to nothing: everything but what has to be solved for, which is conductors, verdicts and the dip.
func (e *Engine) Glance() *View {
	v := &View{At: e.now, Epoch: e.epoch, Site: e.plan.Rig.Name, Watch: e.set.Watch, DiskSick: e.sick, Armed: e.wanted.Armed,
		Alarms: append([]Event{}, e.alarms...), Reload: append([]string(nil), e.reload...)}
	for i := range e.outs {
		v.Outputs = append(v.Outputs, e.outputView(i))
	}
	for z := range e.plan.Rig.Zones {
		v.Zones = append(v.Zones, e.zoneView(z))
	}
	for c := range e.services {
		v.Circuits = append(v.Circuits, CircuitView{Name: e.plan.Rig.Circuits[c].Name, Service: e.services[c].String(), Proved: e.proofView(c), Above: e.circuitAbove(c)})
	}
	v.Look = e.lookView(v)
	if r := e.running; r != nil {
		v.Running = &RunningView{ID: r.command.ID, Verb: r.command.Verb, Since: r.since, Deadline: r.until, Waiting: e.waitingFor()}
	}
	return v
}

// judgeAgain is how often the presets that go above continuous limits get their verdicts again, since time runs.
const judgeAgain = Instant(1_000_000_000)

// judgeBook gives every preset its verdict again when the circuits or the book have changed; and those that go above continuous limits when circuits have too little time left for
// another of them, or every second, since what is left is told.
func (e *Engine) judgeBook() {
	all, lacking := e.stale || len(e.verdicts) != len(e.plan.Book.Presets), e.lacks()
	if !all && lacking == e.lacking && e.now < e.judged+judgeAgain {
		return
	}
	e.lacking = lacking
	if all {
		e.verdicts = make([]PresetView, len(e.plan.Book.Presets))
	}
	e.stale, e.judged = false, e.now
	for i := range e.plan.Book.Presets {
		if p := &e.plan.Book.Presets[i]; all || p.Above > 0 {
			e.verdicts[i] = e.presetView(p)
		}
	}
}

func (e *Engine) presetView(p *presets.Preset) PresetView {
	v := presets.Check(e.plan, p, e.conditions(0))
	pv := PresetView{Number: p.Number, Name: p.Name, Admitted: v.Admitted, Findings: v.Findings, Cap: v.Cap}
	if len(v.Above) > 0 {
		pv.Above = p.Above
	}
	if v.Binding >= 0 {
		k := e.conductors[v.Binding]
		pv.Binding = k.Kind.String() + " " + k.Name
	}
	return pv
}

func (e *Engine) outputView(i int) OutputView {
	o, d := &e.outs[i], e.deviceOf(i)
	low, high := e.Bounds(i)
	v := OutputView{Name: e.name(i), Device: d.Name, Wanted: o.goal, Black: o.dark, Low: low, High: high, Cap: e.wanted.Caps[i], State: e.stateOf(i)}
	v.Confirmed = v.State == "confirmed"
	return v
}

// Bounds gives the lowest and highest light level that an output may stand at while its device runs, by everything that may still arrive and by a restart. A circuit
// without power or a device that boots makes it dark besides.
func (e *Engine) Bounds(i int) (low, high units.Level) {
	return e.outs[i].least(e.deviceOf(i)), e.outs[i].light(e.deviceOf(i), true)
}

func (e *Engine) stateOf(i int) string {
	o, d := &e.outs[i], e.deviceOf(i)
	switch {
	case o.attested:
		return "attested"
	case o.driven && !o.there(d):
		return "pending"
	case o.there(d) && (d.Class == rig.Silent || o.level.assumed):
		return "assumed"
	case o.there(d):
		return "confirmed"
	default:
		return "unknown"
	}
}

func (e *Engine) zoneView(z int) ZoneView {
	zone := e.plan.Rig.Zones[z]
	v := ZoneView{Name: zone.Name, Outputs: append([]int(nil), zone.Outputs...), Cap: 1, Black: true}
	for _, o := range zone.Outputs {
		v.Wanted, v.Cap, v.Black = max(v.Wanted, e.outs[o].goal), min(v.Cap, e.wanted.Caps[o]), v.Black && e.outs[o].dark
	}
	return v
}

func (e *Engine) conductorViews() []ConductorView {
	e.bound()
	b := &e.bounds
	vs := make([]ConductorView, 0, len(e.conductors))
	for c, k := range e.conductors {
		w, limit := e.amps(c), e.bears(c)
		v := ConductorView{Kind: k.Kind.String(), Name: k.Name, Worst: w, Limit: limit, By: e.by(c, limit), Headroom: limit - w, Void: e.plan.Void[c], While: limit > k.Limit}
		if b.staleStops[c] {
			b.stops[c], b.staleStops[c] = e.headroomStops(c, b.with), false
		}
		v.Stops = b.stops[c]
		vs = append(vs, v)
	}
	return vs
}

// openStops stands for a conductor that nothing on the wall can bring to its limit.
const openStops = units.Stops(99)

// headroomStops gives the light by which all outputs on a conductor can rise together until it binds, as stops; below 0 where it is over already.
func (e *Engine) headroomStops(c int, levels []units.Level) units.Stops {
	top := units.Level(0)
	for o, l := range levels {
		if slices.Contains(e.plan.Power.OfOutput(o), c) {
			top = max(top, l)
		}
	}
	if top == 0 {
		return openStops
	}
	scaled := make([]units.Level, len(levels))
	passes := func(f float64) bool {
		for o, l := range levels {
			scaled[o] = min(1, l*units.Level(f))
		}
		return e.fits(c, e.plan.Power.WorstOf(c, power.State{Levels: scaled, LockedOff: e.locked}))
	}
	lo, hi := -6.0, -math.Log2(float64(top))+6
	if passes(math.Exp2(hi)) {
		return openStops
	}
	for range 16 {
		if mid := (lo + hi) / 2; passes(math.Exp2(mid)) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return units.Stops(lo)
}

func (e *Engine) lookView(v *View) LookView {
	l := LookView{Preset: e.wanted.Preset, Identify: e.wanted.Identify, Scale: e.wanted.Scale, Previous: e.wanted.Previous, State: "on", Blackout: len(e.outs) > 0}
	if p := e.plan.Book.ByNumber(l.Preset); p != nil {
		l.Name = p.Name
	}
	for i, o := range v.Outputs {
		l.Blackout = l.Blackout && o.Black
		l.Assumed = l.Assumed || o.State == "assumed"
		if o.State == "unknown" || o.State == "pending" || !o.Black && o.Wanted != e.wanted.target(i, e.deviceOf(i).Steps) {
			l.State = "short"
		}
	}
	switch {
	case e.running != nil || len(e.gate.flying) > 0 && e.gate.changing():
		l.State = "pending"
	case l.Preset == 0 && l.Identify == "":
		l.State = "none"
	}
	l.Above = e.lookAbove()
	l.Credit = e.plan.OnCredit(e.wanted.Picture.Layout)
	return l
}

// lookAbove gives the time that the look has left above continuous limits, nil where it goes above none.
func (e *Engine) lookAbove() *LookAbove {
	if e.wanted.Above == nil {
		return nil
	}
	left, runs := e.leastLeft()
	a := &LookAbove{For: e.wanted.For, Left: max(0, left), Runs: runs}
	for c, lent := range e.wanted.Above {
		if lent {
			a.Circuits = append(a.Circuits, e.circuitNames[c])
		}
	}
	return a
}

func (e *Engine) circuitAbove(c int) *CircuitAbove {
	lends := e.plan.Rig.Circuits[c].Above
	if lends == nil {
		return nil
	}
	has := e.allowance(c)
	return &CircuitAbove{Limit: e.conductors[e.wires[c]].Limit, For: lends.For, Rest: lends.Rest, Used: e.accounts[c].Used, Left: has.Left, Rested: has.Rested,
		Now: e.accounts[c].above}
}

// waitingFor says in words what keeps the running command from being done.
func (e *Engine) waitingFor() string {
	for i := range e.devs {
		if d := &e.devs[i]; d.lost {
			return "device " + e.plan.Rig.Devices[i].Name + " to answer"
		}
	}
	for _, o := range e.running.outputs {
		out := &e.outs[o]
		switch {
		case out.there(e.deviceOf(o)):
			continue
		case out.fade.on && out.fade.started:
			return "the fade"
		case !out.dark && out.goal > out.highest() && !e.admissible(o, out.goal):
			return "room: something darker has to be confirmed first"
		default:
			return "output " + e.name(o) + " to confirm"
		}
	}
	return "layout and mode to be confirmed"
}

// promise names where the promise does not hold.
func (e *Engine) promise() []string {
	var out []string
	for c, k := range e.conductors {
		if e.plan.Void[c] {
			out = append(out, "no promise on "+k.Kind.String()+" "+k.Name+": with every output at its restart level it is over")
		}
	}
	for _, d := range e.plan.Rig.Devices {
		if d.Class == rig.Silent {
			out = append(out, "device "+d.Name+" confirms nothing: its levels are assumed")
		}
	}
	return out
}
