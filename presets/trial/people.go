package trial

import (
	"math"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/plant"
	"lookgate/presets/units"
)

// people are the stations and the person at the board, with what they were told.
type people struct {
	orders  []order // by ID, from 1
	live    int     // accepted commands of this incarnation whose outcome is open
	atBoard []bool  // per circuit: somebody waits there for an answer, or is about to act on one
	resting bool    // no more commands
}

// order is one command and what became of it.
type order struct {
	command  engine.Command
	life     int
	at       time.Duration
	circuit  int // of one about a circuit's breaker, else -1
	answered bool
	status   engine.Status
	ended    bool
	end      engine.End
	lost     bool // the daemon died before it was over
	found    int  // the life in which its outcome was given after that; 0 for none
	dip      bool // refused because it allows no dip
}

func newPeople(circuits int) people { return people{atBoard: make([]bool, circuits)} }

// crashed marks what will not be answered or ended any more.
func (p *people) crashed() {
	for i := range p.orders {
		o := &p.orders[i]
		if o.lost || o.ended || o.answered && o.status != engine.Accepted {
			continue
		}
		o.lost = true
		if !o.answered && o.circuit >= 0 {
			p.atBoard[o.circuit] = false
		}
	}
	p.live = 0
}

// open reports whether anything is unanswered or without its outcome.
func (p *people) open() bool {
	for i := len(p.orders) - 1; i >= 0; i-- {
		o := &p.orders[i]
		if !o.lost && (!o.answered || o.status == engine.Accepted && !o.ended) {
			return true
		}
	}
	return false
}

// stations are who may command; one of them is an engineer's.
var stations = [...]string{"desk", "buttons", "booth"}

// peopleAct gives one command, or a few at once, or begins a stream, and plans the next.
func (r *run) peopleAct() {
	if r.people.resting {
		return
	}
	n := 1
	if r.rng.IntN(8) == 0 {
		n = 2 + r.rng.IntN(2)
	}
	for range n {
		r.act()
	}
	r.planAfter(around(r.rng, r.faults.CommandGap), event{what: commands})
}

// act draws what a person does.
func (r *run) act() {
	verb := drawVerb(r.rng.IntN(totalWeight))
	switch verb {
	case engine.CircuitOut, engine.CircuitIn, engine.LockedOff:
		r.board(verb, r.rng.IntN(len(r.people.atBoard)))
	case engine.Level, engine.ZoneLevel:
		if r.rng.IntN(3) == 0 {
			r.stream(verb)
			return
		}
		r.give(r.draw(verb))
	default:
		r.give(r.draw(verb))
	}
}

// weights say how often each verb is given.
var weights = [...]struct {
	verb   engine.Verb
	weight int
}{
	{engine.Recall, 50}, {engine.Arm, 5}, {engine.Go, 6}, {engine.Back, 7}, {engine.Level, 8}, {engine.ZoneLevel, 8}, {engine.StepBy, 4}, {engine.Blackout, 6},
	{engine.Worklight, 2}, {engine.CircuitOut, 4}, {engine.CircuitIn, 5}, {engine.LockedOff, 3}, {engine.Attest, 2}, {engine.Identify, 3}, {engine.Prove, 1}, {engine.Query, 3}, {engine.ReloadSite, 2},
}

var totalWeight = func() int {
	sum := 0
	for _, w := range weights {
		sum += w.weight
	}
	return sum
}()

func drawVerb(n int) engine.Verb {
	for _, w := range weights {
		if n < w.weight {
			return w.verb
		}
		n -= w.weight
	}
	return engine.Query
}

// draw makes a command of a verb. Now and then it is one that cannot be done.
func (r *run) draw(v engine.Verb) engine.Command {
	rg, book := r.setup.Plan.Rig, r.setup.Plan.Book
	c := engine.Command{Station: stations[r.rng.IntN(len(stations))], Verb: v}
	c.Engineer = c.Station == stations[2]
	switch v {
	case engine.Recall, engine.Arm:
		c.Preset = book.Presets[min(len(book.Presets)-1, 1+r.rng.IntN(len(book.Presets)))].Number
		if r.rng.IntN(10) == 0 {
			c.Preset = book.Worklight
		}
		switch r.rng.IntN(16) {
		case 0:
			c.Preset = 9999
		case 1:
			c.Target, c.Preset = book.ByNumber(c.Preset).Name, 0
		case 2, 3:
			c.Level, c.HasLevel = r.level(), true
		}
	case engine.Level:
		c.Level = r.level()
	case engine.ZoneLevel:
		c.Target, c.Level = rg.Zones[r.rng.IntN(len(rg.Zones))].Name, r.level()
	case engine.StepBy:
		c.Stops = units.Stops(r.rng.IntN(9)-4) / 2
	case engine.Blackout:
		c.Off = r.rng.IntN(2) == 0
		if r.rng.IntN(2) == 0 {
			c.Target = rg.Zones[r.rng.IntN(len(rg.Zones))].Name
		}
	case engine.Attest:
		c.Target, c.Engineer = r.darkOutput(), true
	case engine.Identify:
		c.Part, c.Target = engine.OutputPart, rg.Outputs[r.rng.IntN(len(rg.Outputs))].Name
		if r.rng.IntN(2) == 0 {
			c.Part, c.Target = engine.CircuitPart, rg.Circuits[r.rng.IntN(len(rg.Circuits))].Name
		}
	case engine.Prove:
		c.Target, c.Off = rg.Circuits[r.rng.IntN(len(rg.Circuits))].Name, r.rng.IntN(4) == 0
	}
	return c
}

