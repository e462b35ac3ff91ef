package trial_test

import (
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/trial"
)

// setup draws a stage and puts the engine on trial with it.
func setup(seed uint64) trial.Setup { return setupOf(trial.Stage(seed)) }

// setupAbove does it with circuits that may be above their continuous limits for a while.
func setupAbove(seed uint64) trial.Setup { return setupOf(trial.StageAbove(seed)) }

func setupOf(r *rig.Rig, book *presets.Book) trial.Setup {
	plan := presets.NewPlan(r, book)
	return trial.Setup{Plan: plan, Start: func(kept *engine.Kept, epoch uint64) trial.Controller {
		return engine.New(plan, engine.Settings{}, kept, epoch)
	}}
}

// proof is how many seeds the engine has to stand without a violation. The race detector makes a run six times as long and finds nothing more in code without a
// goroutine, so with it fewer are played.
const proof, proofUnderRace = 1000, 120

// TestTheEngineStandsTrial is the proof of the promise, as far as so many seeds carry it: no true overrun, every true state within what the engine calls possible,
// one answer and one outcome each, nothing that rises unasked, and rest when the faults stop. The shares that are printed have floors, since an engine
// that refuses everything is safe as well.
func TestTheEngineStandsTrial(t *testing.T) {
	seeds := uint64(proof)
	if raced {
		seeds = proofUnderRace
	}
	if testing.Short() {
		seeds = 50
	}
	var all trial.Stats
	var mu sync.Mutex
	t.Run("seeds", func(t *testing.T) {
		for shard := range uint64(2) {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				for seed := shard; seed < seeds; seed += 2 {
					o := trial.Run(seed, setup(seed), trial.Rough(), false)
					if len(o.Violations) > 0 {
						tell(t, seed, setup(seed), trial.Rough())
					}
					mu.Lock()
					all.Add(o.Stats)
					mu.Unlock()
				}
			})
		}
	})
	floors(t, all)
}

// TestTheEngineStandsTrialOnCredit is the proof where most looks count on their pictures: the judge draws by what every device truly shows.
func TestTheEngineStandsTrialOnCredit(t *testing.T) {
	seeds := uint64(300)
	if raced || testing.Short() {
		seeds = 20
	}
	var all trial.Stats
	on := 0
	for seed := range seeds {
		s := setupOf(trial.StageCredit(seed))
		if s.Plan.Credits() {
			on++
		}
		o := trial.Run(seed, s, trial.Rough(), false)
		if len(o.Violations) > 0 {
			tell(t, seed, s, trial.Rough())
		}
		all.Add(o.Stats)
	}
	t.Logf("%d of %d stages on credit, %d switches", on, seeds, all.Switches)
	require.Greater(t, on, int(seeds)/2)
}

// proofOfTime is how many seeds the time above continuous limits is proved by.
const proofOfTime, proofOfTimeUnderRace = 300, 30

// slow are faults under which looks stay on long enough to use up their circuits' time: commands come more slowly, and the daemon dies less often.
func slow() trial.Faults {
	f := trial.Rough()
	f.Storm, f.CommandGap, f.CrashEvery, f.CrashAtDisk, f.Plant.TripEvery = 300*time.Second, 10*time.Second, 60*time.Second, 0.005, 90*time.Second
	return f
}

// TestTheEngineKeepsTheTimeAboveContinuousLimits is the proof that no circuit is above its continuous limit for longer than its rig allows, over all looks and restarts, by the
// plant's true currents. A look has to be brought down often, and to be above for long, or it would prove nothing.
func TestTheEngineKeepsTheTimeAboveContinuousLimits(t *testing.T) {
	seeds := uint64(proofOfTime)
	if raced {
		seeds = proofOfTimeUnderRace
	}
	if testing.Short() {
		seeds = 20
	}
	var all trial.Stats
	for seed := range seeds {
		o := trial.Run(seed, setupAbove(seed), slow(), false)
		if len(o.Violations) > 0 {
			tell(t, seed, setupAbove(seed), slow())
		}
		all.Add(o.Stats)
	}
	above := all.Above.Seconds() / all.Simulated.Seconds()
	t.Logf("%d runs, %.1f simulated hours, %d looks brought down in time, circuits above for %.1f s in 100, one for %v of its longest time", all.Runs, all.Simulated.Hours(), all.BroughtDown,
		100*above, all.Nearest)
	require.Greater(t, float64(all.BroughtDown)/float64(all.Runs), 0.5, "looks brought down, a run")
	require.Greater(t, above, 0.01, "time that circuits were above, a circuit and second")
}

// floors prints the shares and holds them.
func floors(t *testing.T, s trial.Stats) {
	naive := float64(s.NaiveOverruns) / float64(s.Switches)
	accepted := float64(s.Accepted) / float64(s.Accepted+s.Refused+s.Failed)
	completed := float64(s.SwitchesOn) / float64(s.Switches)
	mean := s.Took / time.Duration(max(1, s.SwitchesOn))
	t.Logf("%d runs, %d switches, %.1f simulated hours, %d crashes, %d device restarts, %d trips, %d packets lost: no violation", s.Runs, s.Switches, s.Simulated.Hours(),
		s.Crashes, s.Restarts, s.Trips, s.Lost)
	t.Logf("raising first would have overrun in %.1f %% of the switches; %.1f %% of commands accepted, %.1f %% of switches completed, %v on average, %v at most", 100*naive,
		100*accepted, 100*completed, mean.Round(time.Millisecond), s.Longest.Round(time.Millisecond))
	t.Logf("%d commands ran when the daemon died and had their outcome from a later one", s.Found)
	require.Positive(t, s.Found)
	t.Logf("the fullest conductor truly carried %v of its limit", s.Fullest)
	require.Greater(t, naive, 0.5, "switches in which raising first would overrun")
	require.Greater(t, accepted, 0.5, "commands accepted")
	require.Greater(t, completed, 0.3, "switches completed")
	require.Less(t, mean, 3*time.Second, "time to complete a switch")
	require.Greater(t, float64(s.Fullest), 0.95, "a trial that never comes near a limit proves nothing")
}

// tell prints a failing seed as a story.
func tell(t *testing.T, seed uint64, s trial.Setup, f trial.Faults) {
	t.Helper()
	o := trial.Run(seed, s, f, true)
	last := max(0, len(o.Story)-80)
	t.Fatalf("seed %d: %v\n%s", seed, o.Violations, strings.Join(o.Story[last:], "\n"))
}

func TestASeedReplaysToTheLastBit(t *testing.T) {
	for seed := range uint64(12) {
		a, b := trial.Run(seed, setup(seed), trial.Rough(), true), trial.Run(seed, setup(seed), trial.Rough(), false)
		require.Equal(t, a.Hash, b.Hash, "seed %d", seed)
		require.Equal(t, a.Stats, b.Stats, "seed %d", seed)
		require.NotEmpty(t, a.Story)
		require.NotEqual(t, a.Hash, trial.Run(seed+1, setup(seed+1), trial.Rough(), false).Hash)
	}
}
