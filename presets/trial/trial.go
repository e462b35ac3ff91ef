package trial

import (
	"fmt"
	"math/rand/v2"
	"time"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Controller is what stands trial: the engine, or one with a planted fault.
type Controller interface {
	// Step takes one input at a time since the start of this incarnation.
	Step(now engine.Instant, in engine.Input) engine.Result
	// View gives the state that stations see.
	View() *engine.View
	// Glance gives the part of it that the trial looks at after every step.
	Glance() *engine.View
}

// Setup is a plant with its book, and how a controller for it is started.
type Setup struct {
	Plan  *presets.Plan // what the controller believes
	Plant *rig.Rig      // what is true; nil where it is the plan's rig
	Start func(kept *engine.Kept, epoch uint64) Controller
}

// Faults are what goes wrong, and how long things take. The zero value of a field never happens, or takes no time.
type Faults struct {
	Plant       plant.Habits
	Storm       time.Duration // the faults stop after this
	CommandGap  time.Duration // mean time between two commands
	CrashEvery  time.Duration // mean time between two crashes of the daemon
	CrashAtDisk units.Share   // of commits whose flush the daemon does not survive, or whose end it does not learn of
	Down        time.Duration // the daemon is started again after up to this
	Write       time.Duration // a write to a device takes up to this
	WriteStuck  units.Share   // of writes that take up to StuckFor instead
	StuckFor    time.Duration
	WriteFail   units.Share   // of writes that fail
	Commit      time.Duration // a commit takes up to this to be on disk
	CommitFail  units.Share   // of commits that fail; the disk then takes none for up to SickFor
	SickFor     time.Duration
	Mistakes    Mistakes
	Between     time.Duration // what one part of the daemon tells another, and a deadline, arrives late by up to this
}

// Rough is the mixture of faults that the proof runs under.
func Rough() Faults {
	return Faults{
		Plant: plant.Habits{
			Wire: plant.Wire{Loss: 0.1, Duplicate: 0.05, Delay: 5 * time.Millisecond, Late: 0.1}, Echo: 0.5, BootReport: 0.5,
			RestartEvery: 20 * time.Second, BootTime: 2 * time.Second, DarkBoot: 0.3, TripEvery: 20 * time.Second, TripFor: 5 * time.Second,
			LoadEvery: 3 * time.Second,
		},
		Storm: 40 * time.Second, CommandGap: 800 * time.Millisecond, CrashEvery: 15 * time.Second, CrashAtDisk: 0.02, Down: time.Second,
		Write: 2 * time.Millisecond, WriteStuck: 0.02, StuckFor: 300 * time.Millisecond, WriteFail: 0.02, Commit: 5 * time.Millisecond, CommitFail: 0.01,
		SickFor: 2 * time.Second, Between: time.Millisecond,
	}
}

// Violation is something that must never happen, and when it did.
type Violation struct {
	At   time.Duration
	Rule Rule
	Text string
}

// String prints the violation.
func (v Violation) String() string { return fmt.Sprintf("%v %s: %s", v.At, v.Rule, v.Text) }

// Rule is one thing that must always hold.
type Rule string

// The rules.
const (
	Safety     Rule = "safety"     // no true current above a limit, or above a breaker's rating where a circuit may be above its continuous limit for a while
	Overtime   Rule = "overtime"   // no circuit truly above its continuous limit for longer than its rig allows, over all looks, with rest
	Soundness  Rule = "soundness"  // every true state within what is possible
	Atomicity  Rule = "atomicity"  // after a crash the old or the new look is wanted, whole
	Durability Rule = "durability" // what raises is on disk before a device is told
	OneAnswer  Rule = "one answer" // one answer, and one outcome if accepted
	Unasked    Rule = "unasked"    // nothing rises without a command
	Liveness   Rule = "liveness"   // when faults stop, what is asked for is reached
	Workable   Rule = "workable"   // no endless work at one instant
)

// Outcome is what came of one run.
type Outcome struct {
	Seed       uint64
	Hash       uint64 // of every event in order
	Violations []Violation
	Stats      Stats
	Story      []string // one line an event, where it was asked for
}

// Run plays one seed until the faults have stopped and the wall has come to rest, or until the first violation. With story it also tells it in lines.
func Run(seed uint64, s Setup, f Faults, story bool) Outcome {
	r := newRun(seed, s, f, story)
	r.storm()
	r.calm()
	r.stats.Runs, r.stats.Simulated = 1, r.now
	return Outcome{Seed: seed, Hash: r.trace.sum, Violations: r.violations, Stats: r.stats, Story: r.trace.lines}
}

// run is one run under way.
type run struct {
	setup  Setup
	faults Faults
	rng    *rand.Rand // of people and faults; the plant has its own
	now    time.Duration
	seq    uint64
	queue  queue
	trace  trace

	plant   *plant.Plant
	over    overtimes
	begun   map[uint64]time.Duration // when each incarnation began
	clock   bool                     // who starts the daemon knows how long it was gone
	truth   *rig.Rig
	limits  []rig.Conductor
	amps    []units.Amps
	ctl     Controller // nil while the daemon is down
	started time.Duration
	life    int             // counts the daemon's incarnations
	owed    map[uint64]bool // commands whose outcomes this life has to give; a life before ended first
	epoch   uint64
	view    *engine.View
	before  *engine.View // the view before the last step
	moved   bool         // the true plant may have changed since it was last checked
	tick    uint64       // the seq of the only deadline that counts
	idle    int          // steps without a pause
	workers []worker
	disk    disk
	people  people

	violations []Violation
	stats      Stats
}

func newRun(seed uint64, s Setup, f Faults, story bool) *run {
	truth := s.Plant
	if truth == nil {
		truth = s.Plan.Rig
	}
	r := &run{setup: s, faults: f, rng: rand.New(rand.NewPCG(seed, 1)), truth: truth, limits: truth.Conductors(), workers: make([]worker, len(truth.Devices))}
	r.trace = newTrace(story)
	r.over, r.begun, r.clock = newOvertimes(truth), map[uint64]time.Duration{}, seed%2 == 0
	r.plant = plant.New(truth, f.Plant, rand.New(rand.NewPCG(seed, 2)))
	r.plant.Show(contentsOf(s.Plan))
	r.people = newPeople(len(truth.Circuits))
	r.boot()
	r.planAfter(around(r.rng, f.CommandGap), event{what: commands})
	if f.CrashEvery > 0 {
		r.planAfter(around(r.rng, f.CrashEvery), event{what: crashes})
	}
	return r
}

// storm plays the part with faults.
func (r *run) storm() { r.until(r.faults.Storm, func() bool { return false }) }

// until plays events until a time or until done says so; it reports whether done did.
func (r *run) until(end time.Duration, done func() bool) bool {
	for len(r.violations) == 0 && !done() {
		own, any1 := r.queue.next()
		theirs, any2 := r.plant.Next()
		switch {
		case any1 && own <= end && (!any2 || own <= theirs):
			r.happen()
		case any2 && theirs <= end:
			r.pause(theirs)
			r.plantStep()
		default:
			r.pause(end)
			return done()
		}
		r.check()
	}
	return len(r.violations) == 0
}

// pause moves the time on.
func (r *run) pause(to time.Duration) {
	if to > r.now {
		r.now, r.idle = to, 0
	}
}

// plantStep lets the plant's next event happen and takes a report from it to the daemon.
func (r *run) plantStep() {
	a, arrived := r.plant.Step()
	r.moved = true
	r.stats.Events++
	for _, e := range r.plant.TakeLog() {
		r.trace.plant(e)
		r.stats.count(e.What)
	}
	if arrived && r.ctl != nil {
		p := a.Report
		r.trace.report(r.now, p)
		r.step(engine.Report{Device: p.Device, Number: p.Number, Levels: p.Levels, Black: p.Black, Picture: engine.Picture(p.Picture)})
	}
}

// violate records the first violation.
func (r *run) violate(rule Rule, format string, args ...any) {
	v := Violation{r.now, rule, fmt.Sprintf(format, args...)}
	r.violations = append(r.violations, v)
	r.trace.word(r.now, "VIOLATION", func() string { return string(rule) + ": " + v.Text })
}
