package trial_test

import (
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/trial"
)

// setup draws a stage and puts the engine on trial with it.
func setup(seed uint64) trial.Setup {
	r, book := trial.Stage(seed)
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
