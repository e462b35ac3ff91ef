package power_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// scan is the slow way to a cap: from the top down, one step after another.
func scan(m *power.Model, s power.State, top int, level func(o, k int) units.Level) (steps int, none bool) {
	for k := top; k >= 0; k-- {
		try := s
		try.Levels = nil
		for o := range s.Levels {
			try.Levels = append(try.Levels, level(o, k))
		}
		if len(m.Over(try)) == 0 {
			return k, false
		}
	}
	return 0, true
}

func down(r *rig.Rig, o int, l units.Level) units.Level {
	return l.Down(r.Devices[r.Outputs[o].Device].Steps)
}

func TestCapAgreesWithALinearScan(t *testing.T) {
	const steps = 40
	var bound, free, none int
	for seed := range uint64(600) {
		rng := rand.New(rand.NewPCG(seed, 13))
		r := rigtest.Random(rng, 1+rng.IntN(8))
		m, s := power.New(r), randomState(rng, r)
		ratios, moving := make([]units.Level, len(s.Levels)), make([]bool, len(s.Levels))
		top := steps
		for o := range ratios {
			ratios[o], moving[o] = units.Level(rng.IntN(5))/4, rng.IntN(4) > 0
			if moving[o] && ratios[o] > 0 {
				top = max(top, int(math.Ceil(steps/float64(ratios[o]))))
			}
		}
		at := func(o, k int) units.Level {
			if !moving[o] {
				return s.Levels[o]
			}
			return down(r, o, min(1, ratios[o]*units.Level(k)/steps))
		}
		want, wantNone := scan(m, s, top, at)
		got := m.Cap(s, ratios, moving, steps)
		require.Equal(t, want, got.Steps, "seed %d", seed)
		require.Equal(t, wantNone, got.None, "seed %d", seed)
		require.InDelta(t, float64(want)/steps, float64(got.Scale), 1e-12, "seed %d", seed)
		switch {
		case got.None:
			none++
			require.GreaterOrEqual(t, got.Binding, 0)
		case want == top:
			free++
			require.Equal(t, -1, got.Binding, "seed %d", seed)
		default:
			bound++
			next := s
			next.Levels = nil
			for o := range s.Levels {
				next.Levels = append(next.Levels, at(o, want+1))
			}
			require.Contains(t, m.Over(next), got.Binding, "seed %d", seed)
		}
	}
	t.Logf("bound %d, free %d, none %d", bound, free, none)
	require.Greater(t, bound, 50)
	require.Greater(t, free, 50)
	require.Greater(t, none, 50)
}

// TestTheCapOfTheSmallWyeRig works one cap out by hand: 12 A on 18 panels at 208 V and pf 0.95 are 131.7 W a panel, of 24 W black and 158 W white.
func TestTheCapOfTheSmallWyeRig(t *testing.T) {
	r := rigtest.Wye()
	m := power.New(r)
	c := m.Cap(power.State{Levels: full(r)}, []units.Level{1, 1}, []bool{true, true}, 1000)
	level := (12*208*0.95/18 - 24) / (158 - 24)
	require.InDelta(t, 0.80398, level, 0.00001)
	require.Equal(t, power.Cap{Scale: 0.803, Steps: 803, Binding: 0}, c, "the first of the circuits that are equally full")
}

func TestACapAboveOne(t *testing.T) {
	r := rigtest.Wye()
	m := power.New(r)
	c := m.Cap(power.State{Levels: []units.Level{0, 0}}, []units.Level{0.5, 0}, []bool{true, true}, 100)
	require.Equal(t, 160, c.Steps, "half the level may go up to 0.8 of full")
	require.InDelta(t, 1.6, float64(c.Scale), 1e-12)
	require.Contains(t, []int{0, 1}, c.Binding)
	c = m.Cap(power.State{Levels: []units.Level{0, 0}}, []units.Level{0, 0}, []bool{true, false}, 100)
	require.Equal(t, power.Cap{Scale: 1, Steps: 100, Binding: -1}, c, "nothing moves")
}

func TestCapLooksOnlyAtConductorsThatAreJudged(t *testing.T) {
	r := rigtest.Wye()
	m := power.New(r)
	s := power.State{Levels: []units.Level{0, 1}, Void: make([]bool, len(m.Conductors()))}
	c := m.Cap(s, []units.Level{1, 1}, []bool{true, false}, 100)
	require.True(t, c.None, "the third circuit is over by the output that stands still")
	require.Equal(t, 2, c.Binding)
	s.Void[2] = true
	c = m.Cap(s, []units.Level{1, 1}, []bool{true, false}, 100)
	require.False(t, c.None)
	require.Equal(t, 80, c.Steps)
}
