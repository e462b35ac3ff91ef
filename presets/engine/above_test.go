package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

const (
	longest = 45 * time.Minute
	resting = 30 * time.Minute
	stated  = 30 * time.Minute
)

// lending gives the small rig with breakers such that white takes every circuit to 90 % of its rating, which it may carry for 45 min; white states 30 min.
func lending(class rig.Class) *presets.Plan {
	r := smallRig(class)
	r.Boards[0].Main, r.Boards[0].Neutral, r.Supply.Main, r.Supply.Neutral = 100, 100, 100, 100
	m := power.New(r)
	full := m.Worst(power.State{Levels: []units.Level{1, 1}}, nil)
	for i, c := range m.Conductors() {
		if c.Kind == rig.CircuitWire {
			r.Circuits[c.Circuit].Breaker, r.Circuits[c.Circuit].Above = full[i]/0.9, &rig.AboveContinuous{For: longest, Rest: resting}
		}
	}
	p := plan(r)
	p.Book.Presets[4].Above, p.Book.Presets[4].FadeDown = stated, 3*time.Second
	p.Book.Presets = append(p.Book.Presets, presets.Preset{Number: 7, Name: "sunset", Zones: p.Book.Presets[0].Zones, FadeDown: 59 * time.Minute})
	return presets.NewPlan(r, p.Book)
}

// rested gives a bench whose circuits have rested: of a device that tells nothing, that is known once it was told to be dark.
func rested(t *testing.T, p *presets.Plan, set engine.Settings) *bench {
	b := benchOf(t, p, set)
	b.do(engine.Command{Verb: engine.Blackout})
	b.run(resting + 5*time.Second)
	return b
}

// above gives for how long the first circuit would have been above its continuous limit at the levels that the devices truly held, stepping through the time.
func (b *bench) above(d time.Duration) time.Duration {
	m, sum := power.New(b.r), time.Duration(0)
	for range d / time.Second {
		b.run(time.Second)
		if worst := m.WorstOf(0, power.State{Levels: b.level}); worst > m.Conductors()[0].Limit {
			sum += time.Second
		}
	}
	return sum
}

func (b *bench) white(t *testing.T) {
	a := b.do(engine.Command{Verb: engine.Recall, Preset: 5})
	require.Equal(t, engine.Accepted, a.Status, "%v", a.Findings)
}

func TestALookAboveTheContinuousLimitIsBroughtDownInTime(t *testing.T) {
	eachClass(t, func(t *testing.T, class rig.Class) {
		b := rested(t, lending(class), engine.Settings{})
		b.white(t)
		id := b.id
		above := b.above(stated)
		require.LessOrEqual(t, above, stated)
		require.Greater(t, above, stated-20*time.Second)
		require.Equal(t, engine.On, b.ended(id), "its outcome was given long ago, and it was the only one")
		b.run(10 * time.Second)
		v := b.e.View()
		require.Nil(t, v.Look.Above)
		require.Equal(t, "on", v.Look.State)
		require.Less(t, v.Look.Scale, units.Level(0.9))
		require.Equal(t, v.Outputs[0].Wanted, b.level[0])
		require.Nil(t, b.kept.Wanted.Above)
		b.do(engine.Command{Verb: engine.Level, Level: 1})
		require.Zero(t, b.above(time.Minute), "no fader takes it up again")
		a := b.do(engine.Command{Verb: engine.Recall, Preset: 5})
		require.Equal(t, engine.Refused, a.Status)
		require.Equal(t, finding.AboveTime, a.Findings[0].Code)
	})
}

func TestWhatComesDownTooSlowlyIsCutShort(t *testing.T) {
	b := rested(t, lending(rig.Numbered), engine.Settings{})
	b.white(t)
	above := b.above(29 * time.Minute)
	require.Equal(t, engine.Accepted, b.do(engine.Command{Verb: engine.Recall, Preset: 7}).Status)
	above += b.above(30 * time.Minute)
	require.LessOrEqual(t, above, longest, "a fade of an hour keeps no circuit above for longer than its rig allows")
	require.Greater(t, above, 35*time.Minute, "and is left alone until then")
}

func TestWatchModeTellsThatTheTimeIsOver(t *testing.T) {
	b := rested(t, lending(rig.Numbered), engine.Settings{Watch: true})
	b.white(t)
	b.run(stated)
	require.Empty(t, b.sent)
	alarms := b.e.View().Alarms
	require.Len(t, alarms, 1)
	require.Contains(t, alarms[0].Sentence, "has used its time above the continuous limit on circuit")
}

func TestACommandThatWaitsWhenItsLookIsBroughtDownIsDropped(t *testing.T) {
	b := rested(t, lending(rig.Numbered), engine.Settings{})
	b.white(t)
	b.run(29 * time.Minute)
	b.do(engine.Command{Verb: engine.Level, Level: 0.5})
	b.run(time.Second)
	b.mute[1] = true
	b.run(40 * time.Second)
	b.do(engine.Command{Verb: engine.Level, Level: 1})
	b.run(2 * time.Minute)
	require.Equal(t, engine.DroppedEnd, b.ended(b.id))
	require.Nil(t, b.e.View().Look.Above)
}

func TestAReloadKeepsWhatCircuitsHaveUsed(t *testing.T) {
	b := rested(t, lending(rig.Numbered), engine.Settings{})
	b.white(t)
	b.run(10 * time.Minute)
	b.step(engine.Reload{Command: engine.Command{ID: 900, Verb: engine.ReloadSite}, Plan: lending(rig.Numbered)})
	require.Equal(t, engine.Accepted, b.answers[len(b.answers)-1].Status)
	v := b.e.View()
	require.InDelta(t, 10*60, v.Circuits[0].Above.Used.Seconds(), 1)
	require.NotNil(t, v.Look.Above)
	without := lending(rig.Numbered)
	without.Rig.Circuits[0].Above = nil
	b.step(engine.Reload{Command: engine.Command{ID: 901, Verb: engine.ReloadSite}, Plan: presets.NewPlan(without.Rig, without.Book)})
	last := b.answers[len(b.answers)-1]
	require.Equal(t, engine.Refused, last.Status, "a rig that does not allow it does not carry the look that is on")
	require.Equal(t, finding.CircuitOver, last.Findings[0].Code)
}

func TestANewSiteHasToRestFirst(t *testing.T) {
	b := benchOf(t, lending(rig.Numbered), engine.Settings{})
	a := b.do(engine.Command{Verb: engine.Recall, Preset: 5})
	require.Equal(t, engine.Refused, a.Status)
	require.Equal(t, finding.AboveTime, a.Findings[0].Code)
	require.False(t, b.e.View().Presets[4].Admitted)
	b.run(resting)
	require.True(t, b.e.View().Presets[4].Admitted)
	require.Equal(t, stated, b.e.View().Presets[4].Above)
}
