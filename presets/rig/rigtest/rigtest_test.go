package rigtest

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/rig"
)

func TestRigsHaveNoProblems(t *testing.T) {
	rigs := map[string]*rig.Rig{"wye": Wye(), "split phase": SplitPhase()}
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

func TestRandomRigsAreTheSameForTheSameSeed(t *testing.T) {
	require.Equal(t, Random(rand.New(rand.NewPCG(7, 1)), 5), Random(rand.New(rand.NewPCG(7, 1)), 5))
}
