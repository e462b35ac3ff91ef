package power_test

import (
	"fmt"
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

// slack is what rounding may do to a comparison of two sums.
const slack = 1 + 1e-12

func TestWorstRisesWithEveryLevelAndEveryCircuit(t *testing.T) {
	for seed := range uint64(1500) {
		rng := rand.New(rand.NewPCG(seed, 8))
		r := rigtest.Random(rng, 1+rng.IntN(9))
		m, s := power.New(r), randomState(rng, r)
		before := m.Worst(s, nil)
		up := power.State{Levels: slices.Clone(s.Levels), LockedOff: slices.Clone(s.LockedOff)}
		o, c := rng.IntN(len(up.Levels)), rng.IntN(len(up.LockedOff))
		up.Levels[o] = min(1, up.Levels[o]+units.Level(rng.Float64()))
		up.LockedOff[c] = false
		for i, w := range m.Worst(up, nil) {
			require.GreaterOrEqual(t, float64(w)*slack, float64(before[i]), "seed %d, %s", seed, m.Conductors()[i].Name)
		}
	}
}

// TestAtIsNotMonotone shows why the box counts and not its top corner: it finds states whose current rises when a level goes down.
func TestAtIsNotMonotone(t *testing.T) {
	rising := 0
	for seed := range uint64(500) {
		rng := rand.New(rand.NewPCG(seed, 8))
		r := rigtest.Random(rng, 1+rng.IntN(9))
		m, s := power.New(r), randomState(rng, r)
		before := m.At(s, nil)
		o := rng.IntN(len(s.Levels))
		s.Levels[o] = 0
		for i, w := range m.At(s, nil) {
			if w > before[i]+0.01 {
				rising++
			}
		}
	}
	require.Greater(t, rising, 20)
}

func TestOnlyConductorsOfAnOutputFeelIt(t *testing.T) {
	felt, listed := 0, 0
	for seed := range uint64(500) {
		rng := rand.New(rand.NewPCG(seed, 9))
		r := rigtest.Random(rng, 1+rng.IntN(9))
		m, s := power.New(r), randomState(rng, r)
		o := rng.IntN(len(s.Levels))
		require.True(t, slices.IsSorted(m.OfOutput(o)))
		s.Levels[o] = 0
		before := m.Worst(s, nil)
		s.Levels[o] = 1
		listed += len(m.OfOutput(o))
		for i, w := range m.Worst(s, nil) {
			if w == before[i] {
				continue
			}
			felt++
			require.Contains(t, m.OfOutput(o), i, "seed %d, %s", seed, m.Conductors()[i].Name)
		}
	}
	require.Greater(t, felt, listed/3, "outputs are listed on conductors that never feel them")
}

func TestTheOrderOfCircuitsDoesNotMatter(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 10))
		r := rigtest.Random(rng, 2+rng.IntN(8))
		s := power.State{Levels: randomState(rng, r).Levels}
		want := byName(power.New(r), s)
		rng.Shuffle(len(r.Circuits), func(i, j int) { r.Circuits[i], r.Circuits[j] = r.Circuits[j], r.Circuits[i] })
		rng.Shuffle(len(r.Loads), func(i, j int) { r.Loads[i], r.Loads[j] = r.Loads[j], r.Loads[i] })
		for name, w := range byName(power.New(r), s) {
			require.InDelta(t, float64(want[name]), float64(w), 1e-9, "seed %d, %s", seed, name)
		}
	}
}

// byName gives the worst currents of what has one name on any order of the circuits.
func byName(m *power.Model, s power.State) map[string]units.Amps {
	of := map[string]units.Amps{}
	for i, w := range m.Worst(s, nil) {
		c := m.Conductors()[i]
		of[fmt.Sprint(c.Kind, c.Name)] = w
	}
	return of
}

// TestNoParentIsAboveTheSumOfWhatItFeeds is the triangle inequality: legs against their circuits, the supply's against the boards'.
func TestNoParentIsAboveTheSumOfWhatItFeeds(t *testing.T) {
	for seed := range uint64(500) {
		rng := rand.New(rand.NewPCG(seed, 11))
		r := rigtest.Random(rng, 1+rng.IntN(9))
		m, s := power.New(r), randomState(rng, r)
		worst := m.Worst(s, nil)
		for i, c := range m.Conductors() {
			var sum float64
			for k, child := range m.Conductors() {
				if feeds(r, c, child) {
					sum += float64(worst[k])
				}
			}
			for _, l := range r.Loads {
				if c.Kind == rig.BoardLeg && l.Board == c.Board && slices.Contains(l.Legs, c.Leg) {
					sum += float64(l.Current)
				}
			}
			if c.Kind == rig.BoardLeg || c.Kind == rig.SupplyLeg {
				require.LessOrEqual(t, float64(worst[i]), sum*slack, "seed %d, %s", seed, c.Name)
			}
		}
	}
}

func feeds(r *rig.Rig, parent, child rig.Conductor) bool {
	switch parent.Kind {
	case rig.BoardLeg:
		return child.Kind == rig.CircuitWire && r.Circuits[child.Circuit].Board == parent.Board && slices.Contains(r.Legs(r.Circuits[child.Circuit]), parent.Leg)
	case rig.SupplyLeg:
		return child.Kind == rig.BoardLeg && child.Leg == parent.Leg
	}
	return false
}

