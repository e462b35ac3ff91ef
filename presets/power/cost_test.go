package power_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// plant gives a wye rig of so many panels: circuits of 18 on every pair of legs in turn, boards of 14 circuits, outputs of 280 panels.
func plant(panels int) *rig.Rig {
	r := rigtest.Wye()
	r.Walls, r.Panels, r.Circuits, r.Outputs, r.Zones, r.DataRuns, r.Boards = nil, nil, nil, nil, nil, nil, nil
	rigtest.AddWall(r, "bay", (panels+9)/10, 10)
	r.Panels = r.Panels[:panels]
	for from := 0; from < panels; from += 18 {
		n := len(r.Circuits)
		if n%14 == 0 {
			r.Boards = append(r.Boards, rig.Board{Name: fmt.Sprintf("A%d-", n/14+1), Poles: 42, Main: 400, Neutral: 400, Factor: 0.8})
		}
		legs := [][]int{{0, 1}, {1, 2}, {2, 0}}[n%3]
		rigtest.AddCircuit(r, len(r.Boards)-1, legs, 20, span(from, min(from+18, panels)))
	}
	for from := 0; from < panels; from += 280 {
		rigtest.AddOutput(r, len(r.Outputs)%2, span(from, min(from+280, panels)))
	}
	return r
}

func span(from, to int) []int {
	var is []int
	for i := from; i < to; i++ {
		is = append(is, i)
	}
	return is
}

func TestASolveDoesNotAllocate(t *testing.T) {
	rigs := []*rig.Rig{rigtest.Wye(), rigtest.SplitPhase(), plant(560)}
	for seed := range uint64(20) {
		rigs = append(rigs, rigtest.Random(rand.New(rand.NewPCG(seed, 15)), 8))
	}
	for _, r := range rigs {
		m, s := power.New(r), power.State{Levels: full(r), LockedOff: make([]bool, len(r.Circuits))}
		dst := m.Worst(s, nil)
		require.Zero(t, testing.AllocsPerRun(10, func() { dst = m.Worst(s, dst) }))
		require.Zero(t, testing.AllocsPerRun(10, func() { dst = m.At(s, dst) }))
		for c := range m.Conductors() {
			require.Zero(t, testing.AllocsPerRun(3, func() { _ = m.WorstOf(c, s) }))
		}
	}
}

// BenchmarkWorst solves plants of growing size; ns/panel is what must not grow.
func BenchmarkWorst(b *testing.B) {
	for _, panels := range []int{560, 1_000, 10_000, 100_000} {
		b.Run(fmt.Sprint(panels), func(b *testing.B) {
			r := plant(panels)
			m, s := power.New(r), power.State{Levels: full(r)}
			var dst []units.Amps
			b.ReportAllocs()
			for b.Loop() {
				dst = m.Worst(s, dst)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(panels), "ns/panel")
		})
	}
}

func BenchmarkWorstOf(b *testing.B) {
	r := plant(560)
	m, s := power.New(r), power.State{Levels: full(r)}
	for i, c := range m.Conductors() {
		if c.Name == "A1-1" || c.Name == "A1- L1" || c.Name == "A1- N" || c.Name == "service L1" {
			b.Run(c.Kind.String(), func(b *testing.B) {
				for b.Loop() {
					m.WorstOf(i, s)
				}
			})
		}
	}
}
