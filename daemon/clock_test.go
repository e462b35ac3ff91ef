package daemon_test

import (
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon"
	"lookgate/daemon/daemontest"
	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
)

// lending gives the stage's plan with circuits that may be above their continuous limits for 45 min, and a preset that is, for 30 min.
func lending() *presets.Plan {
	r, book := rigtest.Wye(), daemontest.Book()
	for i := range r.Circuits {
		r.Circuits[i].Breaker, r.Circuits[i].Above = 11, &rig.AboveContinuous{For: 45 * time.Minute, Rest: 30 * time.Minute}
	}
	book.Presets[1].Above = 30 * time.Minute
	return presets.NewPlan(r, book)
}

// used gives the most that circuits of those names have used.
func used(s *daemontest.Stage, names []string) engine.Instant {
	most := engine.Instant(0)
	for _, c := range s.Daemon.View().Circuits {
		if slices.Contains(names, c.Name) {
			most = max(most, c.Above.Used)
		}
	}
	return most
}

// TestTheTimeThatTheDaemonWasGoneCounts stops a daemon for five minutes while a look is above the continuous limit.
func TestTheTimeThatTheDaemonWasGoneCounts(t *testing.T) {
	rows := []struct {
		name string
		boot string // of the machine at the second start
		used time.Duration
	}{
		{"the machine ran on", "first", 15 * time.Minute},
		{"the machine was started again", "second", 45 * time.Minute},
		{"the machine does not tell", "", 45 * time.Minute},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				began := time.Now()
				with := func(boot string) func(*daemon.Options) {
					return func(o *daemon.Options) {
						o.Plan = lending()
						o.Uptime = func() daemon.Uptime { return daemon.Uptime{Boot: boot, Up: time.Hour + time.Since(began)} }
					}
				}
				s := daemontest.New(t, with("first"))
				require.NoError(t, s.Start())
				pass(30*time.Minute + time.Second)
				k := daemontest.Order(s.Daemon, engine.Command{Station: "booth", Verb: engine.Recall, Preset: 2})
				require.Equal(t, engine.Accepted, k.Answer(t).Status, "%v", k.Answer(t).Findings)
				pass(10 * time.Minute)
				look := s.Daemon.View().Look.Above
				require.NotNil(t, look)
				require.NoError(t, s.Stop())
				pass(5 * time.Minute)
				again := daemontest.Again(t, s.Store, with(row.boot))
				require.NoError(t, again.Start())
				synctest.Wait()
				require.InDelta(t, row.used.Seconds(), used(again, look.Circuits).Seconds(), 3)
				require.NoError(t, again.Stop())
			})
		})
	}
}

// pass lets time go by.
func pass(d time.Duration) {
	timer := time.NewTimer(d)
	<-timer.C
	synctest.Wait()
}
