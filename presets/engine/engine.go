package engine

import (
	"lookgate/presets"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Engine is the whole behaviour as one value. It belongs to one goroutine.
type Engine struct {
	plan       *presets.Plan
	conductors []rig.Conductor
	set        Settings
	epoch      uint64
	now        Instant

	outs     []output
	devs     []device
	services []Service
	proofs   []*Proof // per circuit: nil where nobody proved it

	outputNames, circuitNames []string // what is kept is kept by name; never changed, so everything kept shares them

	locked []bool // per circuit, as the power model takes it

	wanted  Wanted // the look, as it is kept on disk
	scaleOf []units.Level
	running *running
	owed    []Outcome // of commands that an incarnation before this one did not come to
	gate    gate
	sick    string // why the disk does not take commits; empty when it does

	lastWrite  WriteID
	lastNumber uint64
	lastBatch  uint64

	accounts []account    // per circuit: its time above the continuous limit
	counted  Instant      // up to when they are counted
	limits   []units.Amps // per conductor: what may be raised up to now
	ratings  []units.Amps // per conductor: what it may ever carry
	wires    []int        // per circuit: its conductor
	settles  []Instant    // per circuit: how long its outputs need to be certainly lower
	told     Instant      // time left when somebody was last told that the look will be brought down
	lacking  int          // how often a circuit had too little time left for a preset then
	judged   Instant      // when the presets that go above continuous limits were last judged

	alarms   []Event
	overFrom []Instant // per conductor: since when it is over, never when it is not
	verdicts []PresetView
	stale    bool // verdicts have to be made again
	reload   []string

	bounds        bounds
	with, without []units.Level // scratch of the guard
	before        []units.Level // of a planted fault
	out           Result
}

// New makes an engine of a new incarnation. Kept is what the disk holds, or nil on a new site; epoch is above every one before. A restart believes and sends
// nothing: what every output holds is unknown until a device tells, and counts at its highest.
func New(plan *presets.Plan, set Settings, kept *Kept, epoch uint64) *Engine {
	e := &Engine{set: set, epoch: epoch, lastNumber: epoch << 32, gate: gate{late: never, again: never}, told: never}
	if e.set.FadeStep <= 0 {
		e.set.FadeStep = defaultFadeStep
	}
	if e.has(NumbersAgain) {
		e.lastNumber = 0
	}
	e.adopt(plan)
	e.believe(kept)
	if kept != nil {
		e.resumes(kept.Open)
		e.resume()
	}
	return e
}

// defaultFadeStep is 25 steps a second: finer than the eye follows in a dimming wall, coarse enough for a device that answers each.
const defaultFadeStep = 40_000_000

// adopt sizes everything that follows the plan.
func (e *Engine) adopt(plan *presets.Plan) {
	r := plan.Rig
	e.plan, e.conductors, e.stale = plan, plan.Power.Conductors(), true
	e.outs = make([]output, len(r.Outputs))
	e.devs = make([]device, len(r.Devices))
	e.services = make([]Service, len(r.Circuits))
	e.proofs = make([]*Proof, len(r.Circuits))
	e.locked = make([]bool, len(r.Circuits))
	e.outputNames, e.circuitNames = make([]string, len(r.Outputs)), make([]string, len(r.Circuits))
	for i := range r.Outputs {
		e.outputNames[i] = r.Outputs[i].Name
	}
	for i := range r.Circuits {
		e.circuitNames[i] = r.Circuits[i].Name
	}
	e.bounds = newBounds(len(r.Outputs), len(e.conductors))
	e.with, e.without = make([]units.Level, len(r.Outputs)), make([]units.Level, len(r.Outputs))
	e.overFrom = make([]Instant, len(e.conductors))
	for c := range e.overFrom {
		e.overFrom[c] = never
	}
	for i := range e.devs {
		e.devs[i] = newDevice(r, i, e.lastNumber)
	}
	for i := range e.outs {
		e.outs[i] = unknownOutput(e.deviceOf(i), e.lastNumber)
	}
	e.wanted = emptyLook(len(r.Outputs))
	e.adoptLimits()
}

// unknownOutput is an output of which nothing is known. Packets of an incarnation before may still arrive: a numbered device says which by its number; for
// a reporting one they are taken to have been written just now.
func unknownOutput(d *rig.Device, number uint64) output {
	o := output{}
	o.level = register[units.Level]{base: []units.Level{0, 1}, number: number}
	o.black = register[bool]{base: []bool{false, true}, number: number}
	if d.Class == rig.Reporting {
		o.level.packets = []packet[units.Level]{{value: 1, written: true}, {value: 0, written: true}}
		o.black.packets = []packet[bool]{{value: false, written: true}, {value: true, written: true}}
	}
	return o
}

// believe takes over what the disk holds: the look that was wanted, and for devices that tell nothing the highest level that any packet may have set.
func (e *Engine) believe(kept *Kept) {
	if kept == nil {
		return
	}
	r := e.plan.Rig
	for i, name := range kept.Names {
		for c := range r.Circuits {
			if r.Circuits[c].Name == name && i < len(kept.Circuits) {
				e.setService(c, kept.Circuits[i])
			}
		}
	}
	w := emptyLook(len(r.Outputs))
	w.Preset, w.Scale, w.Picture, w.Previous, w.Armed = kept.Wanted.Preset, kept.Wanted.Scale, kept.Wanted.Picture, kept.Wanted.Previous, kept.Wanted.Armed
	w.Identify = kept.Wanted.Identify
	w.For, w.Above = kept.Wanted.For, e.lentAgain(kept.Wanted.Above, kept.Names)
	for i, name := range kept.Outputs {
		for o := range r.Outputs {
			if r.Outputs[o].Name != name || i >= len(kept.Wanted.Levels) {
				continue
			}
			w.Levels[o], w.Caps[o], w.Black[o] = kept.Wanted.Levels[i], kept.Wanted.Caps[i], kept.Wanted.Black[i]
			e.outs[o].goal, e.outs[o].dark = w.target(o, e.deviceOf(o).Steps), w.Black[o]
			if e.deviceOf(o).Class == rig.Silent {
				e.outs[o].level.base = []units.Level{0, kept.Envelope[i]}
			}
		}
	}
	e.wanted, e.proofs = w, Proved(r, kept.Proofs)
	e.believeAccounts(kept)
	e.setLimits()
}

func (e *Engine) setService(c int, s Service) {
	e.services[c], e.locked[c], e.stale = s, s == Locked || s == Out && e.has(OpenBreaker), true
	e.bounds.forget()
}

// Step takes one input at a time that never runs backwards and gives everything that follows from it. The result is the caller's.
func (e *Engine) Step(now Instant, in Input) Result {
	e.Act(now, in)
	return e.Settle()
}

// Act is the first half of a step: it gives the packets that follow from the input, which may go to the devices before the step is settled. Whoever calls it calls
// Settle next, and nothing in between. It exists for who is in a hurry: what the step says and keeps takes as long to work out as what it sends.
func (e *Engine) Act(now Instant, in Input) []Action {
	e.now, e.out = max(now, e.now), Result{}
	e.count()
	for i := range e.outs {
		o, d := &e.outs[i], e.deviceOf(i)
		if e.set.Fault != NoFault {
			misread(e, &o.level, d.Retry)
			misread(e, &o.black, d.Retry)
		}
		open := o.open()
		o.expire(e.now, d)
		if open && d.Class == rig.Silent && !o.open() {
			e.keepSoon() // what a restart believes of it is less now
		}
	}
	for i := range e.devs {
		e.devs[i].picture.expire(e.now, &e.plan.Rig.Devices[i])
	}
	e.take(in)
	e.watchAbove()
	e.drive()
	return e.out.Actions
}

// Settle is the second half of a step, and gives the whole of it: the packets of Act stand first among its actions.
func (e *Engine) Settle() Result {
	e.finish()
	e.watchOver()
	e.countOn()
	e.keep()
	e.deadline()
	return e.out
}

func (e *Engine) take(in Input) {
	switch in := in.(type) {
	case Command:
		e.command(in)
	case Report:
		e.report(in)
	case Written:
		e.wrote(in.Write)
	case Dropped:
		e.droppedWrite(in.Write)
	case Committed:
		e.committed(in.Batch)
	case CommitFailed:
		e.commitFailed(in.Batch, in.Cause)
	case Reload:
		e.reloaded(in)
	}
}

// deadline says when to step again if nothing else happens. A moment that is past needs no step: what was due at it is done, or waits for something else.
func (e *Engine) deadline() {
	next := never
	at := func(t Instant) {
		if t > e.now && t < next {
			next = t
		}
	}
	for i := range e.outs {
		e.outputDeadlines(i, at)
	}
	for i := range e.devs {
		e.deviceDeadlines(i, at)
	}
	if e.running != nil {
		at(e.running.until)
	}
	at(e.gate.again)
	at(e.gate.late)
	e.overDeadlines(at)
	e.aboveDeadlines(at)
	if next < never {
		e.out.Next, e.out.HasNext = next, true
	}
}

func (e *Engine) outputDeadlines(i int, at func(Instant)) {
	o, d := &e.outs[i], e.deviceOf(i)
	o.level.deadlines(o.aim(), e.now, d, at)
	o.black.deadlines(o.dark, e.now, d, at)
	if o.fade.on && o.fade.started {
		at(min(o.fade.next, o.fade.start+o.fade.length))
	}
	at(o.live)
}
