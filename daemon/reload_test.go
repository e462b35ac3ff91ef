package daemon_test

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon"
	"lookgate/daemon/daemontest"
	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
)

// reader is a site that a test edits: what ReadSite gives next.
type reader struct {
	plan     *presets.Plan
	problems []string
	wait     <-chan struct{}
	panics   bool
}

func (r *reader) read() (*presets.Plan, []string) {
	if r.wait != nil {
		<-r.wait
	}
	if r.panics {
		panic("a nil map")
	}
	return r.plan, r.problems
}

func reloading(r *reader) func(*daemon.Options) {
	return func(o *daemon.Options) { o.ReadSite = r.read }
}

// edited gives the test's rig with one change.
func edited(change func(*rig.Rig)) *presets.Plan {
	r := rigtest.Wye()
	change(r)
	return daemontest.PlanOf(r)
}

func TestABadSiteChangesNothingAndIsTold(t *testing.T) {
	rows := []struct {
		name string
		site reader
		want string
	}{
		{"problems", reader{problems: []string{"rig.yaml:41:7: circuits[2].breaker_a: is not a number"}}, "rig.yaml:41:7: circuits[2].breaker_a: is not a number"},
		{"problems beside a plan", reader{plan: edited(func(*rig.Rig) {}), problems: []string{"presets.yaml:3:1: no such zone"}}, "presets.yaml:3:1: no such zone"},
		{"nothing at all", reader{}, "the site could not be read"},
		{"a reader that panics", reader{panics: true}, "the site could not be read: a nil map"},
		{"another output", reader{plan: edited(func(r *rig.Rig) { r.Outputs[1].Address = "7" })},
			"output 2 is out2 on another wire in the edited site, and out2 in the running one; start lookgate again to take other outputs"},
		{"fewer outputs", reader{plan: edited(func(r *rig.Rig) { r.Outputs, r.Zones = r.Outputs[:1], r.Zones[:1] })},
			"the edited site has 1 outputs, the running one 2; start lookgate again to take other outputs"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			bubble(t, reloading(&row.site), func(t *testing.T, s *daemontest.Stage) {
				on(t, s, 2)
				before, sent := s.Rig(), len(s.Sent())
				k := daemontest.Reload(s, "panel")
				a := k.Answer(t)
				require.Equal(t, engine.Refused, a.Status)
				require.Equal(t, "panel", a.Station)
				require.Equal(t, finding.SiteBroken, a.Findings[0].Code)
				require.Equal(t, row.want, a.Findings[0].Sentence)
				require.Equal(t, []string{row.want}, s.View().Reload, "the panel is not told")
				require.Same(t, before, s.Rig())
				<-time.After(10 * time.Second)
				require.Len(t, s.Sent(), sent)
				require.Equal(t, levels(s, 0.6, 0.1), s.Light())
				require.Equal(t, []string{row.want}, s.View().Reload, "the problems do not stay visible")
			})
		})
	}
}

func TestASiteUnderWhichTheWallWouldOverrunIsRefused(t *testing.T) {
	site := &reader{plan: edited(func(r *rig.Rig) { r.Circuits[0].Breaker = 6 })}
	bubble(t, reloading(site), func(t *testing.T, s *daemontest.Stage) {
		on(t, s, 2)
		before := s.Rig()
		a := daemontest.Reload(s, "panel").Answer(t)
		require.Equal(t, engine.Refused, a.Status)
		require.Equal(t, finding.CircuitOver, a.Findings[0].Code)
		require.Same(t, before, s.Rig())
		require.NotEmpty(t, s.View().Reload)

		require.Equal(t, engine.On, daemontest.Order(s, dark).Outcome(t).End)
		on(t, s, 1) // what stands there now passes under the smaller breaker
		require.Equal(t, engine.Accepted, daemontest.Reload(s, "panel").Answer(t).Status)
		require.Same(t, site.plan.Rig, s.Rig())
		require.Empty(t, s.View().Reload)
	})
}

func TestAGoodSiteTakesOverWhatIsOnTheWall(t *testing.T) {
	site := &reader{}
	bubble(t, reloading(site), func(t *testing.T, s *daemontest.Stage) {
		on(t, s, 2)
		plan := edited(func(*rig.Rig) {})
		plan.Book.Presets = append(plan.Book.Presets, presets.Preset{Number: 20, Name: "new", Zones: plan.Book.Presets[0].Zones})
		site.plan = plan
		sent := len(s.Sent())
		k := daemontest.Reload(s, "signal")
		require.Equal(t, engine.Accepted, k.Answer(t).Status)
		require.Equal(t, engine.On, k.Outcome(t).End)
		require.Same(t, plan.Rig, s.Rig())
		<-time.After(5 * time.Second)
		require.Len(t, s.Sent(), sent, "a reload sent something")
		require.Equal(t, levels(s, 0.6, 0.1), s.Light())
		on(t, s, 20)
		<-time.After(time.Second)
		require.True(t, lineWith("command", `recall 20 "new"`)(commandLine(t, s)))
	})
}

func TestReloadsAreReadOneAtATimeAndHoldNobodyUp(t *testing.T) {
	site := &reader{plan: edited(func(*rig.Rig) {})}
	bubble(t, reloading(site), func(t *testing.T, s *daemontest.Stage) {
		wait := make(chan struct{}) // of the bubble
		site.wait = wait
		var ks []*daemontest.Ticket
		for range 40 {
			ks = append(ks, daemontest.Reload(s, "panel"))
		}
		on(t, s, 1) // while the site is being read
		for range 32 {
			wait <- struct{}{}
			synctest.Wait()
		}
		status := map[engine.Status]int{}
		for _, k := range ks {
			k.Settle(t)
			status[k.Answer(t).Status]++
		}
		require.Equal(t, map[engine.Status]int{engine.Accepted: 32, engine.Failed: 8}, status)
	})
}

func TestWithoutAReaderAReloadIsRefused(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		a := daemontest.Reload(s, "panel").Answer(t)
		require.Equal(t, engine.Refused, a.Status)
		require.Equal(t, finding.SiteBroken, a.Findings[0].Code)
	})
}