// level draws a level, both ends often, and now and then one that is none.
func (r *run) level() units.Level {
	switch r.rng.IntN(12) {
	case 0:
		return 0
	case 1, 2:
		return 1
	case 3:
		return [...]units.Level{units.Level(math.NaN()), 7, -0.5}[r.rng.IntN(3)]
	}
	return units.Level(r.rng.Float64())
}

// darkOutput names an output that truly holds no light, since people attest what they see; where there is none, one that does not exist.
func (r *run) darkOutput() string {
	n := len(r.truth.Outputs)
	first := r.rng.IntN(n)
	for i := range n {
		if o := (first + i) % n; r.plant.State(o) == 0 {
			return r.truth.Outputs[o].Name
		}
	}
	return "nowhere"
}

// stream is a fader being moved: many commands in a row.
func (r *run) stream(v engine.Verb) {
	c := r.draw(v)
	from, to := r.rng.Float64(), r.rng.Float64()
	n := 5 + r.rng.IntN(20)
	for i := range n {
		c.Level = units.Level(from + (to-from)*float64(i)/float64(n-1))
		r.planAfter(time.Duration(i)*30*time.Millisecond, event{what: gives, input: c})
	}
}

// board is a person at a breaker. Who opens or locks does it and then says so. Who takes a lock off asks first and acts on the answer; who
// closes a breaker that is not locked often does not.
func (r *run) board(v engine.Verb, circuit int) {
	if r.people.atBoard[circuit] || r.ctl == nil {
		return
	}
	locked := r.plant.Breaker(circuit) == plant.Locked
	switch {
	case v == engine.LockedOff:
		r.plant.SetBreaker(r.now, circuit, plant.Locked)
	case v == engine.CircuitOut && !locked:
		r.plant.SetBreaker(r.now, circuit, plant.Out)
	}
	if v == engine.CircuitIn && r.plant.Breaker(circuit) == plant.Out && r.rng.IntN(2) == 0 { // somebody who asks nobody
		r.plant.SetBreaker(r.now, circuit, plant.In)
	}
	r.moved = true
	r.people.atBoard[circuit] = true
	r.give(engine.Command{Station: stations[2], Engineer: true, Verb: v, Target: r.truth.Circuits[circuit].Name})
}

// attend is the person at the board doing what an accepted command allows.
func (r *run) attend(e event) {
	r.people.atBoard[e.index] = false
	switch e.state {
	case engine.In:
		r.plant.SetBreaker(r.now, e.index, plant.In)
	case engine.Out:
		r.plant.SetBreaker(r.now, e.index, plant.Out)
	}
	r.moved = true
}

// give hands a command in, if there is a daemon that takes it.
func (r *run) give(c engine.Command) uint64 {
	if r.ctl == nil {
		return 0
	}
	c.ID = uint64(len(r.people.orders) + 1)
	o := order{command: c, life: r.life, at: r.now, circuit: -1}
	if c.Verb == engine.CircuitOut || c.Verb == engine.CircuitIn || c.Verb == engine.LockedOff {
		o.circuit = r.circuitOf(c.Target)
	}
	r.people.orders = append(r.people.orders, o)
	r.stats.Commands++
	if c.Verb == engine.ReloadSite {
		r.step(r.reload(c))
	} else {
		r.step(c)
	}
	return c.ID
}

// reload is the site read again: the same, or with a problem in it.
func (r *run) reload(c engine.Command) engine.Reload {
	if r.rng.IntN(3) == 0 {
		return engine.Reload{Command: c, Problems: []string{"rig.yaml:1:1: name: is missing"}}
	}
	return engine.Reload{Command: c, Plan: r.setup.Plan}
}

func (r *run) circuitOf(name string) int {
	for i, c := range r.truth.Circuits {
		if c.Name == name {
			return i
		}
	}
	return -1
}
