package presets_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// TestUnderOtherConditions holds over random rigs what arithmetic says: constant-power supplies draw twice the current at half the voltage, a derated limit is that part of
// itself while a cable keeps its rating, and a circuit that is out loads nothing and makes nothing worse.
func TestUnderOtherConditions(t *testing.T) {
	for seed := range uint64(300) {
		r, preset, _ := randomCase(seed)
		rng := rand.New(rand.NewPCG(seed, 9))
		built := presets.NewPlan(r, &presets.Book{Presets: []presets.Preset{*preset}})
		levels := make([]units.Level, len(r.Outputs))
		for o := range levels {
			levels[o] = units.Level(rng.Float64())
		}
		was := built.Power.Worst(power.State{Levels: levels}, nil)

		same, c := built.Under(presets.WhatIf{})
		require.Equal(t, was, same.Power.Worst(power.State{Levels: levels}, nil), "seed %d", seed)
		require.Equal(t, built.Power.Conductors(), same.Power.Conductors(), "seed %d", seed)
		require.Nil(t, c.LockedOff)

		half, _ := built.Under(presets.WhatIf{Supply: r.Supply.LineNeutral / 2})
		for i, w := range half.Power.Worst(power.State{Levels: levels}, nil) {
			if built.Power.Conductors()[i].Circuit >= 0 {
				require.InDelta(t, 2*float64(was[i]), float64(w), 1e-9*(1+float64(w)), "seed %d conductor %d", seed, i)
			}
		}
		weak, _ := built.Under(presets.WhatIf{Derate: 0.75})
		for i, k := range weak.Power.Conductors() {
			part := 0.75
			if k.Kind == rig.CableWire {
				part = 1
			}
			require.InDelta(t, part*float64(built.Power.Conductors()[i].Limit), float64(k.Limit), 1e-9, "seed %d %v %s", seed, k.Kind, k.Name)
		}
		requireOutIsLighter(t, built, rng.IntN(len(r.Circuits)), levels, was)
	}
}

func requireOutIsLighter(t *testing.T, built *presets.Plan, circuit int, levels []units.Level, was []units.Amps) {
	t.Helper()
	out, c := built.Under(presets.WhatIf{Out: []int{circuit}})
	for i, w := range out.Power.Worst(power.State{Levels: levels, LockedOff: c.LockedOff}, nil) {
		require.LessOrEqual(t, float64(w), float64(was[i])*(1+1e-9))
		if built.Power.Conductors()[i].Circuit == circuit {
			require.Zero(t, w)
		}
	}
}
