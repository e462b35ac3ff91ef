package daemon_test

import (
	"fmt"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon"
	"lookgate/daemon/daemontest"
	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
)

func TestAStuckWatcherSlowsNothing(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		_, stop := s.Watch() // never looks
		defer stop()
		changed, stopToo := s.Watch()
		defer stopToo()
		on(t, s, 1)
		on(t, s, 2)
		<-changed
		require.Equal(t, 2, daemontest.Until(t, s, "the look", func(v *engine.View) bool { return v.Look.State == "on" && v.Look.Preset == 2 }).Look.Preset)
	})
}

func TestAWatcherThatStoppedIsNotNudged(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		changed, stop := s.Watch()
		stop()
		select {
		case <-changed:
		default:
		}
		on(t, s, 1)
		select {
		case <-changed:
			require.Fail(t, "nudged after it had stopped")
		default:
		}
	})
}

func TestViewsAreFreshAndNeverChange(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		before := s.View()
		at, scale := before.At, before.Look.Preset
		on(t, s, 1)
		require.Equal(t, 1, s.View().Look.Preset, "the view does not have what was answered")
		require.Equal(t, "on", s.View().Look.State, "the view does not have the outcome that was told")
		require.Equal(t, at, before.At)
		require.Equal(t, scale, before.Look.Preset)

		// With nothing going on the view still shows that the daemon lives.
		last := s.View().At
		for range 10 {
			<-time.After(600 * time.Millisecond)
			require.Greater(t, s.View().At, last)
			last = s.View().At
		}
	})
}

func TestViewsAreNotMadeForEveryStep(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		on(t, s, 1)
		seen := map[*engine.View]bool{}
		for range 1000 { // reports come far more often than anybody looks
			s.Devices[1].Tell()
			synctest.Wait()
			seen[s.View()] = true
			<-time.After(time.Millisecond)
		}
		require.Less(t, len(seen), 60)
		require.Greater(t, len(seen), 30)
	})
}

func TestCommandsOfOneBatchAreHandledInOrderWithNothingBetween(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		on(t, s, 1)
		var mu sync.Mutex
		var order []uint64
		tell := func(a *engine.Answer, _ *engine.Outcome) {
			if a != nil {
				mu.Lock()
				defer mu.Unlock()
				order = append(order, a.ID)
			}
		}
		var batches sync.WaitGroup
		for i := range 8 {
			batches.Go(func() {
				s.Order(slices.Repeat([]engine.Command{{Station: fmt.Sprint(i), Verb: engine.Query}}, 20), tell)
			})
		}
		batches.Wait()
		synctest.Wait()
		require.Len(t, order, 160)
		require.True(t, slices.IsSorted(order))
	})
}

func TestAFullQueueAnswersBusyAndTheBlackoutPasses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := daemontest.New(t, nil)
		require.NoError(t, s.Start())
		defer func() { require.NoError(t, s.Stop()) }()
		daemontest.Confirmed(t, s)
		on(t, s, 2)
		// One tell holds the loop, as no tell may; while it does, everything waits.
		held, let := make(chan struct{}), make(chan struct{})
		s.Order([]engine.Command{{Verb: engine.Query}}, func(a *engine.Answer, _ *engine.Outcome) {
			if a != nil {
				close(held)
				<-let
			}
		})
		<-held
		flood := daemontest.Order(s, slices.Repeat([]engine.Command{{Station: "console", Verb: engine.Query}}, 3000)...)
		last := daemontest.Order(s, dark)
		close(let)
		require.Equal(t, engine.Accepted, last.Answer(t).Status)
		require.Equal(t, engine.On, last.Outcome(t).End)
		busy, fine := 0, 0
		for _, id := range flood.IDs {
			answers, _ := flood.Told(id)
			require.Len(t, answers, 1)
			switch {
			case answers[0].Status == engine.Accepted:
				fine++
			case answers[0].Status == engine.Failed && answers[0].Findings[0].Code == finding.Busy:
				busy++
			}
		}
		require.Equal(t, 3000, busy+fine)
		require.Positive(t, busy)
		require.Positive(t, fine)
	})
}

func TestATellThatPanicsTakesNothingDown(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		s.Order([]engine.Command{{Verb: engine.Query}}, func(*engine.Answer, *engine.Outcome) { panic("no such client") })
		on(t, s, 1)
		<-time.After(time.Second)
		require.True(t, slices.ContainsFunc(s.Record(100), lineWith("note", "no such client")))
	})
}

