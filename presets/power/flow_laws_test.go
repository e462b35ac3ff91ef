package power_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// TestMoreDropNeverRaisesTheLastVoltage lengthens one run of a plant at a time: no last panel of the circuits behind it sees more than before.
func TestMoreDropNeverRaisesTheLastVoltage(t *testing.T) {
	fell := 0
	for seed := range uint64(1500) {
		r, rng := wired(seed, 6)
		s := power.State{Levels: randomState(rng, r).Levels}
		i := rng.IntN(len(r.Circuits))
		c := &r.Circuits[i]
		run := []*rig.Run{c.Home, c.Link}[rng.IntN(2)]
		if run == nil {
			continue
		}
		last := c.Panels[len(c.Panels)-1]
		var before, after power.Flow
		power.New(r).Flow(s, &before)
		floor := power.New(r).Lowest(last)
		run.Length += units.Metres(rng.Float64())
		power.New(r).Flow(s, &after)
		if len(after.Collapsed) > 0 {
			continue
		}
		require.LessOrEqual(t, float64(after.Panel[last].Volts), float64(before.Panel[last].Volts)+1e-4, "seed %d", seed)
		require.LessOrEqual(t, float64(power.New(r).Lowest(last)), float64(floor)+1e-6, "seed %d", seed)
		if after.Panel[last].Volts < before.Panel[last].Volts-0.01 {
			fell++
		}
	}
	require.Greater(t, fell, 300)
}

// TestAParentIsThePhasorSumOfItsChildren takes boards apart: what a leg carries never is more than what its circuits, loads and boards carry together, and is that where
// all of it is one kind of load.
func TestAParentIsThePhasorSumOfItsChildren(t *testing.T) {
	alike := 0
	for seed := range uint64(1500) {
		r, rng := wired(seed, 6)
		for i := range r.PanelTypes {
			r.PanelTypes[i].Displacement = 0
		}
		r.Loads = nil
		m, s := power.New(r), power.State{Levels: randomState(rng, r).Levels}
		var f power.Flow
		m.Flow(s, &f)
		for i, c := range m.Conductors() {
			if c.Kind != rig.BoardLeg {
				continue
			}
			sum, connections := 0.0, map[[2]int]bool{}
			for k, circuit := range r.Circuits {
				legs := r.Legs(circuit)
				if circuit.Board == c.Board && (legs[0] == c.Leg || len(legs) == 2 && legs[1] == c.Leg) {
					sum += float64(f.Amps[wireOf(m, k)])
					connections[[2]int{min(legs[0], legs[len(legs)-1]), max(legs[0], legs[len(legs)-1])}] = true
				}
			}
			for k, b := range r.Boards {
				if b.From == c.Board+1 {
					sum += float64(f.Amps[boardLeg(m, k, c.Leg)])
					connections[[2]int{-1, k}] = true
				}
			}
			require.LessOrEqual(t, float64(f.Amps[i]), sum*(1+1e-6)+1e-4, "seed %d, %s", seed, c.Name)
			if len(connections) == 1 && sum > 0 {
				alike++
				require.InEpsilon(t, sum, float64(f.Amps[i]), 2e-3, "seed %d, %s", seed, c.Name)
			}
		}
	}
	require.Greater(t, alike, 300)
}

func wireOf(m *power.Model, circuit int) int {
	for i, c := range m.Conductors() {
		if c.Kind == rig.CircuitWire && c.Circuit == circuit {
			return i
		}
	}
	return -1
}

func boardLeg(m *power.Model, board, leg int) int {
	for i, c := range m.Conductors() {
		if c.Kind == rig.BoardLeg && c.Board == board && c.Leg == leg {
			return i
		}
	}
	return -1
}

// TestWhatPassesStillPassesWhenALimitRises raises one limit at a time.
func TestWhatPassesStillPassesWhenALimitRises(t *testing.T) {
	for seed := range uint64(800) {
		r, rng := wired(seed, 6)
		s := power.State{Levels: randomState(rng, r).Levels}
		passes := len(power.New(r).Over(s)) == 0
		switch rng.IntN(3) {
		case 0:
			r.Circuits[rng.IntN(len(r.Circuits))].Breaker += units.Amps(1 + rng.IntN(20))
		case 1:
			c := &r.Circuits[rng.IntN(len(r.Circuits))]
			c.HomeRun, c.Jumper = c.HomeRun+10, c.Jumper+10
		default:
			r.Supply.Main, r.Supply.Neutral = r.Supply.Main+20, r.Supply.Neutral+20
		}
		if passes {
			require.Empty(t, power.New(r).Over(s), "seed %d", seed)
		}
	}
}

// TestWorstRisesWithEveryLevelThroughCables is the guard's law on plants whose voltages hang on their load.
func TestWorstRisesWithEveryLevelThroughCables(t *testing.T) {
	for seed := range uint64(1500) {
		r, rng := wired(seed, 6)
		m, s := power.New(r), randomState(rng, r)
		before := m.Worst(s, nil)
		o := rng.IntN(len(s.Levels))
		s.Levels[o] = min(1, s.Levels[o]+units.Level(rng.Float64()))
		for i, w := range m.Worst(s, nil) {
			require.GreaterOrEqual(t, float64(w)*slack, float64(before[i]), "seed %d, %s", seed, m.Conductors()[i].Name)
		}
	}
}

// TestTheOrderOfCircuitsDoesNotMatterThroughCables shuffles circuits and loads.
func TestTheOrderOfCircuitsDoesNotMatterThroughCables(t *testing.T) {
	for seed := range uint64(500) {
		r, rng := wired(seed, 6)
		s := power.State{Levels: randomState(rand.New(rand.NewPCG(seed, 1)), r).Levels}
		want := byName(power.New(r), s)
		rng.Shuffle(len(r.Circuits), func(i, j int) { r.Circuits[i], r.Circuits[j] = r.Circuits[j], r.Circuits[i] })
		rng.Shuffle(len(r.Loads), func(i, j int) { r.Loads[i], r.Loads[j] = r.Loads[j], r.Loads[i] })
		for name, w := range byName(power.New(r), s) {
			require.InDelta(t, float64(want[name]), float64(w), 1e-6, "seed %d, %s", seed, name)
		}
	}
}
