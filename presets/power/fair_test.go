package power_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// sharingOut is a random question for Fair, on devices with so few steps that every answer can be tried.
type sharingOut struct {
	r      *rig.Rig
	m      *power.Model
	s      power.State
	wanted []units.Level
	groups []int
	n      int
}

const shareSteps = 6

func drawSharing(seed uint64) sharingOut {
	rng := rand.New(rand.NewPCG(seed, 14))
	q := sharingOut{r: laid(rng, rigtest.Random(rng, 1+rng.IntN(8)))}
	for i := range q.r.Devices {
		q.r.Devices[i].Steps = shareSteps
	}
	q.m, q.s = power.New(q.r), randomState(rng, q.r)
	q.n = 1 + rng.IntN(3)
	for range q.s.Levels {
		q.groups = append(q.groups, rng.IntN(q.n+1)-1)
	}
	each := make([]units.Level, q.n)
	for g := range each {
		each[g] = units.Level(1+rng.IntN(shareSteps)) / shareSteps
	}
	for _, g := range q.groups {
		w := units.Level(0)
		if g >= 0 {
			w = each[g]
		}
		q.wanted = append(q.wanted, w)
	}
	return q
}

func (q sharingOut) passes(levels []units.Level) bool {
	s := q.s
	s.Levels = levels
	return len(q.m.Over(s)) == 0
}

// at gives the levels with every group at its steps.
func (q sharingOut) at(steps []int) []units.Level {
	levels := slices.Clone(q.s.Levels)
	for o, g := range q.groups {
		if g >= 0 {
			levels[o] = down(q.r, o, min(q.wanted[o], units.Level(float64(steps[g])/shareSteps)))
		}
	}
	return levels
}

// every calls f with every combination of steps that the groups may have.
func (q sharingOut) every(f func(steps []int)) {
	steps := make([]int, q.n)
	for {
		f(steps)
		g := 0
		for ; g < q.n; g++ {
			if steps[g]++; steps[g] <= shareSteps {
				break
			}
			steps[g] = 0
		}
		if g == q.n {
			return
		}
	}
}

// light gives what each group has, in order, its wanted level at most.
func (q sharingOut) light(levels []units.Level) []units.Level {
	lit := make([]units.Level, q.n)
	for o, g := range q.groups {
		if g >= 0 {
			lit[g] = levels[o]
		}
	}
	slices.Sort(lit)
	return lit
}

// TestFairAgreesWithTryingEverything tries all levels of all groups: none that passes leaves its worst-off group more light, and, that being equal, so on; but for one
// step, which two groups may dispute.
func TestFairAgreesWithTryingEverything(t *testing.T) {
	var held, free, none, uneven int
	for seed := range uint64(400) {
		q := drawSharing(seed)
		got := q.m.Fair(q.s.Levels, q.wanted, q.groups, q.passes)
		if got.None {
			none++
			require.False(t, q.passes(q.at(make([]int, q.n))), "seed %d", seed)
			continue
		}
		require.True(t, q.passes(got.Levels), "seed %d", seed)
		lit := q.light(got.Levels)
		q.every(func(steps []int) {
			levels := q.at(steps)
			better := q.light(levels)
			if !q.passes(levels) {
				return
			}
			require.LessOrEqual(t, better[0], lit[0], "seed %d: %v is better than %v", seed, better, lit)
			if i := slices.IndexFunc(lit, func(l units.Level) bool { return l != better[slices.Index(lit, l)] }); i >= 0 {
				require.LessOrEqual(t, float64(better[i]), float64(lit[i])+1.0/shareSteps+1e-9, "seed %d: %v is better than %v", seed, better, lit)
			}
		})
		switch {
		case slices.Contains(got.Held, true):
			held++
			require.NotNil(t, got.Next)
			require.False(t, q.passes(got.Next), "seed %d", seed)
			if lit[0] < lit[len(lit)-1] {
				uneven++
			}
		default:
			free++
			full := slices.Repeat([]int{shareSteps}, q.n)
			require.Equal(t, q.at(full), got.Levels, "seed %d", seed)
		}
	}
	t.Logf("held %d, of them unequal %d; free %d, none %d", held, uneven, free, none)
	require.Greater(t, held, 40)
	require.Greater(t, uneven, 10)
	require.Greater(t, free, 40)
}