// TestAStormOfCommands has eight stations send everything at once, on real time: every command has one answer, and an outcome if and only if it was accepted.
func TestAStormOfCommands(t *testing.T) {
	s := daemontest.Start(t, nil)
	daemontest.Confirmed(t, s)
	verbs := []engine.Command{
		recall(1), recall(2), recall(3), recall(9), recall(77), dark, {Verb: engine.Blackout, Off: true}, {Verb: engine.Level, Level: 0.5},
		{Verb: engine.StepBy, Stops: -0.5}, {Verb: engine.ZoneLevel, Target: "zone1", Level: 0.3}, {Verb: engine.Go}, {Verb: engine.Back},
		{Verb: engine.Arm, Preset: 3}, {Verb: engine.Query}, {Verb: "dance"},
	}
	var stations sync.WaitGroup
	tickets := make([]*daemontest.Ticket, 8*40)
	for g := range 8 {
		stations.Go(func() {
			for i := range 40 {
				c := verbs[(g*7+i)%len(verbs)]
				c.Station = fmt.Sprint("station", g)
				tickets[g*40+i] = daemontest.Order(s, c, c)
				_ = s.View().Look.State
				_ = s.Record(3)
			}
		})
	}
	stations.Wait()
	final := daemontest.Order(s, dark)
	require.Equal(t, engine.On, final.Outcome(t).End)
	seen := map[uint64]bool{}
	for _, k := range tickets {
		k.Settle(t)
		for _, id := range k.IDs {
			require.False(t, seen[id], "an ID was given twice")
			seen[id] = true
			answers, outcomes := k.Told(id)
			require.Len(t, answers, 1)
			want := 0
			if answers[0].Status == engine.Accepted {
				want = 1
			}
			require.Len(t, outcomes, want, "%v %v", answers[0].Verb, answers[0].Status)
		}
	}
	require.Len(t, seen, 640)
	require.NoError(t, s.Stop())
	replayed, err := daemon.Replay(s.Store, 0)
	require.NoError(t, err)
	require.Zero(t, replayed.Differs)
	require.Zero(t, replayed.Missing)
	require.Greater(t, replayed.Inputs, uint64(640))
}

func TestAFloodOfReportsHoldsNobodyUp(t *testing.T) {
	s := daemontest.Start(t, nil)
	daemontest.Confirmed(t, s)
	stop := make(chan struct{})
	var flood sync.WaitGroup
	for range 2 {
		flood.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					s.Devices[1].Tell()
				}
			}
		})
	}
	on(t, s, 1)
	on(t, s, 2)
	require.Equal(t, engine.On, daemontest.Order(s, dark).Outcome(t).End)
	close(stop)
	flood.Wait()
}

func TestASilentDeviceIsAssumedNotConfirmed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := daemontest.New(t, func(o *daemon.Options) {
			r := rigtest.Wye()
			r.Devices[1].Class, r.Devices[1].Repeats = rig.Silent, 3
			o.Plan = daemontest.PlanOf(r)
		})
		require.NoError(t, s.Start())
		defer func() { require.NoError(t, s.Stop()) }()
		k := daemontest.Order(s, dark)
		require.Equal(t, engine.Outcome{ID: k.IDs[0], Station: "panel", Verb: engine.Blackout, End: engine.On, Assumed: []string{"out2"}, Took: k.Outcome(t).Took}, k.Outcome(t))
		require.Zero(t, s.Devices[1].Asked())
		require.Equal(t, "assumed", daemontest.Until(t, s, "an assumed output", func(v *engine.View) bool { return v.Outputs[1].Black }).Outputs[1].State)
		require.GreaterOrEqual(t, len(s.Devices[1].Sent()), 3)
	})
}

func TestIDsNeverRepeatOverRestarts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store, last := (*daemontest.Store)(nil), uint64(0)
		for range 3 {
			s := daemontest.Again(t, store, nil)
			require.NoError(t, s.Start())
			store = s.Store
			k := daemontest.Order(s, dark, dark)
			require.Greater(t, k.IDs[0], last)
			require.Greater(t, k.IDs[1], k.IDs[0])
			last = k.IDs[1]
			require.NoError(t, s.Stop())
		}
	})
}

func TestAfterTheStopEveryCommandIsAnswered(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := daemontest.New(t, nil)
		require.NoError(t, s.Start())
		require.NoError(t, s.Stop())
		require.NoError(t, s.Stop(), "a second stop")
		a := daemontest.Order(s, dark).Answer(t)
		require.Equal(t, engine.Failed, a.Status)
		require.Error(t, s.Start(), "started twice")
	})
}
