package power

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// randomArms draws from few directions, so that arms are parallel, opposite and in one plane, as they are in rigs.
func randomArms(rng *rand.Rand, n int) []arm {
	var arms []arm
	third := float64(rng.IntN(3)) / 10
	for i := range n {
		a := arm{group: i, angle: float64(rng.IntN(3)) * 120, third: third}
		if rng.IntN(2) == 0 {
			a.angle += []float64{30, -25, 7.5, 18.19}[rng.IntN(4)]
		}
		if rng.IntN(2) == 0 {
			a.third = rng.Float64()
		}
		a.re, a.im = unit(a.angle)
		arms = append(arms, a)
	}
	return arms
}

func TestOuterSetsMissNoCorner(t *testing.T) {
	var outer, every int
	for seed := range uint64(600) {
		rng := rand.New(rand.NewPCG(seed, 4))
		n := 1 + rng.IntN(10)
		if seed%100 == 0 {
			n = 13
		}
		arms := randomArms(rng, n)
		w := wire{arms: arms, third: true}
		all, found := everySet(arms), undominated(arms, outerSets(arms))
		outer, every = outer+len(found), every+len(all)
		for range 4 {
			x := make([]float64, len(arms))
			for i := range x {
				x[i] = float64(rng.IntN(5)) * rng.Float64() * 10
			}
			require.InDelta(t, longest(&w, all, x), longest(&w, found, x), 1e-9, "seed %d", seed)
		}
	}
	require.Less(t, outer, every/3, "the sets found are no saving")
}

// TestTheTopCornerAloneIsNotTheWorst plants a fault: a solver that looks at the top corner only would be told apart on most random wires.
func TestTheTopCornerAloneIsNotTheWorst(t *testing.T) {
	missed := 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 4))
		arms := randomArms(rng, 6)
		w := wire{arms: arms, third: true}
		x := []float64{1, 2, 3, 4, 5, 6}
		if longest(&w, [][]arm{arms}, x) < longest(&w, everySet(arms), x)-1e-9 {
			missed++
		}
	}
	require.Greater(t, missed, 100, "the top corner alone passes for the worst")
}

func longest(w *wire, sets [][]arm, x []float64) float64 {
	var best float64
	for _, set := range sets {
		best = max(best, w.length(set, x))
	}
	return best
}

// TestBoundsAreBounds compares what is solved below the limits of arms with the bound that is used above them.
func TestBoundsAreBounds(t *testing.T) {
	for seed := range uint64(500) {
		rng := rand.New(rand.NewPCG(seed, 5))
		arms := randomArms(rng, 1+rng.IntN(6))
		for i := range arms {
			arms[i].spread = float64(rng.IntN(3)) * 15
			arms[i].form = rng.IntN(2)
		}
		w := newWire(arms)
		x := []float64{rng.Float64(), rng.Float64(), rng.Float64(), rng.Float64(), rng.Float64(), rng.Float64()}
		bound := rss(newSweep(w.arms, true).largest(w.gather(x, make([]float64, len(w.arms)))), w.thirdBound(x))
		require.LessOrEqual(t, w.worst(x), bound*(1+1e-12), "seed %d", seed)
		require.LessOrEqual(t, w.exactly(x), w.worst(x)*(1+1e-12), "seed %d", seed)
	}
}

// TestSweepAgreesWithCorners: where every direction is known, the two ways must be one.
func TestSweepAgreesWithCorners(t *testing.T) {
	for seed := range uint64(1000) {
		rng := rand.New(rand.NewPCG(seed, 6))
		arms := randomArms(rng, 1+rng.IntN(8))
		for i := range arms {
			arms[i].third = 0
		}
		w := newWire(arms)
		x := make([]float64, len(arms))
		for i := range x {
			x[i] = rng.Float64() * float64(rng.IntN(3))
		}
		require.InDelta(t, w.worst(x), newSweep(w.arms, true).largest(x), 1e-12, "seed %d", seed)
		require.InDelta(t, w.exactly(x), newSweep(w.arms, false).largest(x), 1e-12, "seed %d", seed)
	}
}

func TestManyKindsOfLoadAreBoundedNotMissed(t *testing.T) {
	arms := randomArms(rand.New(rand.NewPCG(1, 7)), many+1)
	w := newWire(arms)
	require.NotNil(t, w.box)
	x := make([]float64, len(arms))
	for i := range x {
		x[i] = 1
	}
	require.GreaterOrEqual(t, w.worst(x), w.length(w.arms, x))
}
