package trial

import (
	"encoding/json"
	"math/rand/v2"
	"slices"
	"time"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// player plays one scenario: an engine, a plant in which everything takes its usual time, and whatever the lines do to them.
type player struct {
	load  func(site string) (*presets.Plan, error)
	head  []string
	begun bool
	bad   bool

	plan    *presets.Plan // what the daemon believes
	truth   *rig.Rig
	plant   *plant.Plant
	limits  []playLimit // of the true conductors, by the plan
	engine  *engine.Engine
	now     time.Duration
	zero    time.Duration // what times are told from
	started time.Duration // when this incarnation was
	epoch   uint64
	life    int
	tick    time.Duration // next deadline of the engine; -1 for none
	inbox   []engine.Input
	asked   bool // the input under way is a query
	events  []playEvent
	seq     int

	flushed []byte // what is on disk
	full    bool
	devices []playDevice
	orders  []playOrder // by ID, from 1
	hand    bool        // another hand was at a device, so what is assumed does not hold
	boarded bool        // somebody was at the board

	tale    []playEntry
	history []playSample
	marks   []playMark
	drawn   time.Duration
	over    []bool // per true conductor, when last looked at
	above   []bool // the same: above its continuous limit
	times   overtimes
	unheard bool                     // a scenario loses more packets than anybody counts on
	late    bool                     // a circuit is above for too long, when last looked at
	lost    bool                     // who starts the daemon does not know how long it was gone
	lives   map[uint64]time.Duration // when each incarnation began
	unsound []bool                   // per output of the plan, when last looked at
}

// playDevice is what a scenario does to the line between daemon and device.
type playDevice struct {
	loses    int           // so many of the next packets are lost
	slow     time.Duration // every packet takes so much longer
	late     time.Duration // the next packet takes so much longer
	confirms time.Duration // it tells so much later
	told     string
}

// playOrder is one command.
type playOrder struct {
	verb    engine.Verb
	circuit int // whose breaker somebody moves once this is accepted, or -1
	to      plant.Breaker
}

// playLimit is a true conductor with the limit that the plan gives it: of a circuit that may be above its continuous limit for a while, its breaker's rating.
type playLimit struct {
	rig.Conductor
	continuous units.Amps
	index      int // in the plan; -1 where the plan does not have it
	void       bool
}

// playEvent is something that will happen between daemon, wire and disk.
type playEvent struct {
	at   time.Duration
	seq  int
	life int // of the daemon, of what dies with it; 0 of what does not
	do   func()
}

// steady draws the middle of everything that may take some time, so that a scenario shows the usual case.
type steady struct{}

// Uint64 gives the middle. Its last bits keep math/rand/v2 from drawing again, and choose the first of few cases.
func (steady) Uint64() uint64 { return 1<<63 + 1<<20 }

const (
	playWire = 5 * time.Millisecond // a packet's or a report's way
	playDisk = 2 * time.Millisecond // a commit
	playBoot = 2 * time.Second      // twice what a device takes to start
)

// build makes the plant. Other loads draw their maximum.
func (p *player) build(plan *presets.Plan) {
	p.truth = plan.Rig
	p.plant = plant.New(p.truth, plant.Habits{BootTime: playBoot}, rand.New(steady{}))
	for i, l := range p.truth.Loads {
		p.plant.SetLoad(0, i, l.Current)
	}
	p.plant.TakeLog()
	p.devices = make([]playDevice, len(p.truth.Devices))
	p.over, p.above = make([]bool, len(p.truth.Conductors())), make([]bool, len(p.truth.Conductors()))
	p.times, p.lives = newOvertimes(p.truth), map[uint64]time.Duration{}
	p.adopt(plan)
}

// adopt takes the plan that the daemon goes by, and its limits.
func (p *player) adopt(plan *presets.Plan) {
	p.plan, p.limits = plan, nil
	p.unsound = make([]bool, len(plan.Rig.Outputs))
	cs := plan.Rig.Conductors() // and not those of the power model, which is what is judged
	for _, c := range p.truth.Conductors() {
		i := slices.IndexFunc(cs, func(k rig.Conductor) bool { return k.Kind == c.Kind && k.Name == c.Name })
		l := playLimit{Conductor: c, index: i}
		if i >= 0 {
			l.Conductor, l.void = cs[i], plan.Void[i]
		}
		if l.continuous = l.Limit; i >= 0 {
			l.Limit = ratingOf(plan.Rig, cs[i])
		}
		p.limits = append(p.limits, l)
	}
}

// start starts the daemon on what the disk holds.
func (p *player) start() {
	p.life++
	p.epoch++
	p.started, p.lives[p.epoch] = p.now, p.now
	p.engine = engine.New(p.plan, engine.Settings{}, p.kept(), p.epoch)
	p.step(engine.Tick{})
}

func (p *player) kept() *engine.Kept {
	if p.flushed == nil {
		return nil
	}
	kept := new(engine.Kept)
	if err := json.Unmarshal(p.flushed, kept); err != nil {
		p.broken("what is on disk does not read: %v", err)
	}
	if !p.lost {
		kept.Gone = p.now - p.lives[kept.Epoch] - kept.At
	}
	return kept
}

// die ends the daemon. What is on the wire stays there; a commit that was not over is lost.
func (p *player) die() {
	p.engine, p.inbox, p.tick = nil, nil, -1
}

// after plans something; it dies with the daemon where it is the daemon's.
func (p *player) after(d time.Duration, daemons bool, do func()) {
	p.seq++
	e := playEvent{at: p.now + d, seq: p.seq, do: do}
	if daemons {
		e.life = p.life
	}
	p.events = append(p.events, e)
}

// next gives the event that comes first, -1 for none.
func (p *player) next() int {
	first := -1
	for i, e := range p.events {
		if first < 0 || e.at < p.events[first].at || e.at == p.events[first].at && e.seq < p.events[first].seq {
			first = i
		}
	}
	return first
}

// until lets everything happen up to a time, that time included.
func (p *player) until(end time.Duration) {
	for {
		at, do := end+1, func() {}
		if i := p.next(); i >= 0 && p.events[i].at < at {
			at, do = p.events[i].at, func() { p.happen(i) }
		}
		if t, ok := p.plant.Next(); ok && t < at {
			at, do = t, p.plantStep
		}
		if p.engine != nil && p.tick >= 0 && p.tick < at {
			at, do = p.tick, func() { p.step(engine.Tick{}) }
		}
		if at > end {
			break
		}
		p.now = max(p.now, at)
		do()
		p.observe()
	}
	p.now = max(p.now, end)
}

func (p *player) happen(i int) {
	e := p.events[i]
	p.events = slices.Delete(p.events, i, i+1)
	if e.life == 0 || e.life == p.life && p.engine != nil {
		e.do()
	}
}

// plantStep lets the plant's next event happen.
func (p *player) plantStep() {
	a, arrived := p.plant.Step()
	p.deeds()
	if !arrived {
		return
	}
	wait := playWire
	if d := a.Report.Device; p.truth.Devices[d].Class == rig.Numbered {
		wait += p.devices[d].confirms
	}
	p.after(wait, false, func() { p.report(a.Report) })
}

// step hands one input to the engine, then whatever the workers say at once.
func (p *player) step(in engine.Input) {
	p.inbox = append(p.inbox, in)
	for len(p.inbox) > 0 && p.engine != nil {
		in := p.inbox[0]
		p.inbox = p.inbox[1:]
		c, command := in.(engine.Command)
		if p.asked = command && c.Verb == engine.Query; p.asked {
			p.forget()
		}
		res := p.engine.Step(p.now-p.started, in)
		if r, reload := in.(engine.Reload); reload && len(res.Answers) > 0 && res.Answers[0].Status == engine.Accepted {
			p.adopt(r.Plan)
		}
		p.take(res)
	}
}

// forget lets the next report of each device be told, whatever it says.
func (p *player) forget() {
	for i := range p.devices {
		p.devices[i].told = ""
	}
}

// take does and tells what the engine says.
func (p *player) take(res engine.Result) {
	for _, a := range res.Answers {
		p.sayAnswer(a)
		if o := p.orders[a.ID-1]; a.Status == engine.Accepted && o.circuit >= 0 {
			p.breaker(o.circuit, o.to)
		}
	}
	for _, a := range res.Actions {
		if a.Kind == engine.Commit {
			p.commit(a)
		} else {
			p.send(a)
		}
	}
	for _, e := range res.Events {
		p.sayEvent(e)
	}
	for _, o := range res.Outcomes {
		p.sayOutcome(o)
	}
	p.tick = -1
	if res.HasNext {
		p.tick = max(p.started+res.Next, p.now)
	}
}

// commit takes a moment, and fails on a full disk.
func (p *player) commit(a engine.Action) {
	bytes, err := json.Marshal(a.Kept)
	if err != nil {
		p.broken("what is to be kept cannot be written: %v", err)
	}
	p.after(playDisk, true, func() {
		if p.full {
			p.step(engine.CommitFailed{Batch: a.Batch, Cause: "no space left on device"})
			return
		}
		p.flushed = bytes
		if a.Kept.Command != 0 {
			p.say("on disk, up to #%d", a.Kept.Command)
		}
		p.step(engine.Committed{Batch: a.Batch})
	})
}

// send writes a packet and lets it travel.
func (p *player) send(a engine.Action) {
	packet := packetOf(a)
	if a.Kind != engine.Ask {
		packet.Output = p.trueOutput(a.Output)
	}
	d := &p.devices[a.Device]
	lost := d.loses > 0
	p.sayPacket(packet, lost, d.late > 0)
	p.inbox = append(p.inbox, engine.Written{Write: a.Write})
	if lost {
		d.loses--
		return
	}
	wait := playWire + d.slow + d.late
	d.late = 0
	if a.Kind == engine.Ask && p.truth.Devices[a.Device].Class == rig.Reporting {
		wait += d.confirms
	}
	p.after(wait, false, func() {
		p.plant.Apply(p.now, packet)
		p.deeds()
	})
}

// trueOutput gives the plant's index of one of the plan's outputs: an edited site may count them otherwise.
func (p *player) trueOutput(o int) int {
	if o < 0 {
		return 0
	}
	name := p.plan.Rig.Outputs[o].Name
	return max(0, slices.IndexFunc(p.truth.Outputs, func(t rig.Output) bool { return t.Name == name }))
}

// report takes a report to the daemon, if there is one.
func (p *player) report(r plant.Report) {
	if p.engine == nil {
		return
	}
	p.sayReport(r)
	in := engine.Report{Device: r.Device, Number: r.Number, Picture: engine.Picture(r.Picture)}
	for o, out := range p.plan.Rig.Outputs {
		if out.Device != r.Device {
			continue
		}
		k := 0
		for _, t := range p.truth.Outputs[:p.trueOutput(o)] {
			if t.Device == r.Device {
				k++
			}
		}
		in.Levels, in.Black = append(in.Levels, r.Levels[k]), append(in.Black, r.Black[k])
	}
	p.step(in)
}

// breaker is somebody at the board.
func (p *player) breaker(circuit int, to plant.Breaker) {
	p.plant.SetBreaker(p.now, circuit, to)
	p.deeds()
}

// playSample is the truth, and what the daemon takes for possible, from one moment on.
type playSample struct {
	at     time.Duration
	amps   []units.Amps
	highs  []units.Level // per output of the plan; nil while there is no daemon
	locked []bool
	plan   *presets.Plan
}

// observe looks at the plant: it keeps what changed, and holds it against what must always hold.
func (p *player) observe() {
	s := playSample{at: p.now, amps: p.plant.True(nil), plan: p.plan}
	if p.engine != nil {
		for o := range p.plan.Rig.Outputs {
			_, high := p.engine.Bounds(o)
			s.highs = append(s.highs, high)
		}
		s.locked = p.locked()
	}
	last := len(p.history) - 1
	if last < 0 || !slices.Equal(p.history[last].amps, s.amps) || !slices.Equal(p.history[last].highs, s.highs) || !slices.Equal(p.history[last].locked, s.locked) {
		p.history = append(p.history, s)
	}
	p.checkLimits(s.amps)
	p.checkTimes(s.amps)
	p.checkSaid()
}

// locked gives the circuits that count as locked off.
func (p *player) locked() []bool {
	if !p.boarded {
		return nil
	}
	var locked []bool
	for _, c := range p.engine.View().Circuits {
		locked = append(locked, c.Service == engine.Locked.String())
	}
	return locked
}

func (p *player) checkLimits(amps []units.Amps) {
	for i, c := range p.limits {
		over := float64(amps[i]) > float64(c.Limit)*(1+rounding)
		if over && !p.over[i] {
			switch {
			case c.void:
				p.say("OVER: %v %s carries %v of %v; nothing was promised here", c.Kind, c.Name, amps[i], c.Limit)
			case p.hand:
				p.say("OVER, by another hand: %v %s carries %v of %v", c.Kind, c.Name, amps[i], c.Limit)
			default:
				p.broken("%v %s carries %v of %v", c.Kind, c.Name, amps[i], c.Limit)
			}
		}
		if !over && p.over[i] {
			p.say("no longer over: %v %s", c.Kind, c.Name)
		}
		p.over[i] = over
	}
}

// checkTimes tells circuits that go above their continuous limits, and holds the time that they stay there against the rule, while the daemon is there to keep it.
func (p *player) checkTimes(amps []units.Amps) {
	p.times.pass(p.now)
	p.times.allow(p.engine != nil && p.engine.Glance().Look.Above != nil)
	down := comesDown(p.plan)
	words := p.times.wrong(down)
	switch {
	case words == "" || p.hand || p.engine == nil || p.now <= p.started+down:
	case !p.unheard:
		p.broken("%s", words)
	case !p.late:
		p.say("TOO LONG, since no packet arrives: %s", words)
	}
	p.late = words != ""
	p.times.look(amps)
	for i, c := range p.limits {
		above := c.Limit > c.continuous && float64(amps[i]) > float64(c.continuous)*(1+rounding)
		if above && !p.above[i] {
			p.say("%v %s is above its continuous limit of %v", c.Kind, c.Name, c.continuous)
		}
		if !above && p.above[i] {
			p.say("%v %s is at or below its continuous limit, after %v above it", c.Kind, c.Name, units.Spoken(p.times.list[c.Circuit].used.Truncate(time.Second)))
		}
		p.above[i] = above
	}
}

// checkSaid compares what every output holds with what the daemon calls possible. What a silent device holds is assumed, and told.
func (p *player) checkSaid() {
	if p.engine == nil || p.hand {
		return
	}
	for o, out := range p.plan.Rig.Outputs {
		low, high := p.engine.Bounds(o)
		is := p.plant.State(p.trueOutput(o))
		wrong := is < low || is > high
		if wrong && !p.unsound[o] {
			if p.truth.Devices[out.Device].Class == rig.Silent {
				p.say("%s holds %v, and is assumed to hold from %v to %v", out.Name, is, low, high)
			} else {
				p.broken("%s holds %v, said to be from %v to %v", out.Name, is, low, high)
			}
		}
		p.unsound[o] = wrong
	}
}
