package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"lookgate/presets/cable"
	"lookgate/presets/power"
	"lookgate/presets/power/netlist"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// wired are the walls that a solve with drop is measured on, in panels.
var wired = []int{1000, 10_000, 100_000, 1_000_000}

// dropping measures one solve with the voltage of every panel beside a plain loop that sums the same panels' watts, and a cap beside one solve of all conductors.
func dropping(blocks int) []row {
	var rows []row
	perPanel := map[int][]float64{}
	for _, n := range wired {
		r := layCables(wallOf(n))
		model, state := power.New(r), power.State{Levels: make([]units.Level, len(r.Outputs))}
		for o := range state.Levels {
			state.Levels[o] = 0.6
		}
		perOutput := outputOf(r)
		var flow power.Flow
		a, b := turns(blocks, n, func() { model.Flow(state, &flow) }, func() { sink += sumWatts(r, perOutput, state.Levels) })
		rows = append(rows, row{what: fmt.Sprintf("a solve with drop, %d panels", n), beside: "loop that sums watts", ratios: ratios(a, b), goal: 20,
			detail: fmt.Sprintf("%.1f / %.2f ns a panel", median(a)/float64(n), median(b)/float64(n))})
		for _, t := range a {
			perPanel[n] = append(perPanel[n], t/float64(n))
		}
		if n == wired[0] {
			rows = append(rows, capping(blocks, layCables(wallOf(n)), state))
		}
	}
	return append(rows, row{what: "a solve with drop a panel at 1000000 panels", beside: "at 1000", ratios: ratios(perPanel[1_000_000], perPanel[1000]), goal: 2,
		detail: fmt.Sprintf("%.1f / %.1f ns", median(perPanel[1_000_000]), median(perPanel[1000]))})
}

// capping measures how long the highest scale that passes takes to find, where breakers of 15 A stop it.
func capping(blocks int, r *rig.Rig, s power.State) row {
	for i := range r.Circuits {
		r.Circuits[i].Breaker = 15
	}
	model := power.New(r)
	ratio, moving := make([]units.Level, len(r.Outputs)), make([]bool, len(r.Outputs))
	for o := range ratio {
		ratio[o], moving[o] = 1, true
	}
	var dst []units.Amps
	a, b := turns(blocks, len(r.Panels), func() { model.Cap(s, ratio, moving, 1000) }, func() { dst = model.Worst(s, dst) })
	return row{what: fmt.Sprintf("a cap to a tenth of a per cent, %d panels", len(r.Panels)), beside: "one solve of all conductors", ratios: ratios(a, b),
		detail: fmt.Sprintf("%.1f / %.1f µs", median(a)/1000, median(b)/1000)}
}

// layCables gives every way of a wall its cable: 20 m of home run, 1 m from panel to panel, and 10 m of feeder.
func layCables(r *rig.Rig) *rig.Rig {
	home, _ := cable.ParseSize("12 AWG")
	feeder, _ := cable.ParseSize("4/0 AWG")
	r.Cables = []rig.Cable{
		{Name: "h12", Size: home, Stranding: cable.Stranded, At: 60, Rating: 25, Ambient: 1, Grouping: 1},
		{Name: "f40", Size: feeder, Stranding: cable.Stranded, At: 75, Rating: 400, Ambient: 1, Grouping: 1},
	}
	for i := range r.Circuits {
		r.Circuits[i].Home, r.Circuits[i].Link = &rig.Run{Length: 20}, &rig.Run{Length: 1}
	}
	for i := range r.Boards {
		r.Boards[i].Feeder = &rig.Run{Cable: 1, Length: 10, Sets: 2}
	}
	return r
}

// spiced is how many panels the network has that ngspice is given: it takes a general simulator, which starts, reads, solves and prints, seconds for more.
const spiced = 180

// secondOpinion measures ngspice on the same network beside one solve with drop. It is a whole process with a file to read, so this is no race: it says what a second
// opinion costs.
func secondOpinion(blocks int) ([]row, error) {
	r := layCables(wallOf(spiced))
	model, state := power.New(r), power.State{Levels: make([]units.Level, len(r.Outputs))}
	for o := range state.Levels {
		state.Levels[o] = 0.6
	}
	folder, err := os.MkdirTemp("", "measure")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	file := filepath.Join(folder, "plant.cir")
	if err := os.WriteFile(file, []byte(netlist.Write(r, state)), 0o600); err != nil {
		return nil, err
	}
	var flow power.Flow
	model.Flow(state, &flow)
	var theirs, ours []float64
	for range min(blocks, 5) {
		began := time.Now()
		if out, err := exec.Command("ngspice", "-b", file).CombinedOutput(); err != nil {
			return nil, fmt.Errorf("ngspice: %w: %.200s", err, out)
		}
		theirs = append(theirs, float64(time.Since(began)))
		ours = append(ours, timeOf(1000, func() { model.Flow(state, &flow) }))
	}
	return []row{{what: fmt.Sprintf("ngspice, %d panels", spiced), beside: "a solve with drop", ratios: ratios(theirs, ours),
		detail: fmt.Sprintf("%.0f ms / %.1f µs", median(theirs)/1e6, median(ours)/1e3)}}, nil
}
