package trial_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/trial"
)

func TestStagesHaveNoProblemsAndLooksThatPass(t *testing.T) {
	admitted, all, void := 0, 0, 0
	for seed := range uint64(300) {
		r, book := trial.Stage(seed)
		for _, p := range r.Problems() {
			require.True(t, p.Warning, "seed %d: %+v", seed, p)
		}
		plan := presets.NewPlan(r, book)
		if slices.Contains(plan.Void, true) {
			void++
		}
		for i := range book.Presets {
			all++
			if v := presets.Check(plan, &book.Presets[i], presets.Conditions{}); v.Admitted {
				admitted++
			}
		}
	}
	t.Logf("%d of %d looks admitted, %d of 300 stages with a void conductor", admitted, all, void)
	require.Greater(t, float64(admitted), 0.6*float64(all))
	require.Less(t, void, 75, "a stage with a void conductor promises less, so most must have none")
}
