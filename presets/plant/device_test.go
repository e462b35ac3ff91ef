package plant_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

const ms = time.Millisecond

// pair is a rig with one device of a class and two outputs, restarting at 25 %.
func pair(class rig.Class) *rig.Rig {
	r := stage(rig.Wye, 120, 208, on(1, 10), on(2, 10))
	r.Devices[0].Class, r.Devices[0].Restart, r.Devices[0].Repeats = class, 0.25, 3
	return r
}

func level(output int, l units.Level, number uint64) plant.Packet {
	return plant.Packet{Kind: plant.SetLevel, Output: output, Level: l, Number: number}
}

// kinds counts what a log tells.
func kinds(log []plant.Entry) map[plant.What]int {
	n := map[plant.What]int{}
	for _, e := range log {
		n[e.What]++
	}
	return n
}

func TestNumberedDeviceDropsWhatIsNotNewer(t *testing.T) {
	p := fresh(pair(rig.Numbered))
	p.Apply(0, level(0, 0.8, 5))
	p.Advance(100 * ms)
	require.Equal(t, units.Level(0.8), p.State(0))
	p.Apply(100*ms, level(0, 0.9, 5))
	p.Apply(100*ms, level(0, 0.9, 4))
	require.Empty(t, p.Advance(200*ms), "a stale packet makes no report")
	require.Equal(t, units.Level(0.8), p.State(0))
	p.Apply(200*ms, plant.Packet{Kind: plant.Ask, Number: 9})
	got := p.Advance(300 * ms)
	require.Len(t, got, 1)
	require.Equal(t, plant.Report{Number: 9, Levels: []units.Level{0.8, 0.25}, Black: []bool{false, false}}, got[0].Report)
	p.Apply(300*ms, level(0, 0.9, 8))
	p.Advance(400 * ms)
	require.Equal(t, units.Level(0.8), p.State(0), "the ask keeps older packets out")
	require.Equal(t, 3, kinds(p.TakeLog())[plant.Stale])
	require.Empty(t, p.TakeLog(), "the log is taken once")
}

func TestNumberedDeviceKeepsItsNumberThroughARestart(t *testing.T) {
	p := fresh(pair(rig.Numbered))
	p.Apply(0, level(0, 0.8, 5))
	p.Apply(0, plant.Packet{Kind: plant.SetBlack, Output: 1, Black: true, Number: 6})
	p.Apply(0, plant.Packet{Kind: plant.SetPicture, Picture: plant.Picture{Layout: 7, Mode: 1}, Number: 7})
	p.Advance(100 * ms)
	require.Equal(t, plant.Picture{Layout: 7, Mode: 1}, p.Shown(0))
	require.Zero(t, p.State(1))
	p.Restart(100*ms, 0)
	require.Equal(t, units.Level(0.25), p.State(0))
	require.Equal(t, units.Level(0.25), p.State(1), "a restart ends a blackout")
	require.Zero(t, p.Shown(0))
	p.Advance(200 * ms)
	p.Apply(200*ms, level(0, 0.8, 7))
	p.Advance(300 * ms)
	require.Equal(t, units.Level(0.25), p.State(0), "number 7 is still old")
}

func TestRestartForgetsWhatWasTakenAndNotActedOn(t *testing.T) {
	p := fresh(pair(rig.Reporting))
	unheard := 0
	for i := range 50 {
		at := time.Duration(i) * time.Second
		p.Apply(at, level(0, 0.8, 0))
		p.Restart(at, 0)
		p.Advance(at + 500*ms)
		require.Equal(t, units.Level(0.25), p.State(0))
		unheard += kinds(p.TakeLog())[plant.Unheard]
	}
	require.Equal(t, 50, unheard)
}

func TestRestartingDeviceIsDeafAndItsPanelsMayBeDark(t *testing.T) {
	r := pair(rig.Reporting)
	p := plant.New(r, plant.Habits{BootTime: time.Hour, DarkBoot: 1, BootReport: 1}, rand.New(rand.NewPCG(1, 1)))
	p.Restart(0, 0)
	require.False(t, p.Hears(0))
	require.Zero(t, named(t, r, p, rig.CircuitWire, 0), "dark")
	require.Equal(t, units.Level(0.25), p.State(0))
	p.Apply(0, level(0, 0.8, 0))
	got := p.Advance(2 * time.Hour)
	require.Len(t, got, 1, "it tells by itself")
	require.Equal(t, []units.Level{0.25, 0.25}, got[0].Report.Levels)
	require.InDelta(t, 2.5, named(t, r, p, rig.CircuitWire, 0), 1e-9)
	require.Equal(t, 1, kinds(p.TakeLog())[plant.Deaf])
}

func TestReportingDeviceActsOnWhateverArrives(t *testing.T) {
	p := fresh(pair(rig.Reporting))
	p.Apply(0, level(0, 0.8, 9))
	p.Advance(100 * ms)
	p.Apply(100*ms, level(0, 0.639, 1))
	require.Empty(t, p.Advance(200*ms), "it tells only when asked")
	require.Equal(t, units.Level(0.63), p.State(0), "rounded down to its steps")
	p.Apply(200*ms, plant.Packet{Kind: plant.Ask})
	got := p.Advance(300 * ms)
	require.Len(t, got, 1)
	require.Zero(t, got[0].Report.Number)
	p.Mute(0, true)
	p.Apply(300*ms, plant.Packet{Kind: plant.Ask})
	require.Empty(t, p.Advance(400*ms), "muted")
}

