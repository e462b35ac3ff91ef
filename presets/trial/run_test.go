package trial_test

import (
	"strings"
	"testing"

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

// failed tells a failing seed as a story.
func failed(t *testing.T, seed uint64, s trial.Setup, f trial.Faults) {
	t.Helper()
	o := trial.Run(seed, s, f, true)
	last := max(0, len(o.Story)-60)
	t.Fatalf("seed %d: %v\n%s", seed, o.Violations, strings.Join(o.Story[last:], "\n"))
}

func TestEngineUnderRoughFaults(t *testing.T) {
	var all trial.Stats
	for seed := range uint64(50) {
		s := setup(seed)
		o := trial.Run(seed, s, trial.Rough(), false)
		if len(o.Violations) > 0 {
			failed(t, seed, s, trial.Rough())
		}
		all.Add(o.Stats)
	}
	t.Logf("%+v", all)
	require.Greater(t, 2*all.NaiveOverruns, all.Switches)
}
