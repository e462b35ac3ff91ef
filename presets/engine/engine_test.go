package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// bench drives an engine with devices that answer at once, or not at all while mute. Its disk commits at once unless it is held or broken.
type bench struct {
	t        *testing.T
	e        *engine.Engine
	r        *rig.Rig
	now      engine.Instant
	level    []units.Level
	black    []bool
	picture  []engine.Picture
	number   []uint64
	mute     []bool
	hold     bool
	broken   string
	pending  []uint64
	answers  []engine.Answer
	outcomes []engine.Outcome
	sent     []engine.Action
	kept     *engine.Kept
	next     engine.Instant
	id       uint64
}

func plan(r *rig.Rig) *presets.Plan {
	all := func(l units.Level) []presets.ZoneLevel {
		return []presets.ZoneLevel{{Zone: 0, Level: l, Cap: l}, {Zone: 1, Level: l, Cap: l}}
	}
	r.Zones = []rig.Zone{{Name: "left", Outputs: []int{0}}, {Name: "right", Outputs: []int{1}}}
	book := &presets.Book{Worklight: 4, Presets: []presets.Preset{
		{Number: 1, Name: "low", Zones: all(0.3)},
		{Number: 2, Name: "left-up", Zones: []presets.ZoneLevel{{Zone: 0, Level: 0.8, Cap: 0.8}, {Zone: 1, Level: 0.2, Cap: 0.2}}},
		{Number: 3, Name: "right-up", Zones: []presets.ZoneLevel{{Zone: 0, Level: 0.2, Cap: 0.2}, {Zone: 1, Level: 0.8, Cap: 0.8}}},
		{Number: 4, Name: "work", Zones: all(0.1)},
		{Number: 5, Name: "white", Zones: all(1)},
		{Number: 6, Name: "slow", Zones: all(0.3), FadeUp: time.Second, FadeDown: time.Second},
	}}
	return presets.NewPlan(r, book)
}

// smallRig is two outputs, one device each, whose board carries one of them at 80 % but not both.
func smallRig(class rig.Class) *rig.Rig {
	r := rigtest.SplitPhase()
	r.Devices, r.Outputs, r.Boards[0].Main = nil, nil, 16
	rigtest.AddDevice(r, class, 100, 0.1)
	rigtest.AddDevice(r, class, 100, 0.1)
	rigtest.AddOutput(r, 0, rigtest.Columns(r, 0, 1, 3))
	rigtest.AddOutput(r, 1, rigtest.Columns(r, 0, 4, 6))
	return r
}

func newBench(t *testing.T, r *rig.Rig) *bench { return benchOf(t, plan(r), engine.Settings{}) }

func benchOf(t *testing.T, p *presets.Plan, set engine.Settings) *bench {
	r := p.Rig
	b := &bench{t: t, r: r, e: engine.New(p, set, nil, 1)}
	b.level, b.black = make([]units.Level, len(r.Outputs)), make([]bool, len(r.Outputs))
	b.picture, b.number, b.mute = make([]engine.Picture, len(r.Devices)), make([]uint64, len(r.Devices)), make([]bool, len(r.Devices))
	b.step(engine.Tick{})
	b.run(3 * time.Second)
	b.answers, b.outcomes, b.sent = nil, nil, nil
	return b
}

// step hands in one input, and then everything that the devices and the disk say to what came out.
func (b *bench) step(in engine.Input) {
	inputs := []engine.Input{in}
	for len(inputs) > 0 {
		res := b.e.Step(b.now, inputs[0])
		inputs = inputs[1:]
		b.answers, b.outcomes = append(b.answers, res.Answers...), append(b.outcomes, res.Outcomes...)
		b.next = b.now + time.Hour
		if res.HasNext {
			b.next = res.Next
		}
		for _, a := range res.Actions {
			inputs = append(inputs, b.act(a)...)
		}
	}
}

func (b *bench) act(a engine.Action) []engine.Input {
	if a.Kind == engine.Commit {
		switch {
		case b.broken != "":
			return []engine.Input{engine.CommitFailed{Batch: a.Batch, Cause: b.broken}}
		case b.hold:
			b.pending = append(b.pending, a.Batch)
			return nil
		}
		b.kept = a.Kept
		return []engine.Input{engine.Committed{Batch: a.Batch}}
	}
	b.sent = append(b.sent, a)
	in := []engine.Input{engine.Written{Write: a.Write}}
	if b.mute[a.Device] {
		return in
	}
	switch a.Kind {
	case engine.SendLevel:
		b.level[a.Output] = a.Level
	case engine.SendBlack:
		b.black[a.Output] = a.Black
	case engine.SendPicture:
		b.picture[a.Device] = a.Picture
	}
	b.number[a.Device] = a.Number
	return append(in, b.report(a.Device))
}

func (b *bench) report(d int) engine.Report {
	r := engine.Report{Device: d, Number: b.number[d], Picture: b.picture[d]}
	for o := range b.r.Outputs {
		if b.r.Outputs[o].Device == d {
			r.Levels, r.Black = append(r.Levels, b.level[o]), append(r.Black, b.black[o])
		}
	}
	return r
}

// run lets time pass, stepping at every deadline.
func (b *bench) run(d time.Duration) {
	end := b.now + d
	for n := 0; b.next <= end; n++ {
		require.Less(b.t, n, 10_000, "the engine asks for deadlines without end")
		b.now = max(b.next, b.now)
		b.step(engine.Tick{})
	}
	b.now = end
}

