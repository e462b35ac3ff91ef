package plant_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
)

// TestTrueCurrentsOfADeltaByHand holds line currents of a delta against phasor sums done by hand: the voltages from a leg to the two
// others stand 60 degrees apart (that from L2 to L3 at -90, to L1 at -150), so equal currents make root 3 of one, and unequal ones the root of a² + ab + b².
func TestTrueCurrentsOfADeltaByHand(t *testing.T) {
	root3 := math.Sqrt(3)
	for _, row := range []struct {
		name  string
		loads []load
		want  [3]float64
	}{
		{"one load", []load{across(1, 2, 10)}, [3]float64{10, 10, 0}},
		{"the same the other way round", []load{across(2, 1, 10)}, [3]float64{10, 10, 0}},
		{"balanced", []load{across(1, 2, 10), across(2, 3, 10), across(3, 1, 10)}, [3]float64{10 * root3, 10 * root3, 10 * root3}},
		{"open", []load{across(1, 2, 10), across(2, 3, 10)}, [3]float64{10, 10 * root3, 10}},
		{"unequal", []load{across(1, 2, 10), across(2, 3, 6)}, [3]float64{10, 14, 6}},
		{"lags that turn them into step", []load{{poles: []int{1, 2}, amps: 10, lag: -30}, {poles: []int{2, 3}, amps: 10, lag: 30}}, [3]float64{10, 20, 10}},
		{"lags that turn them apart", []load{{poles: []int{1, 2}, amps: 10, lag: 30}, {poles: []int{2, 3}, amps: 10, lag: -30}}, [3]float64{10, 10, 10}},
	} {
		t.Run(row.name, func(t *testing.T) {
			r := stage(rig.Delta, 0, 208, row.loads...)
			p := fresh(r)
			for leg, want := range row.want {
				require.InDelta(t, want, named(t, r, p, rig.BoardLeg, leg), 1e-9, "leg %d", leg+1)
				require.InDelta(t, want, named(t, r, p, rig.SupplyLeg, leg), 1e-9, "supply leg %d", leg+1)
			}
			for _, c := range r.Conductors() {
				require.NotContains(t, []rig.Kind{rig.BoardNeutral, rig.SupplyNeutral}, c.Kind, "a delta has no neutral")
			}
		})
	}
}

// TestTrueCurrentsOfFeeders holds that a feeder carries what its board's legs carry, whatever hangs on it.
func TestTrueCurrentsOfFeeders(t *testing.T) {
	seen := 0
	for seed := range uint64(60) {
		r := rigtest.RandomWired(rand.New(rand.NewPCG(seed, 1)), 4)
		now := fresh(r).True(nil)
		legs := map[[2]int]float64{}
		for i, c := range r.Conductors() {
			switch c.Kind {
			case rig.BoardLeg:
				legs[[2]int{c.Board, c.Leg}] = float64(now[i])
			case rig.FeederWire:
				require.Equal(t, legs[[2]int{c.Board, c.Leg}], float64(now[i]), "seed %d %s", seed, c.Name)
				seen++
			}
		}
	}
	require.Greater(t, seen, 20)
}
