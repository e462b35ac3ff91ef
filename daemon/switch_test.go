package daemon_test

import (
	"errors"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon"
	"lookgate/daemon/daemontest"
	"lookgate/daemon/record"
	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// bubble runs a test on a started stage in a bubble of time, and stops the daemon before the bubble ends.
func bubble(t *testing.T, change func(*daemon.Options), test func(*testing.T, *daemontest.Stage)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		s := daemontest.New(t, change)
		require.NoError(t, s.Start())
		defer func() { require.NoError(t, s.Stop()) }()
		daemontest.Confirmed(t, s)
		test(t, s)
	})
}

func recall(n int) engine.Command {
	return engine.Command{Station: "desk", Verb: engine.Recall, Preset: n}
}

var dark = engine.Command{Station: "panel", Verb: engine.Blackout}

// on puts a preset on and waits until it is.
func on(t *testing.T, s *daemontest.Stage, n int) {
	t.Helper()
	k := daemontest.Order(s, recall(n))
	require.Equal(t, engine.Accepted, k.Answer(t).Status)
	require.Equal(t, engine.On, k.Outcome(t).End)
}

// levels are what a preset of the test's book makes of the wall: on the devices' own steps.
func levels(s *daemontest.Stage, ls ...units.Level) []units.Level {
	for i := range ls {
		ls[i] = ls[i].Down(s.Plan.Rig.Devices[s.Plan.Rig.Outputs[i].Device].Steps)
	}
	return ls
}

func TestARecallIsOnDiskBeforeAnythingRises(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		var committed atomic.Int64
		s.Store.Set(func(st *daemontest.Store) {
			st.OnWrite = func(kept *record.Kept) error {
				if kept == nil {
					return nil
				}
				<-time.After(70 * time.Millisecond) // in the bubble: a slow disk
				committed.Store(time.Now().UnixNano())
				return nil
			}
		})
		k := daemontest.Order(s, recall(2))
		require.Equal(t, engine.Accepted, k.Answer(t).Status)
		first := committed.Load()
		require.NotZero(t, first, "accepted before it was on disk")
		require.Equal(t, engine.On, k.Outcome(t).End)
		require.NotEmpty(t, s.Sent())
		for _, sent := range s.Sent() {
			require.GreaterOrEqual(t, sent.At.UnixNano(), first, "%v was sent before the commit", sent.Action.Kind)
		}
		require.Equal(t, levels(s, 0.6, 0.1), s.Light())
	})
}

func TestTheCommitHoldsTheCommandTheLookAndEveryEnvelope(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		k := daemontest.Order(s, recall(2))
		k.Answer(t)
		rows := s.Store.Rows()
		i := slices.IndexFunc(rows, func(r record.RecordRow) bool { return r.Kind == record.Command && r.ID == k.IDs[0] })
		require.GreaterOrEqual(t, i, 0, "the command's row is not on disk when it is answered")
		require.Contains(t, string(rows[i].Payload), `recall 2 \"left\"; decided`)
		kept, err := s.Store.Load()
		require.NoError(t, err)
		require.Equal(t, s.Epoch(), kept.Epoch)
		require.Len(t, kept.Outputs, 2)
		require.GreaterOrEqual(t, kept.Outputs[0].Envelope, 0.59)
		require.Contains(t, string(kept.Wanted), `"preset":2`)
	})
}

func TestARefusedRecallSendsNothing(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		on(t, s, 1)
		before := len(s.Sent())
		k := daemontest.Order(s, recall(9))
		a := k.Answer(t)
		require.Equal(t, engine.Refused, a.Status)
		require.True(t, slices.ContainsFunc(a.Findings, func(f finding.Finding) bool { return f.Code == finding.CircuitOver }))
		<-time.After(10 * time.Second)
		require.Len(t, s.Sent(), before)
		_, outcomes := k.Told(k.IDs[0])
		require.Empty(t, outcomes, "a refused command has no outcome")
		require.Equal(t, levels(s, 0.2, 0.2), s.Light())
	})
}

func TestLoweringWaitsForNoDisk(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		on(t, s, 2)
		hang := make(chan struct{})
		defer close(hang)
		s.Store.Set(func(st *daemontest.Store) { st.OnWrite = func(*record.Kept) error { <-hang; return nil } })
		up := daemontest.Order(s, recall(3)) // holds the disk
		synctest.Wait()
		down := daemontest.Order(s, dark)
		require.Equal(t, engine.Accepted, down.Answer(t).Status)
		require.Equal(t, engine.On, down.Outcome(t).End)
		require.Equal(t, []units.Level{0, 0}, s.Light())
		answers, _ := up.Told(up.IDs[0])
		require.Empty(t, answers, "a recall was answered while the disk hung")
	})
}