func (b *bench) do(c engine.Command) engine.Answer {
	b.id++
	c.ID, c.Station = b.id, "test"
	before := len(b.answers)
	b.step(c)
	require.Len(b.t, b.answers[before:], 1, "one answer to %v", c)
	return b.answers[len(b.answers)-1]
}

func (b *bench) ended(id uint64) engine.End {
	var end engine.End
	for _, o := range b.outcomes {
		if o.ID == id {
			require.Empty(b.t, end, "two outcomes for command %d", id)
			end = o.End
		}
	}
	return end
}

func eachClass(t *testing.T, f func(*testing.T, rig.Class)) {
	for _, c := range []rig.Class{rig.Numbered, rig.Reporting, rig.Silent} {
		t.Run(c.String(), func(t *testing.T) { f(t, c) })
	}
}

func TestARecallIsReached(t *testing.T) {
	eachClass(t, func(t *testing.T, class rig.Class) {
		b := newBench(t, smallRig(class))
		require.Empty(t, b.sent)
		require.Equal(t, engine.Accepted, b.do(engine.Command{Verb: engine.Recall, Preset: 2}).Status)
		b.run(5 * time.Second)
		require.Equal(t, engine.On, b.ended(b.id))
		require.Equal(t, []units.Level{0.8, 0.2}, b.level)
		require.Equal(t, []bool{false, false}, b.black)
	})
}

func TestASwitchLowersFirstAndThenRaises(t *testing.T) {
	eachClass(t, func(t *testing.T, class rig.Class) {
		b := newBench(t, smallRig(class))
		b.do(engine.Command{Verb: engine.Recall, Preset: 2})
		b.run(5 * time.Second)
		b.sent = nil
		b.do(engine.Command{Verb: engine.Recall, Preset: 3})
		b.run(5 * time.Second)
		require.Equal(t, engine.On, b.ended(b.id))
		require.Equal(t, []units.Level{0.2, 0.8}, b.level)
	})
}

func TestARefusalSendsNothing(t *testing.T) {
	b := newBench(t, smallRig(rig.Numbered))
	a := b.do(engine.Command{Verb: engine.Recall, Preset: 5})
	require.Equal(t, engine.Refused, a.Status)
	require.NotEmpty(t, a.Findings)
	for _, s := range b.sent {
		require.Equal(t, engine.Ask, s.Kind)
	}
}

func TestBlackoutWaitsForNoDisk(t *testing.T) {
	eachClass(t, func(t *testing.T, class rig.Class) {
		b := newBench(t, smallRig(class))
		b.do(engine.Command{Verb: engine.Recall, Preset: 1})
		b.run(5 * time.Second)
		b.hold, b.sent = true, nil
		require.Equal(t, engine.Accepted, b.do(engine.Command{Verb: engine.Blackout}).Status)
		require.Equal(t, []bool{true, true}, b.black)
		b.run(5 * time.Second)
		require.Equal(t, engine.On, b.ended(b.id))
		b.hold = false
		for _, batch := range b.pending {
			b.step(engine.Committed{Batch: batch})
		}
		b.do(engine.Command{Verb: engine.Blackout, Off: true})
		b.run(5 * time.Second)
		require.Equal(t, engine.On, b.ended(b.id))
		require.Equal(t, []bool{false, false}, b.black)
		require.Equal(t, []units.Level{0.3, 0.3}, b.level)
	})
}

func TestAFailedCommitStopsRaisingAndNotLowering(t *testing.T) {
	b := newBench(t, smallRig(rig.Numbered))
	b.do(engine.Command{Verb: engine.Recall, Preset: 1})
	b.run(5 * time.Second)
	b.broken = "no space"
	a := b.do(engine.Command{Verb: engine.Recall, Preset: 2})
	require.Equal(t, engine.Failed, a.Status)
	require.Equal(t, finding.DiskFailed, a.Findings[0].Code)
	require.Equal(t, engine.Accepted, b.do(engine.Command{Verb: engine.ZoneLevel, Target: "left", Level: 0.25}).Status)
	require.Equal(t, []units.Level{0.25, 0.3}, b.level)
	require.Equal(t, engine.Failed, b.do(engine.Command{Verb: engine.ZoneLevel, Target: "left", Level: 0.3}).Status)
	b.broken = ""
	b.run(3 * time.Second)
	require.Equal(t, engine.Accepted, b.do(engine.Command{Verb: engine.ZoneLevel, Target: "left", Level: 0.3}).Status)
	require.Equal(t, []units.Level{0.3, 0.3}, b.level)
}

func TestACircuitComesBackByTheRemedyOfItsRefusal(t *testing.T) {
	r := smallRig(rig.Numbered)
	b := newBench(t, r)
	require.Equal(t, engine.Accepted, b.do(engine.Command{Verb: engine.LockedOff, Target: r.Circuits[0].Name}).Status)
	require.Equal(t, engine.Accepted, b.do(engine.Command{Verb: engine.Recall, Preset: 5}).Status, "white passes with a circuit away")
	b.run(5 * time.Second)
	back := engine.Command{Verb: engine.CircuitIn, Target: r.Circuits[0].Name}
	a := b.do(back)
	require.Equal(t, engine.Refused, a.Status)
	do := a.Findings[0].Remedies[0].Do
	require.NotNil(t, do, "%+v", a.Findings[0])
	require.Equal(t, engine.Accepted, b.do(engine.Command{Verb: engine.Verb(do.Verb), Target: do.Target, Level: *do.Level, HasLevel: true}).Status)
	b.run(5 * time.Second)
	require.Equal(t, engine.Accepted, b.do(back).Status)
}
