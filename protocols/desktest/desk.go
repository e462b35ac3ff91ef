// Package desktest is a desk for the tests of stations' protocols and of the panel: it shows the views that a test gives it, keeps the orders that it
// was given, and answers as the test says. It is no daemon: it computes nothing and drives nothing.
package desktest

import (
	"sync"

	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/protocols"
)

// Reply is what a test's rule says to one command: its answer, and its outcome where there is to be one. IDs, stations and verbs are filled in.
type Reply struct {
	Answer  engine.Answer
	Outcome *engine.Outcome
	Silent  bool // no answer, as a desk that hangs
}

// Rule answers one command. It is called from the desk's own goroutine, one command at a time, in order.
type Rule func(engine.Command) Reply

// Accept is the rule that accepts everything, with the outcome at once.
func Accept(engine.Command) Reply {
	return Reply{Answer: engine.Answer{Status: engine.Accepted}, Outcome: &engine.Outcome{End: engine.On}}
}

// Desk is the fake. Its methods may be called from any goroutine.
type Desk struct {
	mu       sync.Mutex
	view     *engine.View
	rig      *rig.Rig
	lines    []protocols.Line
	rule     Rule
	orders   [][]engine.Command
	lastID   uint64
	watchers map[chan struct{}]bool

	work   chan func()
	ended  chan struct{}
	closed sync.Once
}

var _ protocols.Desk = (*Desk)(nil)

// New makes a desk that shows the view and the rig and answers by the rule. Close ends its goroutine.
func New(v *engine.View, r *rig.Rig, rule Rule) *Desk {
	d := &Desk{view: v, rig: r, rule: rule, watchers: map[chan struct{}]bool{}, work: make(chan func(), 4096), ended: make(chan struct{})}
	go func() {
		defer close(d.ended)
		for f := range d.work {
			f()
		}
	}()
	return d
}

// Close ends the desk; nothing may be ordered after it.
func (d *Desk) Close() {
	d.closed.Do(func() { close(d.work) })
	<-d.ended
}

// Order implements [protocols.Desk].
func (d *Desk) Order(commands []engine.Command, tell protocols.Tell) []uint64 {
	d.mu.Lock()
	ids := make([]uint64, len(commands))
	kept := make([]engine.Command, len(commands))
	for i, c := range commands {
		d.lastID++
		c.ID = d.lastID
		ids[i], kept[i] = c.ID, c
	}
	d.orders = append(d.orders, kept)
	rule := d.rule
	d.mu.Unlock()
	for _, c := range kept {
		d.work <- func() { say(c, rule(c), tell) }
	}
	return ids
}

func say(c engine.Command, r Reply, tell protocols.Tell) {
	if r.Silent {
		return
	}
	r.Answer.ID, r.Answer.Station, r.Answer.Verb = c.ID, c.Station, c.Verb
	tell(&r.Answer, nil)
	if r.Outcome != nil {
		o := *r.Outcome
		o.ID, o.Station, o.Verb = c.ID, c.Station, c.Verb
		tell(nil, &o)
	}
}

// Reload implements [protocols.Desk]: the rule answers the verb reload.
func (d *Desk) Reload(station string, engineer bool, tell protocols.Tell) uint64 {
	return d.Order([]engine.Command{{Verb: engine.ReloadSite, Station: station, Engineer: engineer}}, tell)[0]
}

// View implements [protocols.Desk].
func (d *Desk) View() *engine.View {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.view
}

// Rig implements [protocols.Desk].
func (d *Desk) Rig() *rig.Rig {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.rig
}

// Record implements [protocols.Desk].
func (d *Desk) Record(n int) []protocols.Line {
	d.mu.Lock()
	defer d.mu.Unlock()
	return append([]protocols.Line(nil), d.lines[max(0, len(d.lines)-n):]...)
}

// Watch implements [protocols.Desk].
func (d *Desk) Watch() (<-chan struct{}, func()) {
	c := make(chan struct{}, 1)
	d.mu.Lock()
	defer d.mu.Unlock()
	d.watchers[c] = true
	return c, func() {
		d.mu.Lock()
		defer d.mu.Unlock()
		delete(d.watchers, c)
	}
}

// Watchers gives how many watch.
func (d *Desk) Watchers() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return len(d.watchers)
}

// Orders gives every order so far: commands that came together stand together.
func (d *Desk) Orders() [][]engine.Command {
	d.mu.Lock()
	defer d.mu.Unlock()
	return append([][]engine.Command(nil), d.orders...)
}

// Show gives watchers a new view. The view must not be changed after it.
func (d *Desk) Show(v *engine.View) { d.change(func() { d.view = v }) }

// Change shows a copy of the view with something changed. The change must replace the lists that it touches.
func (d *Desk) Change(f func(*engine.View)) {
	d.change(func() {
		v := *d.view
		f(&v)
		d.view = &v
	})
}

// Rewire gives another rig.
func (d *Desk) Rewire(r *rig.Rig) { d.change(func() { d.rig = r }) }

// Rule sets another rule for the orders to come.
func (d *Desk) Rule(rule Rule) { d.change(func() { d.rule = rule }) }

// Write adds lines to the record.
func (d *Desk) Write(lines ...protocols.Line) {
	d.change(func() { d.lines = append(d.lines, lines...) })
}

func (d *Desk) change(f func()) {
	d.mu.Lock()
	defer d.mu.Unlock()
	f()
	for c := range d.watchers {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}
