package rigtest

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/rig"
)

func TestRigsHaveNoProblems(t *testing.T) {
	rigs := map[string]*rig.Rig{"wye": Wye(), "split phase": SplitPhase(), "delta": Delta(), "tree": Tree()}
	for name, r := range rigs {
		require.Empty(t, r.Problems(), name)
	}
}

// Warnings may be: a random rig can leave a panel type unused.
func TestRandomRigsHaveNoProblems(t *testing.T) {
	for seed := range uint64(300) {
		r := Random(rand.New(rand.NewPCG(seed, 1)), 1+int(seed%9))
		for _, p := range r.Problems() {
			require.True(t, p.Warning, "seed %d: %+v", seed, p)
		}
		require.Len(t, r.Circuits, 1+int(seed%9))
	}
}

// TestRandomWiredRigs holds that they have no problems, that there are deltas and boards three deep among them, and that a rig is what Random makes but for its wiring.
func TestRandomWiredRigs(t *testing.T) {
	deltas, deep, tight := 0, 0, 0
	for seed := range uint64(300) {
		n := 1 + int(seed%9)
		r, plain := RandomWired(rand.New(rand.NewPCG(seed, 1)), n), Random(rand.New(rand.NewPCG(seed, 1)), n)
		for _, p := range r.Problems() {
			require.True(t, p.Warning, "seed %d: %+v", seed, p)
		}
		require.Equal(t, plain.Panels, r.Panels)
		require.Equal(t, plain.Outputs, r.Outputs)
		if r.Supply.System == rig.Delta {
			deltas++
		}
		for i, b := range r.Boards {
			if from, fed := r.Fed(i); fed && r.Boards[from].From > 0 {
				deep++
			}
			if b.Carries > 0 && b.Carries < b.Main {
				tight++
			}
		}
	}
	require.Greater(t, deltas, 30)
	require.Greater(t, deep, 10)
	require.Greater(t, tight, 20)
}

func TestRandomRigsAreTheSameForTheSameSeed(t *testing.T) {
	require.Equal(t, Random(rand.New(rand.NewPCG(7, 1)), 5), Random(rand.New(rand.NewPCG(7, 1)), 5))
	require.Equal(t, RandomWired(rand.New(rand.NewPCG(7, 1)), 5), RandomWired(rand.New(rand.NewPCG(7, 1)), 5))
}
