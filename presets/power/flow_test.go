package power_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/cable"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// laid gives a rig cables on some of its ways, of lengths that a stage has: home runs of up to 60 m, jumpers of up to 3 m, feeders of up to 50 m, and now and then
// hangs one board on another.
func laid(rng *rand.Rand, r *rig.Rig) *rig.Rig {
	twelve, _ := cable.ParseSize("12 AWG")
	large, _ := cable.ParseSize("2/0 AWG")
	r.Cables = []rig.Cable{
		{Name: "so12", Size: twelve, Stranding: cable.Stranded, At: 60, Rating: 25, Ambient: 1, Grouping: 1},
		{Name: "w20", Size: large, Stranding: cable.Stranded, At: 75, Rating: 200, Ambient: 1, Grouping: 1},
	}
	for i := range r.Circuits {
		if rng.IntN(4) > 0 {
			r.Circuits[i].Home = &rig.Run{Length: units.Metres(60 * rng.Float64())}
		}
		if rng.IntN(4) > 0 {
			r.Circuits[i].Link = &rig.Run{Length: units.Metres(3 * rng.Float64())}
		}
	}
	for i := range r.Boards {
		if rng.IntN(3) > 0 {
			r.Boards[i].Feeder = &rig.Run{Cable: 1, Length: units.Metres(50 * rng.Float64()), Sets: 1 + rng.IntN(2)}
		}
		if i > 0 && rng.IntN(2) == 0 {
			r.Boards[i].From = i
		}
	}
	return r
}

// TestFlowIsNeverAboveWorst holds the guard to the plant: whatever the state in the box, no conductor carries more than its worst current.
func TestFlowIsNeverAboveWorst(t *testing.T) {
	var f power.Flow
	closest := 0.0
	for seed := range uint64(3000) {
		rng := rand.New(rand.NewPCG(seed, 77))
		r := laid(rng, rigtest.Random(rng, 1+rng.IntN(10)))
		m := power.New(r)
		s := power.State{Levels: make([]units.Level, len(r.Outputs)), LockedOff: make([]bool, len(r.Circuits))}
		for range 4 {
			for o := range s.Levels {
				s.Levels[o] = units.Level(rng.Float64())
				if rng.IntN(2) == 0 {
					s.Levels[o] = units.Level(rng.IntN(2))
				}
			}
			if len(m.Over(s)) > 0 {
				continue
			}
			worst := m.Worst(s, nil)
			for i := range s.LockedOff {
				s.LockedOff[i] = rng.IntN(4) == 0
			}
			m.Flow(s, &f)
			require.Empty(t, f.Collapsed)
			clear(s.LockedOff)
			for i, c := range m.Conductors() {
				if worst[i] > 0.1 {
					closest = max(closest, float64(f.Amps[i]/worst[i]))
				}
				require.LessOrEqual(t, float64(f.Amps[i]), float64(worst[i])*(1+1e-6), "seed %d, %v %s", seed, c.Kind, c.Name)
			}
		}
	}
	require.Greater(t, closest, 0.999, "no state came near its bound")
}

func BenchmarkFlow(b *testing.B) {
	for _, panels := range []int{1_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprint(panels), func(b *testing.B) {
			r := laid(rand.New(rand.NewPCG(1, 1)), plant(panels))
			for i := range r.Boards {
				r.Boards[i].From, r.Boards[i].Feeder = 0, &rig.Run{Cable: 1, Length: 10}
			}
			for i := range r.Circuits {
				r.Circuits[i].Home, r.Circuits[i].Link = &rig.Run{Length: 20}, &rig.Run{Length: 1}
			}
			m, s := power.New(r), power.State{Levels: full(r)}
			var f power.Flow
			b.ReportAllocs()
			for b.Loop() {
				m.Flow(s, &f)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(panels), "ns/panel")
			b.ReportMetric(float64(len(f.Collapsed)), "collapsed")
		})
	}
}

func BenchmarkPlain(b *testing.B) {
	r := plant(1000)
	of := make([]int, len(r.Panels))
	for o, out := range r.Outputs {
		for _, p := range out.Panels {
			of[p] = o
		}
	}
	levels := full(r)
	var sum units.Watts
	for b.Loop() {
		for p := range r.Panels {
			sum += r.PanelTypes[r.Panels[p].Type].Watts(levels[of[p]])
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1000, "ns/panel")
	_ = sum
}
