package main

import (
	"fmt"
	"time"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// sizes are the walls that a solve is measured on, in panels.
var sizes = []int{560, 1000, 10_000, 100_000}

// solving measures one solve of all conductors beside a plain loop that sums the same panels' watts.
func solving(blocks int) []row {
	var rows []row
	perPanel := map[int][]float64{}
	for _, n := range sizes {
		r := wallOf(n)
		model, state := power.New(r), power.State{Levels: make([]units.Level, len(r.Outputs))}
		for o := range state.Levels {
			state.Levels[o] = 0.6
		}
		perOutput := outputOf(r)
		var dst []units.Amps
		solve := func() { dst = model.Worst(state, dst) }
		plain := func() { sink += sumWatts(r, perOutput, state.Levels) }
		prepare := func() { dst = power.New(r).Worst(state, dst) }
		a, b := turns(blocks, n, solve, plain)
		rows = append(rows, row{what: fmt.Sprintf("a solve of all conductors, %d panels", n), beside: "loop that sums watts", ratios: ratios(a, b),
			detail: fmt.Sprintf("%.2f / %.2f ns a panel", median(a)/float64(n), median(b)/float64(n))})
		c, d := turns(blocks, n, prepare, plain)
		rows = append(rows, row{what: fmt.Sprintf("model made and solved, %d panels", n), beside: "loop that sums watts", ratios: ratios(c, d),
			detail: fmt.Sprintf("%.1f / %.2f ns a panel", median(c)/float64(n), median(d)/float64(n))})
		for _, t := range a {
			perPanel[n] = append(perPanel[n], t/float64(n))
		}
	}
	return append(rows, row{what: "a solve a panel at 100000 panels", beside: "at 1000", ratios: ratios(perPanel[100_000], perPanel[1000]), goal: 2,
		detail: fmt.Sprintf("%.2f / %.2f ns", median(perPanel[100_000]), median(perPanel[1000]))})
}

// sink keeps the compiler from leaving the plain loop out.
var sink units.Watts

// turns times two things in turn, so often in a block that its clock does not show, and gives nanoseconds a call for each block.
func turns(blocks, panels int, a, b func()) (as, bs []float64) {
	calls := max(1, 2_000_000/panels)
	a()
	b()
	for range blocks {
		as = append(as, timeOf(calls, a))
		bs = append(bs, timeOf(calls, b))
	}
	return as, bs
}

func timeOf(calls int, f func()) float64 {
	began := time.Now()
	for range calls {
		f()
	}
	return float64(time.Since(began)) / float64(calls)
}

// sumWatts is the baseline: what somebody would write who forgot legs, neutrals and displacement.
func sumWatts(r *rig.Rig, outputOf []int, levels []units.Level) units.Watts {
	var sum units.Watts
	for i := range r.Panels {
		t := &r.PanelTypes[r.Panels[i].Type]
		sum += t.Black + units.Watts(float64(levels[outputOf[i]]))*(t.White-t.Black)
	}
	return sum
}

func outputOf(r *rig.Rig) []int {
	of := make([]int, len(r.Panels))
	for o := range r.Outputs {
		for _, p := range r.Outputs[o].Panels {
			of[p] = o
		}
	}
	return of
}

// The generated wall: circuits of a usual size on boards of a usual size, an output for a few circuits.
const (
	panelsEach   = 18
	circuitsEach = 20
	outputsEach  = 12 // circuits
)

// wallOf makes a rig of n panels on a 208Y/120 V supply.
func wallOf(n int) *rig.Rig {
	r := &rig.Rig{
		Name: "measured", Supply: rig.Supply{Name: "service", System: rig.Wye, LineNeutral: 120, LineLine: 208, Main: 1e6, Neutral: 1e6, Factor: 0.8},
		PanelTypes: []rig.PanelType{{Name: "p", Black: 24, White: 158, PF: 0.95, Displacement: 12, DisplacementKnown: true, Third: 0.08, FeedThrough: 20}},
		Walls:      []rig.Wall{{Name: "wall", Columns: (n + 8) / 9, Rows: 9}},
		Devices:    []rig.Device{{Name: "d", Class: rig.Numbered, Steps: 255}},
		Panels:     make([]rig.Panel, n),
	}
	for first := 0; first < n; first += panelsEach {
		c := len(r.Circuits)
		if c%circuitsEach == 0 {
			r.Boards = append(r.Boards, rig.Board{Name: fmt.Sprintf("B%d", len(r.Boards)+1), Poles: 84, Main: 1000, Neutral: 1000, Factor: 0.8})
		}
		if c%outputsEach == 0 {
			r.Outputs = append(r.Outputs, rig.Output{Name: fmt.Sprintf("o%d", len(r.Outputs)+1)})
		}
		at := c % circuitsEach
		circuit := rig.Circuit{Name: fmt.Sprintf("C%d", c+1), Board: len(r.Boards) - 1, Poles: []int{4*(at/2) + 1 + at%2, 4*(at/2) + 3 + at%2}, Breaker: 20, Factor: 0.8, HomeRun: 20, Jumper: 20}
		for p := first; p < min(first+panelsEach, n); p++ {
			circuit.Panels = append(circuit.Panels, p)
			r.Panels[p] = rig.Panel{Column: p/9 + 1, Row: p%9 + 1}
		}
		out := &r.Outputs[len(r.Outputs)-1]
		out.Panels = append(out.Panels, circuit.Panels...)
		r.Circuits = append(r.Circuits, circuit)
	}
	return r
}
