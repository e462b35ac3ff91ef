package power_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

func allAt(r *rig.Rig, l units.Level) power.State {
	s := power.State{Levels: make([]units.Level, len(r.Outputs))}
	for i := range s.Levels {
		s.Levels[i] = l
	}
	return s
}

// TestBalanceOfTheBestSwapIsThatOfTheSwappedRig swaps places in the rig itself, every two that can be, and takes the balance of what comes out: the best of those
// is what Balance names, with its figure.
func TestBalanceOfTheBestSwapIsThatOfTheSwappedRig(t *testing.T) {
	swaps := 0
	for seed := range uint64(60) {
		r := rigtest.Random(rand.New(rand.NewPCG(seed, 11)), 2+int(seed%9))
		if seed%3 == 0 && len(r.Boards) > 1 {
			r.Boards[1].From = 1 // the second board hangs on the first
		}
		s := allAt(r, units.Level(seed%4+1)/4)
		if r.Supply.System == rig.SinglePhase {
			require.Empty(t, power.New(r).Balance(s))
			continue
		}
		found := power.New(r).Balance(s)
		require.Len(t, found, len(r.Boards)+1)
		for at, b := range found {
			best, figure := bestBySwapping(r, s, at)
			require.InDelta(t, math.Min(figure, float64(b.Figure)), bestFigure(b), 1e-9, "seed %d, %d", seed, at)
			if b.Swap == nil {
				continue
			}
			swaps++
			require.Less(t, b.Swap.Figure, b.Figure)
			require.Equal(t, best, [2]int{b.Swap.A, b.Swap.B}, "seed %d, %d: the first of the best", seed, at)
		}
	}
	require.Greater(t, swaps, 20, "too few rigs that a swap helps: the test shows nothing")
}

func bestFigure(b power.Balance) float64 {
	if b.Swap != nil {
		return float64(b.Swap.Figure)
	}
	return float64(b.Figure)
}

// bestBySwapping gives the best figure of one entry of Balance over all rigs in which two circuits stand in each other's places.
func bestBySwapping(r *rig.Rig, s power.State, at int) (pair [2]int, figure float64) {
	figure = math.Inf(1)
	for i := range r.Circuits {
		for j := range i {
			a, b := r.Circuits[j], r.Circuits[i]
			if a.Board != b.Board || len(a.Poles) != len(b.Poles) {
				continue
			}
			swapped := *r
			swapped.Circuits = slices.Clone(r.Circuits)
			swapped.Circuits[i].Poles, swapped.Circuits[j].Poles = a.Poles, b.Poles
			if f := float64(power.New(&swapped).Balance(s)[at].Figure); f < figure-1e-9 || math.Abs(f-figure) <= 1e-9 && before(j, i, pair) {
				pair, figure = [2]int{j, i}, f
			}
		}
	}
	return pair, figure
}

func before(i, j int, than [2]int) bool { return i < than[0] || i == than[0] && j < than[1] }

// TestBalanceAgreesWithTheLegs holds the legs against those that the model itself computes, where displacements are known and so mean the same to both.
func TestBalanceAgreesWithTheLegs(t *testing.T) {
	seen := 0
	for seed := range uint64(60) {
		r := rigtest.Random(rand.New(rand.NewPCG(seed, 12)), 1+int(seed%7))
		for i := range r.PanelTypes {
			r.PanelTypes[i].DisplacementKnown = true
		}
		for i := range r.Loads {
			r.Loads[i].DisplacementKnown = true
		}
		m, s := power.New(r), allAt(r, 0.7)
		amps := m.At(s, nil)
		for _, b := range m.Balance(s) {
			for i, c := range m.Conductors() {
				if c.Leg >= 0 && c.Circuit < 0 && c.Board == b.Board && (c.Kind == rig.BoardLeg || c.Kind == rig.SupplyLeg) {
					require.InDelta(t, float64(amps[i]), float64(b.Legs[c.Leg]), 1e-9, "seed %d, %s", seed, c.Name)
					seen++
				}
			}
		}
	}
	require.Greater(t, seen, 100)
}

// TestBalanceOfADelta is worked by hand: 14, 14 and 28 A from line to line are 24.25, 37.04 and 37.04 A in the lines, and no swap evens that out, since the
// three are on three pairs whatever their order.
func TestBalanceOfADelta(t *testing.T) {
	r := rigtest.Wye()
	r.Supply.System, r.Supply.LineNeutral, r.Supply.LineLine, r.Supply.Neutral = rig.Delta, 0, 208, 0
	kind := &r.PanelTypes[0]
	kind.Black, kind.White, kind.PF, kind.DisplacementKnown = 0, 208, 1, true
	r.Circuits, r.Loads = nil, nil
	for i, n := range []int{14, 14, 28} {
		rigtest.AddCircuit(r, 0, []int{i, (i + 1) % 3}, 40, rigtest.Columns(r, 0, 2*i+1, 2*i+2+2*(i/2))[:n])
	}
	for _, b := range power.New(r).Balance(allAt(r, 1)) {
		require.InDelta(t, 37.04, float64(b.Legs[0]), 0.005, "28 and 14 A: √(28² + 14² + 28 × 14)")
		require.InDelta(t, 24.25, float64(b.Legs[1]), 0.005, "14 and 14 A")
		require.InDelta(t, 37.04, float64(b.Legs[2]), 0.005)
		require.Nil(t, b.Swap)
	}
}

// TestBalanceOfThreeTwoPoleCircuits is worked by hand: two on L1 L2 and one on L2 L3 of 14 A each, and one of 7 A on L3 L1. In phase with their own voltages, L1 is
// 28 at +30 degrees with 7 at -30, which is 32.08 A.
func TestBalanceOfThreeTwoPoleCircuits(t *testing.T) {
	r := rigtest.Wye()
	kind := &r.PanelTypes[0]
	kind.Black, kind.White, kind.PF, kind.DisplacementKnown = 0, 208, 1, true
	r.Circuits, r.Loads = nil, nil
	for i, c := range []struct {
		legs   []int
		panels int
	}{{[]int{0, 1}, 14}, {[]int{0, 1}, 14}, {[]int{1, 2}, 14}, {[]int{2, 0}, 7}} {
		rigtest.AddCircuit(r, 0, c.legs, 20, rigtest.Columns(r, 0, 2*i+1, 2*i+2)[:c.panels])
	}
	b := power.New(r).Balance(allAt(r, 1))[0]
	require.InDelta(t, 32.08, float64(b.Legs[0]), 0.005, "√(28² + 7² + 28 × 7)")
	require.InDelta(t, 37.04, float64(b.Legs[1]), 0.005, "√(28² + 14² + 28 × 14)")
	require.InDelta(t, 18.52, float64(b.Legs[2]), 0.005, "√(14² + 7² + 14 × 7)")
	require.InDelta(t, 0.3661, float64(b.Figure), 0.0001, "29.21 A is the mean, 18.52 A the farthest from it")
	require.Equal(t, [2]int{0, 3}, [2]int{b.Swap.A, b.Swap.B}, "21 A on L1 L2, and 14 A on each of the others")
	require.InDelta(t, 0.1469, float64(b.Swap.Figure), 0.0001, "30.51, 30.51 and 24.25 A")
}
