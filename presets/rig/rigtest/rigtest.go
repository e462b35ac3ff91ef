// Package rigtest makes small rigs, without problems, for the tests of whatever works on a rig. Nothing in them is real.
package rigtest

import (
	"fmt"
	"slices"
	"time"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Wye gives a rig of 72 panels on one 208Y/120 V board: three two-pole circuits of 18 panels, one on each pair of legs, two one-pole circuits
// of 9 on the first two legs, and a work light on the third. Two outputs on two devices share the columns 1 to 4 and 5 to 8. At full white
// the two-pole circuits want 14.4 A of the 12 A that their breakers may carry; the one-pole circuits pass.
func Wye() *rig.Rig {
	r := start(rig.Supply{Name: "service", System: rig.Wye, LineNeutral: 120, LineLine: 208, Main: 200, Neutral: 200, Factor: 0.8})
	r.Boards = []rig.Board{{Name: "A", Poles: 42, Main: 100, Neutral: 100, Factor: 0.8}}
	AddWall(r, "bay", 8, 9)
	for i, legs := range [][]int{{0, 1}, {1, 2}, {2, 0}} {
		AddCircuit(r, 0, legs, 15, Columns(r, 0, 2*i+1, 2*i+2))
	}
	AddCircuit(r, 0, []int{0}, 20, Columns(r, 0, 7, 7))
	AddCircuit(r, 0, []int{1}, 20, Columns(r, 0, 8, 8))
	r.Loads = []rig.OtherLoad{{Name: "worklight", Legs: []int{2}, Current: 8, PF: 1, DisplacementKnown: true}}
	AddDevice(r, rig.Numbered, 65535, 0)
	AddDevice(r, rig.Reporting, 255, 1)
	AddOutput(r, 0, Columns(r, 0, 1, 4))
	AddOutput(r, 1, Columns(r, 0, 5, 8))
	return r
}

// SplitPhase gives a rig of 24 panels on one 120/240 V board: a two-pole circuit of 12 panels and one-pole circuits of 8 and 4 on the two legs. Its two
// outputs are on one device, and share the columns 1 to 3 and 4 to 6.
func SplitPhase() *rig.Rig {
	r := start(rig.Supply{Name: "service", System: rig.SplitPhase, LineNeutral: 120, LineLine: 240, Main: 60, Neutral: 60, Factor: 0.8})
	r.Boards = []rig.Board{{Name: "H", Poles: 12, Main: 60, Neutral: 60, Factor: 0.8}}
	AddWall(r, "wing", 6, 4)
	AddCircuit(r, 0, []int{0, 1}, 15, Columns(r, 0, 1, 3))
	AddCircuit(r, 0, []int{0}, 15, Columns(r, 0, 4, 5))
	AddCircuit(r, 0, []int{1}, 15, Columns(r, 0, 6, 6))
	AddDevice(r, rig.Reporting, 1000, 0.1)
	AddOutput(r, 0, Columns(r, 0, 1, 3))
	AddOutput(r, 0, Columns(r, 0, 4, 6))
	return r
}

// start gives a rig with a supply, one panel type, a source and a mode.
func start(s rig.Supply) *rig.Rig {
	return &rig.Rig{
		Name: "test", Supply: s, Hold: 5 * time.Second,
		PanelTypes: []rig.PanelType{{
			Name: "p1", Width: 500, Height: 500, PixelsX: 168, PixelsY: 168, Peak: 1500, Black: 24, White: 158,
			PF: 0.95, Third: 0.1, FeedThrough: 20,
		}},
		Sources: []rig.Source{{Name: "plate", Width: 1920, Height: 1080, Rate: units.Rate{Num: 60, Den: 1}}},
		Modes:   []rig.Mode{{Name: "m60", WallRate: units.Rate{Num: 60, Den: 1}, BitDepth: 8}},
	}
}

// AddWall adds a wall of the first panel type with all its panels, column by column from the left, each from the bottom up.
func AddWall(r *rig.Rig, name string, columns, rows int) {
	t := r.PanelTypes[0]
	r.Walls = append(r.Walls, rig.Wall{Name: name, Columns: columns, Rows: rows, PixelsX: columns * t.PixelsX, PixelsY: rows * t.PixelsY})
	for c := range columns {
		for row := range rows {
			r.Panels = append(r.Panels, rig.Panel{Wall: len(r.Walls) - 1, Column: c + 1, Row: row + 1})
		}
	}
}

// Columns gives a wall's panels from one column to another, both included.
func Columns(r *rig.Rig, wall, from, to int) []int {
	var ps []int
	for i, p := range r.Panels {
		if p.Wall == wall && p.Column >= from && p.Column <= to {
			ps = append(ps, i)
		}
	}
	return ps
}

// AddCircuit adds a circuit on the first free poles that stand on those legs, counted from 0. Its name is the board's and the first pole.
func AddCircuit(r *rig.Rig, board int, legs []int, breaker units.Amps, panels []int) {
	poles := FreePoles(r, board, legs)
	r.Circuits = append(r.Circuits, rig.Circuit{
		Name: fmt.Sprintf("%s%d", r.Boards[board].Name, poles[0]), Board: board, Poles: poles,
		Breaker: breaker, Factor: 0.8, HomeRun: max(breaker, 20), Jumper: max(breaker, 20), Panels: panels,
	})
}

// FreePoles gives the first poles of a board that are free, stand next to each other in one column and are on those legs. It panics on a full board.
func FreePoles(r *rig.Rig, board int, legs []int) []int {
	b := r.Boards[board]
	taken := make([]bool, b.Poles+1)
	for _, c := range r.Circuits {
		for _, p := range c.Poles {
			taken[p] = taken[p] || c.Board == board
		}
	}
	step := 1
	if b.Numbering == rig.OddEven {
		step = 2
	}
	for p := 1; p+step*(len(legs)-1) <= b.Poles; p++ {
		poles := []int{p, p + step}[:len(legs)]
		if !slices.ContainsFunc(poles, func(p int) bool { return taken[p] || !slices.Contains(legs, b.LegOf(p, r.Supply.System)) }) {
			return poles
		}
	}
	panic(fmt.Sprintf("board %s has no free poles on legs %v", b.Name, legs))
}

// AddDevice adds a device that is also a processor with every source.
func AddDevice(r *rig.Rig, c rig.Class, steps int, restart units.Level) {
	name := fmt.Sprintf("proc%d", len(r.Devices)+1)
	inputs := make([]int, len(r.Sources))
	for i := range inputs {
		inputs[i] = i
	}
	r.Processors = append(r.Processors, rig.Processor{Name: name, Device: len(r.Devices), Inputs: inputs, Port: 1e9, Usable: 0.95})
	d := rig.Device{
		Name: name, Class: c, Steps: steps, Restart: restart,
		PacketLife: 500 * time.Millisecond, Settling: 100 * time.Millisecond, Retry: 200 * time.Millisecond,
	}
	if c == rig.Silent {
		d.Repeats = 3
	}
	r.Devices = append(r.Devices, d)
}

// AddOutput adds an output with a zone of its own and data runs of at most 12 panels. Output, zone and data runs are named by their numbers.
func AddOutput(r *rig.Rig, device int, panels []int) {
	n := len(r.Outputs)
	r.Outputs = append(r.Outputs, rig.Output{Name: fmt.Sprintf("out%d", n+1), Device: device, Address: fmt.Sprintf("%d", n+1), Panels: panels})
	r.Zones = append(r.Zones, rig.Zone{Name: fmt.Sprintf("zone%d", n+1), Outputs: []int{n}})
	for chunk := range slices.Chunk(panels, 12) {
		k := len(r.DataRuns) + 1
		r.DataRuns = append(r.DataRuns, rig.DataRun{Name: fmt.Sprintf("run%d", k), Processor: device, Port: k, Panels: chunk})
	}
}
