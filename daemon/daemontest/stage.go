// Package daemontest runs a daemon on a small rig with fake devices, for tests: devices that act and tell as their class does, a record in memory that fails and hangs
// as it is told, and waits with a deadline. In a bubble of testing/synctest the deadlines are those of its clock.
package daemontest

import (
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon"
	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
	"lookgate/protocols"
)

// Patience is how long a wait waits.
const Patience = 20 * time.Second

// Stage is a running daemon with what it drives.
type Stage struct {
	*daemon.Daemon
	Plan    *presets.Plan
	Devices []*Device
	Store   *Store // nil where the options open another
}

// Plan gives a small rig with a numbered and a reporting device, and a book: 1 low on everything, 2 brighter on the first zone, 3 brighter on the second, 9 too bright for
// the circuits of both.
func Plan() *presets.Plan { return PlanOf(rigtest.Wye()) }

// PlanOf gives the book of Plan on another rig of two outputs.
func PlanOf(r *rig.Rig) *presets.Plan { return presets.NewPlan(r, Book()) }

// Book gives the book of Plan.
func Book() *presets.Book {
	zones := func(levels ...units.Level) []presets.ZoneLevel {
		var zs []presets.ZoneLevel
		for i, l := range levels {
			zs = append(zs, presets.ZoneLevel{Zone: i, Level: l, Cap: l})
		}
		return zs
	}
	return &presets.Book{Worklight: 1, Presets: []presets.Preset{
		{Number: 1, Name: "low", Zones: zones(0.2, 0.2)},
		{Number: 2, Name: "left", Zones: zones(0.6, 0.1)},
		{Number: 3, Name: "right", Zones: zones(0.1, 0.6)},
		{Number: 9, Name: "glare", Zones: zones(1, 1)},
	}}
}

// New makes a stage whose daemon is not started. Change may set the options before it is made.
func New(t testing.TB, change func(*daemon.Options)) *Stage {
	t.Helper()
	return Again(t, nil, change)
}

// Again makes a stage on the store and state folder of another one, as after a restart; nil for new ones.
func Again(t testing.TB, store *Store, change func(*daemon.Options)) *Stage {
	t.Helper()
	s := &Stage{Plan: Plan(), Store: store}
	if store == nil {
		s.Store = &Store{}
	}
	o := daemon.Options{Plan: s.Plan, StateDir: t.TempDir()}
	o.OpenStore = func(string) (daemon.Store, error) { return s.Store, nil }
	if change != nil {
		change(&o)
	}
	s.Plan = o.Plan
	if o.Devices == nil {
		for i := range o.Plan.Rig.Devices {
			s.Devices = append(s.Devices, NewDevice(o.Plan.Rig, i))
			o.Devices = append(o.Devices, s.Devices[i])
		}
	}
	var err error
	s.Daemon, err = daemon.New(o)
	require.NoError(t, err)
	return s
}

// Start makes a stage, starts it, and stops it when the test ends.
func Start(t testing.TB, change func(*daemon.Options)) *Stage {
	t.Helper()
	s := New(t, change)
	s.Go(t)
	return s
}

// Go starts the daemon, and stops it when the test ends. In a bubble the test stops it itself, before the bubble ends.
func (s *Stage) Go(t testing.TB) {
	t.Helper()
	require.NoError(t, s.Daemon.Start())
	t.Cleanup(func() { _ = s.Daemon.Stop() })
}

// Light gives the level of every output as it stands on the wall.
func (s *Stage) Light() []units.Level {
	var ls []units.Level
	for o := range s.Plan.Rig.Outputs {
		ls = append(ls, s.Devices[s.Plan.Rig.Outputs[o].Device].Light(o))
	}
	return ls
}

// Sent gives the packets of all devices in the order in which they left, questions left out.
func (s *Stage) Sent() []Sent {
	var all []Sent
	for _, d := range s.Devices {
		all = append(all, d.Sent()...)
	}
	slices.SortStableFunc(all, func(a, b Sent) int { return a.At.Compare(b.At) })
	return all
}