func TestSilentDeviceNeverTells(t *testing.T) {
	p := plant.New(pair(rig.Silent), plant.Habits{BootReport: 1, Echo: 1}, rand.New(rand.NewPCG(1, 1)))
	p.Apply(0, level(0, 0.8, 0))
	p.Apply(0, plant.Packet{Kind: plant.Ask})
	p.Restart(100*ms, 0)
	require.Empty(t, p.Advance(time.Second))
}

func TestSilentDeviceHearsOneOfItsRepeats(t *testing.T) {
	p := plant.New(pair(rig.Silent), plant.Habits{Wire: plant.Wire{Loss: 0.9}}, rand.New(rand.NewPCG(3, 1)))
	now := time.Duration(0)
	lost := 0
	for i := range 200 {
		want := units.Level(float64(i%10) / 10)
		for range 3 {
			p.Send(now, now, level(0, want, 0))
			now += 100 * ms
			p.Advance(now)
		}
		require.Equal(t, want, p.State(0), "value %d", i)
		lost += kinds(p.TakeLog())[plant.Lost]
	}
	require.Greater(t, lost, 300, "most were lost all the same")
}

func TestWireKeepsItsTimes(t *testing.T) {
	h := plant.Habits{Wire: plant.Wire{Loss: 0.2, Duplicate: 0.3, Delay: 10 * ms, Late: 0.3}}
	p := plant.New(pair(rig.Numbered), h, rand.New(rand.NewPCG(1, 1)))
	const sent = 2000
	overtaken, beforeReturn, doubles := 0, 0, 0
	var last uint64
	for i := range uint64(sent) {
		now := time.Duration(i) * 20 * ms
		p.Send(now, now+5*ms, level(0, 0.5, i+1))
		p.Advance(now + 20*ms)
	}
	p.Advance(time.Hour)
	seen := map[uint64]bool{}
	log := p.TakeLog()
	for _, e := range log {
		if e.What != plant.Applied && e.What != plant.Stale {
			continue
		}
		written := time.Duration(e.Packet.Number-1)*20*ms + 5*ms
		require.LessOrEqual(t, e.At-written, 50*ms+10*ms, "life and half the settling")
		if e.Packet.Number < last {
			overtaken++
		}
		if e.At < written {
			beforeReturn++
		}
		if seen[e.Packet.Number] {
			doubles++
		}
		last, seen[e.Packet.Number] = max(last, e.Packet.Number), true
	}
	require.InDelta(t, 0.2*sent, kinds(log)[plant.Lost], 80)
	require.InDelta(t, 0.8*0.3*sent, doubles, 80)
	require.Greater(t, overtaken, 50)
	require.Greater(t, beforeReturn, 50, "a packet may be there before its write returns")
}

// TestReportShowsEverythingOlderThanSettling holds the assumption that a release rests on: a report shows every packet that arrived the settling time before it.
func TestReportShowsEverythingOlderThanSettling(t *testing.T) {
	p := fresh(pair(rig.Reporting))
	for i := range 500 {
		at := time.Duration(i) * time.Second
		want := units.Level(float64(1+i%9) / 10)
		p.Apply(at, level(0, 0.99, 0))
		p.Apply(at+time.Millisecond, level(0, want, 0))
		p.Advance(at + 21*ms)
		p.Apply(at+21*ms, plant.Packet{Kind: plant.Ask})
		got := p.Advance(at + 900*ms)
		require.Len(t, got, 1)
		require.Equal(t, want, got[0].Report.Levels[0])
	}
}

func TestBreakersTripAndReturn(t *testing.T) {
	r := pair(rig.Numbered)
	p := plant.New(r, plant.Habits{TripEvery: time.Second, TripFor: time.Second}, rand.New(rand.NewPCG(1, 1)))
	p.SetBreaker(0, 1, plant.Locked)
	p.Advance(time.Minute)
	n := kinds(p.TakeLog())
	require.Greater(t, n[plant.Tripped], 10)
	require.Equal(t, plant.Locked, p.Breaker(1), "nobody closes a locked breaker")
	p.Calm()
	p.Advance(2 * time.Minute)
	require.Equal(t, plant.In, p.Breaker(0), "a tripped breaker is closed again")
	p.Trip(2*time.Minute, 0)
	require.Equal(t, plant.Out, p.Breaker(0))
}

func TestCalmEndsAllFaults(t *testing.T) {
	h := plant.Habits{Wire: plant.Wire{Loss: 0.5, Duplicate: 0.5, Late: 1}, RestartEvery: time.Second, TripEvery: time.Second, TripFor: time.Second}
	p := plant.New(pair(rig.Numbered), h, rand.New(rand.NewPCG(1, 1)))
	p.Advance(time.Minute)
	require.Greater(t, kinds(p.TakeLog())[plant.Restarted], 30)
	p.Calm()
	p.Advance(2 * time.Minute)
	p.TakeLog()
	for i := range uint64(100) {
		now := 2*time.Minute + time.Duration(i)*100*ms
		p.Send(now, now, level(0, 0.5, i+1))
		require.Len(t, p.Advance(now+90*ms), 1)
	}
	require.Equal(t, map[plant.What]int{plant.Applied: 100, plant.Told: 100}, kinds(p.TakeLog()))
	_, more := p.Next()
	require.False(t, more, "nothing happens by itself any more")
}

func TestForgetfulDeviceTakesAnOldNumberAfterItsRestart(t *testing.T) {
	p := plant.New(pair(rig.Numbered), plant.Habits{Forgets: true}, rand.New(rand.NewPCG(1, 1)))
	p.Apply(0, level(0, 0.8, 7))
	p.Advance(100 * ms)
	p.Restart(100*ms, 0)
	p.Advance(200 * ms)
	p.Apply(200*ms, level(0, 0.9, 3))
	p.Advance(300 * ms)
	require.Equal(t, units.Level(0.9), p.State(0))
}