func TestWhatPassesPassesUnderHigherLimits(t *testing.T) {
	passed, refused := 0, 0
	for seed := range uint64(500) {
		rng := rand.New(rand.NewPCG(seed, 12))
		r := rigtest.Random(rng, 1+rng.IntN(9))
		s := randomState(rng, r)
		over := power.New(r).Over(s)
		for i := range r.Circuits {
			r.Circuits[i].Breaker += units.Amps(rng.IntN(3))
		}
		r.Boards[0].Main += 5
		r.Supply.Main += 5
		m := power.New(r)
		if len(over) == 0 {
			passed++
			require.Empty(t, limitsOnly(m, m.Over(s)), "seed %d", seed)
		} else {
			refused++
		}
	}
	require.Greater(t, passed, 30)
	require.Greater(t, refused, 30)
}

// limitsOnly leaves out home runs, which a larger breaker makes conductors of their own.
func limitsOnly(m *power.Model, over []int) []int {
	return slices.DeleteFunc(over, func(i int) bool { return m.Conductors()[i].Kind == rig.CableWire })
}

func TestLockedOffCountsNothingAndNothingElseDoes(t *testing.T) {
	r := rigtest.Wye()
	m := power.New(r)
	s := power.State{Levels: full(r)}
	lit := m.Worst(s, nil)
	s.LockedOff = []bool{true, false, false, false, false}
	dark := m.Worst(s, nil)
	require.Zero(t, dark[0])
	require.Equal(t, lit[1], dark[1])
	require.Less(t, dark[legOf(t, m, "A L1")], lit[legOf(t, m, "A L1")])
	require.Equal(t, lit[legOf(t, m, "A L3")], dark[legOf(t, m, "A L3")], "A1 is on the first two legs")
	s = power.State{Levels: []units.Level{0, 0}}
	require.InDelta(t, 18*24/(208*0.95), float64(m.Worst(s, nil)[0]), 1e-9, "black draws the black watts")
}

func legOf(t *testing.T, m *power.Model, name string) int {
	t.Helper()
	i := slices.IndexFunc(m.Conductors(), func(c rig.Conductor) bool { return c.Name == name })
	require.GreaterOrEqual(t, i, 0)
	return i
}

func TestALevelThatIsNoneCountsAsFull(t *testing.T) {
	r := rigtest.Wye()
	m := power.New(r)
	want := m.Worst(power.State{Levels: full(r)}, nil)
	for _, odd := range []float64{math.NaN(), 7, -1, math.Inf(1)} {
		require.Equal(t, want, m.Worst(power.State{Levels: []units.Level{units.Level(odd), 1}}, nil), "%v", odd)
	}
}

func TestAPanelWithoutAnOutputCountsAtFullWhite(t *testing.T) {
	r := rigtest.Wye()
	want := power.New(r).Worst(power.State{Levels: full(r)}, nil)
	r.Outputs[1].Panels = nil
	for i, w := range power.New(r).Worst(power.State{Levels: []units.Level{1, 0}}, nil) {
		require.InDelta(t, float64(want[i]), float64(w), 1e-9)
	}
}

func TestVoidConductorsAreNotJudged(t *testing.T) {
	r := rigtest.Wye()
	m := power.New(r)
	s := power.State{Levels: full(r)}
	require.Equal(t, []int{0, 1, 2}, m.Over(s), "the three two-pole circuits")
	s.Void = make([]bool, len(m.Conductors()))
	s.Void[0], s.Void[2] = true, true
	require.Equal(t, []int{1}, m.Over(s))
}

func TestAtTheLimitIsNotOver(t *testing.T) {
	r := one(20, 0.8, 16*230)
	m := power.New(r)
	require.Equal(t, m.Conductors()[0].Limit, m.WorstOf(0, power.State{Levels: []units.Level{1}}))
	require.Empty(t, m.Over(power.State{Levels: []units.Level{1}}))
}

// TestPanelsInOneCircuitWithOpposedDisplacements: even a circuit is no plain sum, and its worst is not all of it.
func TestPanelsInOneCircuitWithOpposedDisplacements(t *testing.T) {
	r := one(20, 0.8, 0)
	r.PanelTypes = []rig.PanelType{
		{White: 230, PF: 0.5, Displacement: 60, DisplacementKnown: true, FeedThrough: 100},
		{White: 230, PF: 0.5, Displacement: -60, DisplacementKnown: true, FeedThrough: 100},
	}
	r.Panels = []rig.Panel{{Type: 0}, {Type: 1}}
	r.Circuits[0].Panels, r.Outputs[0].Panels = []int{0, 1}, []int{0, 1}
	m, s := power.New(r), power.State{Levels: []units.Level{1}}
	require.InDelta(t, 2, float64(m.At(s, nil)[0]), 1e-9)
	require.InDelta(t, 2, float64(m.Worst(s, nil)[0]), 1e-9)
	r.PanelTypes[0].Displacement, r.PanelTypes[1].Displacement = 80, -80
	m = power.New(r)
	require.InDelta(t, 4*math.Cos(80*math.Pi/180), float64(m.At(s, nil)[0]), 1e-9)
	require.InDelta(t, 2, float64(m.Worst(s, nil)[0]), 1e-9, "one of them alone")
}