// Ticket collects what is told of commands.
type Ticket struct {
	IDs []uint64

	mu       sync.Mutex
	changed  chan struct{}
	answers  map[uint64][]engine.Answer
	outcomes map[uint64][]engine.Outcome
}

// NewTicket makes one that has been told nothing.
func NewTicket() *Ticket {
	return &Ticket{changed: make(chan struct{}), answers: map[uint64][]engine.Answer{}, outcomes: map[uint64][]engine.Outcome{}}
}

// Tell is the ticket's [protocols.Tell].
func (k *Ticket) Tell(a *engine.Answer, o *engine.Outcome) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if a != nil {
		k.answers[a.ID] = append(k.answers[a.ID], *a)
	}
	if o != nil {
		k.outcomes[o.ID] = append(k.outcomes[o.ID], *o)
	}
	close(k.changed)
	k.changed = make(chan struct{})
}

// Order gives commands together.
func Order(desk protocols.Desk, commands ...engine.Command) *Ticket {
	k := NewTicket()
	k.IDs = desk.Order(commands, k.Tell)
	return k
}

// Reload asks for the site to be read again.
func Reload(desk protocols.Desk, station string) *Ticket {
	k := NewTicket()
	k.IDs = []uint64{desk.Reload(station, true, k.Tell)}
	return k
}

// Told gives everything that was told of one command so far.
func (k *Ticket) Told(id uint64) ([]engine.Answer, []engine.Outcome) {
	k.mu.Lock()
	defer k.mu.Unlock()
	return slices.Clone(k.answers[id]), slices.Clone(k.outcomes[id])
}

// Answer waits for the answer to the first command.
func (k *Ticket) Answer(t testing.TB) engine.Answer {
	t.Helper()
	k.wait(t, "an answer", func() bool { return len(k.answers[k.IDs[0]]) > 0 })
	a, _ := k.Told(k.IDs[0])
	return a[0]
}

// Outcome waits for the outcome of the first command.
func (k *Ticket) Outcome(t testing.TB) engine.Outcome {
	t.Helper()
	k.wait(t, "an outcome", func() bool { return len(k.outcomes[k.IDs[0]]) > 0 })
	_, o := k.Told(k.IDs[0])
	return o[0]
}

// Settle waits until every command has its answer, and its outcome where it was accepted.
func (k *Ticket) Settle(t testing.TB) {
	t.Helper()
	k.wait(t, "a last word", func() bool {
		return !slices.ContainsFunc(k.IDs, func(id uint64) bool {
			a := k.answers[id]
			return len(a) == 0 || a[0].Status == engine.Accepted && len(k.outcomes[id]) == 0
		})
	})
}

func (k *Ticket) wait(t testing.TB, what string, done func() bool) {
	t.Helper()
	deadline := time.After(Patience)
	for {
		k.mu.Lock()
		ok, changed := done(), k.changed
		k.mu.Unlock()
		if ok {
			return
		}
		select {
		case <-changed:
		case <-deadline:
			require.FailNow(t, "no "+what+" came")
		}
	}
}

// Until waits for the desk to show a view that the condition holds for.
func Until(t testing.TB, desk protocols.Desk, what string, holds func(*engine.View) bool) *engine.View {
	t.Helper()
	changed, stop := desk.Watch()
	defer stop()
	deadline := time.After(Patience)
	for {
		if v := desk.View(); holds(v) {
			return v
		}
		select {
		case <-changed:
		case <-deadline:
			require.FailNow(t, "never saw "+what)
		}
	}
}

// Confirmed waits until every output is confirmed, as after a start.
func Confirmed(t testing.TB, desk protocols.Desk) {
	t.Helper()
	Until(t, desk, "every output confirmed", func(v *engine.View) bool {
		return !slices.ContainsFunc(v.Outputs, func(o engine.OutputView) bool { return !o.Confirmed })
	})
}
