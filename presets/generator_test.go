package presets_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// TestCapOnAGeneratorIsTheHighestThatPasses tries every tenth of a per cent of the preset's levels: the cap passes, nothing above it does, and where the
// generator's watts stop it the verdict says so.
func TestCapOnAGeneratorIsTheHighestThatPasses(t *testing.T) {
	bySupply := 0
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 41))
		r, preset := bench(), full()
		*generator(r) = rig.Capacity{Power: units.VoltAmps(1500 + rng.IntN(3000)), Real: units.Watts(1000 + rng.IntN(3000)), Factor: 1}
		r.Devices[1].Restart = units.Level(rng.IntN(3)) / 10
		preset.Zones[1].Level = units.Level(rng.Float64())
		plan := presets.NewPlan(r, nil)
		v := presets.Check(plan, preset, presets.Conditions{})
		best := 0.0
		for k := 1; k <= 1000; k++ {
			if presets.Check(plan, preset, presets.Conditions{Scale: units.Level(k) / 1000}).Admitted {
				best = float64(k) / 1000
			}
		}
		require.InDelta(t, best, min(1, float64(v.Cap)), 1e-9, "seed %d", seed)
		if v.BySupply {
			bySupply++
			require.Equal(t, -1, v.Binding)
		}
	}
	require.Greater(t, bySupply, 5)
}

// TestAutoOnAGenerator gives an automatic zone what the generator's watts leave: one step more is refused.
func TestAutoOnAGenerator(t *testing.T) {
	r, preset := bench(), full()
	generator(r).Real = 2400.5
	preset.Zones[1].Auto = true
	v := presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
	require.True(t, v.Admitted, "%v", v.Findings)
	require.Equal(t, units.Level(0.5), v.Levels[1], "1600 W and 800 W")
	preset.Zones[1].Auto, preset.Zones[1].Level = false, 0.501
	require.False(t, presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{}).Admitted)
}

// TestFadeRemedyIsTheShortest takes a second off the fade that is offered: that is refused.
func TestFadeRemedyIsTheShortest(t *testing.T) {
	for seed := range uint64(50) {
		rng := rand.New(rand.NewPCG(seed, 42))
		r, preset := bench(), full()
		g := generator(r)
		g.Step, g.Settle = units.Watts(100+rng.IntN(2000)), time.Duration(1+rng.IntN(15000))*time.Millisecond
		find := func(fade time.Duration) []finding.Finding {
			preset.FadeUp = fade
			var fs []finding.Finding
			for _, f := range presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{}).Findings {
				if f.Code == finding.StepOver {
					fs = append(fs, f)
				}
			}
			return fs
		}
		n := 0
		for _, m := range find(0)[0].Remedies {
			scan(m.Words, "a fade up over %d s or more", &n)
		}
		require.Positive(t, n)
		require.Empty(t, find(time.Duration(n)*time.Second), "seed %d", seed)
		require.NotEmpty(t, find(time.Duration(n-1)*time.Second), "seed %d", seed)
	}
}

// TestAServiceHasNoCapacity leaves a plain service alone, whatever stands in its capacity.
func TestAServiceHasNoCapacity(t *testing.T) {
	r, preset := bench(), full()
	generator(r).Power = 1
	r.Supply.Capacity.Step = 1
	r.Supply.Origin = rig.Service
	require.True(t, presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{}).Admitted)
}

// TestLostNeutralOfTheSupply has one leg on each of two boards: neither board's neutral is shared, the supply's is.
func TestLostNeutralOfTheSupply(t *testing.T) {
	r := bench()
	split(r)
	r.Boards = append(r.Boards, r.Boards[0])
	r.Boards[1].Name, r.Circuits[1].Board = "B", 1
	var places []finding.Place
	for _, f := range presets.NewPlan(r, nil).Findings() {
		if f.Code == finding.LostNeutral {
			places = append(places, f.Place)
		}
	}
	require.Equal(t, []finding.Place{supply}, places)
}