func TestAFailingDiskStopsRaisingAndTheGapIsTold(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		on(t, s, 1)
		s.Store.Set(func(st *daemontest.Store) {
			st.OnWrite = func(*record.Kept) error { return errors.New("no space left\nmake room") }
		})
		a := daemontest.Order(s, recall(2)).Answer(t)
		require.Equal(t, engine.Failed, a.Status)
		require.Equal(t, finding.DiskFailed, a.Findings[0].Code)
		require.Contains(t, a.Findings[0].Sentence, "(no space left)")
		daemontest.Until(t, s, "the disk's alarm", func(v *engine.View) bool { return v.DiskSick == "no space left" && len(v.Alarms) > 0 })
		require.Equal(t, engine.On, daemontest.Order(s, dark).Outcome(t).End, "lowering does not go on")
		require.Equal(t, []units.Level{0, 0}, s.Light())

		s.Store.Set(func(st *daemontest.Store) { st.OnWrite = nil })
		daemontest.Until(t, s, "a disk that is well", func(v *engine.View) bool { return v.DiskSick == "" })
		on(t, s, 2)
		rows := s.Store.Rows()
		require.True(t, slices.ContainsFunc(rows, func(r record.RecordRow) bool {
			return r.Kind == record.Gap && strings.Contains(string(r.Payload), "s (no space left); 0 lines and 0 inputs")
		}), "the gap is not told")
		require.True(t, slices.ContainsFunc(rows, func(r record.RecordRow) bool { return r.Kind == record.Answer && r.ID == a.ID }), "what was held back is lost")
	})
}

func TestARestartBelievesAndSendsNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		first := daemontest.New(t, nil)
		require.NoError(t, first.Start())
		daemontest.Confirmed(t, first)
		on(t, first, 2)
		require.NoError(t, first.Stop())

		// The devices stand elsewhere by now: one lower, as if it had restarted.
		second := daemontest.Again(t, first.Store, nil)
		second.Devices[0].Held[0], second.Devices[1].Held[0] = 0, 0.1
		require.NoError(t, second.Start())
		defer func() { require.NoError(t, second.Stop()) }()
		require.Equal(t, first.Epoch()+1, second.Epoch())
		v := daemontest.Until(t, second, "what the devices told", func(v *engine.View) bool { return v.Outputs[0].Confirmed && v.Outputs[1].Confirmed })
		require.Equal(t, 2, v.Look.Preset, "the look that was wanted is not known any more")
		<-time.After(time.Minute)
		require.Empty(t, second.Sent(), "a restart sent something")
		require.Positive(t, second.Devices[0].Asked())
		require.Zero(t, second.Devices[0].Light(0), "something rose after a restart")
	})
}

func TestARestartKnowsEveryKindOfState(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		first := daemontest.New(t, nil)
		require.NoError(t, first.Start())
		daemontest.Confirmed(t, first)
		on(t, first, 1)
		on(t, first, 2)
		out := daemontest.Order(first, engine.Command{Station: "desk", Verb: engine.LockedOff, Target: first.Plan.Rig.Circuits[4].Name})
		require.Equal(t, engine.Accepted, out.Answer(t).Status)
		require.Equal(t, engine.Accepted, daemontest.Order(first, engine.Command{Station: "desk", Verb: engine.Arm, Preset: 3}).Answer(t).Status)
		before := first.View()
		require.NoError(t, first.Stop())

		second := daemontest.Again(t, first.Store, nil)
		require.NoError(t, second.Start())
		defer func() { require.NoError(t, second.Stop()) }()
		after := second.View()
		require.Equal(t, before.Circuits, after.Circuits)
		require.Equal(t, 3, after.Armed)
		require.Equal(t, 1, after.Look.Previous)
	})
}

func TestWatchModeTouchesNoDevice(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := daemontest.New(t, func(o *daemon.Options) { o.Settings.Watch = true })
		require.NoError(t, s.Start())
		for _, n := range []int{1, 9} { // it refuses nothing
			k := daemontest.Order(s, recall(n))
			require.Equal(t, engine.Accepted, k.Answer(t).Status)
			require.Equal(t, engine.Noted, k.Outcome(t).End)
		}
		<-time.After(10 * time.Second)
		require.NoError(t, s.Stop())
		for _, d := range s.Devices {
			opens, _ := d.Opened()
			require.Zero(t, opens)
			require.Zero(t, d.Asked()+len(d.Sent()))
		}
	})
}

func TestADeviceThatFailsIsTriedAgainAndOneThatHangsHoldsNoOther(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		var failures atomic.Int64
		s.Devices[0].Set(func(d *daemontest.Device) {
			d.OnWrite = func(a engine.Action) error {
				if a.Kind == engine.SendLevel && failures.Add(1) <= 3 {
					return errors.New("no route to host")
				}
				return nil
			}
		})
		on(t, s, 1)
		require.Greater(t, failures.Load(), int64(3))

		hang := make(chan struct{})
		s.Devices[1].Set(func(d *daemontest.Device) { d.Hang = hang })
		k := daemontest.Order(s, engine.Command{Station: "desk", Verb: engine.ZoneLevel, Target: "zone1", Level: 0.1})
		require.Equal(t, engine.On, k.Outcome(t).End, "a device that hangs held up another")
		close(hang)
	})
}
