package desktest

import (
	"math"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// The demo stage's figures: 18 panels of 24 W black and 158 W white, power factor 0.95, on a two-pole circuit of 20 A at 208 V.
const (
	black, white = 24.0, 158.0
	pf           = 0.95
	across       = 208.0
)

// Rig gives the demo stage: three walls, two boards, 31 two-pole circuits, four outputs on three devices.
func Rig() *rig.Rig {
	r := &rig.Rig{
		Name:   "Saltmarsh Studios, Stage B",
		Supply: rig.Supply{Name: "service", System: rig.Wye, LineNeutral: 120, LineLine: across, Main: 500, Neutral: 500, Factor: 0.8},
		Boards: []rig.Board{
			{Name: "A", Numbering: rig.OddEven, Poles: 42, Main: 225, Neutral: 225, Factor: 0.8},
			{Name: "B", Numbering: rig.OddEven, Poles: 24, Main: 150, Neutral: 150, Factor: 0.8},
		},
		PanelTypes: []rig.PanelType{{Name: "s30", Width: 500, Height: 500, PixelsX: 168, PixelsY: 168, Peak: 1500, Black: black, White: white, PF: pf, FeedThrough: 20}},
		Walls: []rig.Wall{
			{Name: "bay", Columns: 40, Rows: 9, PixelsX: 40 * 168, PixelsY: 9 * 168},
			{Name: "wing", Columns: 10, Rows: 9, PixelsX: 10 * 168, PixelsY: 9 * 168},
			{Name: "lid", Columns: 12, Rows: 9, PixelsX: 12 * 168, PixelsY: 9 * 168},
		},
		Devices: []rig.Device{
			{Name: "north", Class: rig.Numbered, Steps: 65535},
			{Name: "south", Class: rig.Reporting, Steps: 255},
			{Name: "east", Class: rig.Silent, Steps: 255},
		},
		Zones: []rig.Zone{{Name: "bay", Outputs: []int{0, 1}}, {Name: "wing", Outputs: []int{2}}, {Name: "lid", Outputs: []int{3}}},
		Hold:  10 * time.Second,
	}
	for i := range r.Devices {
		r.Processors = append(r.Processors, rig.Processor{Name: r.Devices[i].Name, Device: i, Port: 1e9, Usable: 0.95})
	}
	r.Outputs = []rig.Output{{Name: "bay-left", Device: 0}, {Name: "bay-right", Device: 1}, {Name: "wing", Device: 2}, {Name: "lid", Device: 2}}
	fill(r, 0, func(column int) int { return (column - 1) / 20 })
	fill(r, 1, func(int) int { return 2 })
	fill(r, 2, func(int) int { return 3 })
	return r
}

// fill hangs a wall's panels column by column, and gives two columns their circuit and every column its data run.
func fill(r *rig.Rig, wall int, output func(column int) int) {
	w := r.Walls[wall]
	for column := 1; column <= w.Columns; column++ {
		if column%2 == 1 {
			newCircuit(r, wall)
		}
		o := output(column)
		run := rig.DataRun{Name: w.Name + " run", Processor: r.Outputs[o].Device, Port: column}
		c := &r.Circuits[len(r.Circuits)-1]
		for row := 1; row <= w.Rows; row++ {
			p := len(r.Panels)
			r.Panels = append(r.Panels, rig.Panel{Wall: wall, Column: column, Row: row})
			c.Panels = append(c.Panels, p)
			run.Panels = append(run.Panels, p)
			r.Outputs[o].Panels = append(r.Outputs[o].Panels, p)
		}
		r.DataRuns = append(r.DataRuns, run)
	}
}

// newCircuit takes the next two poles that lie one below the other: 1 3, 2 4, 5 7, 6 8.
func newCircuit(r *rig.Rig, wall int) {
	board := min(wall, 1)
	n := 0
	for _, c := range r.Circuits {
		if c.Board == board {
			n++
		}
	}
	pole := n/2*4 + n%2 + 1
	name := string(rune('A'+board)) + string(rune('0'+(n+1)/10)) + string(rune('0'+(n+1)%10))
	r.Circuits = append(r.Circuits, rig.Circuit{Name: name, Board: board, Poles: []int{pole, pole + 2}, Breaker: 20, Factor: 0.8, HomeRun: 20, Jumper: 20})
}

// View gives the demo stage with a look on: bay at 62 %, wing at 40 %, lid dark.
func View() *engine.View {
	v := &engine.View{
		At: 90 * time.Second, Epoch: 7, Site: "Saltmarsh Studios, Stage B",
		Look:     engine.LookView{Preset: 12, Name: "dusk over the flats", Scale: 1, State: "on", Previous: 4, Worst: "circuit A07"},
		Zones:    []engine.ZoneView{{Name: "bay", Outputs: []int{0, 1}, Wanted: 0.62, Cap: 0.8}, {Name: "wing", Outputs: []int{2}, Wanted: 0.4, Cap: 0.6}, {Name: "lid", Outputs: []int{3}, Cap: 0.3}},
		Presets:  Presets(),
		Alarms:   []engine.Event{},
		Promise:  []string{"device east tells nothing of itself: its outputs wing and lid are assumed"},
		Circuits: []engine.CircuitView{},
	}
	for _, c := range Rig().Circuits {
		v.Circuits = append(v.Circuits, engine.CircuitView{Name: c.Name, Service: "in"})
	}
	return Lit(v, 0.62, 0.62, 0.4, 0)
}

// Lit gives a copy of the view with the outputs at these levels, confirmed, and what the conductors would carry at white: the arithmetic of a display,
// with currents of one leg simply added.
func Lit(v *engine.View, levels ...units.Level) *engine.View {
	n, r := *v, Rig()
	n.Outputs, n.Conductors = nil, nil
	for i, l := range levels {
		d := r.Devices[r.Outputs[i].Device]
		state := map[rig.Class]string{rig.Silent: "assumed"}[d.Class]
		if state == "" {
			state = "confirmed"
		}
		n.Outputs = append(n.Outputs, engine.OutputView{Name: r.Outputs[i].Name, Device: d.Name, Wanted: l, Low: l, High: l,
			Cap: min(1, l+0.18), State: state, Confirmed: state == "confirmed"})
	}
	amps := circuitAmps(r, levels)
	for _, c := range r.Conductors() {
		n.Conductors = append(n.Conductors, carry(r, c, amps))
	}
	return &n
}

func circuitAmps(r *rig.Rig, levels []units.Level) []float64 {
	of := make([]units.Level, len(r.Panels))
	for i, o := range r.Outputs {
		for _, p := range o.Panels {
			of[p] = levels[i]
		}
	}
	amps := make([]float64, len(r.Circuits))
	for i, c := range r.Circuits {
		for _, p := range c.Panels {
			amps[i] += float64(r.PanelTypes[0].Watts(of[p])) / (across * pf)
		}
	}
	return amps
}

func carry(r *rig.Rig, c rig.Conductor, amps []float64) engine.ConductorView {
	worst := 0.0
	for i, a := range amps {
		if c.Circuit == i || c.Leg >= 0 && (c.Board < 0 || c.Board == r.Circuits[i].Board) && stands(r, i, c.Leg) {
			worst += a
		}
	}
	room := float64(c.Limit) - worst
	stops := 20.0
	if worst > 0 {
		stops = math.Log2(float64(c.Limit) / worst)
	}
	return engine.ConductorView{Kind: c.Kind.String(), Name: c.Name, Worst: units.Amps(worst), Limit: c.Limit, By: c.By, Headroom: units.Amps(room), Stops: units.Stops(stops)}
}

func stands(r *rig.Rig, circuit, leg int) bool {
	for _, l := range r.Legs(r.Circuits[circuit]) {
		if l == leg {
			return true
		}
	}
	return false
}

// Presets gives an invented show's presets; number 40 is refused, with a remedy for now and one for later.
func Presets() []engine.PresetView {
	admitted := func(n int, name string, share units.Share, binding string) engine.PresetView {
		return engine.PresetView{Number: n, Name: name, Admitted: true, Cap: share, Binding: binding}
	}
	warned := admitted(9, "lightning, far off", 1.02, "neutral A N")
	warned.Findings = []finding.Finding{finding.New(finding.RestartOver, finding.Place{Kind: "neutral", Name: "A N"},
		"would be over if every device restarted at once")}
	return []engine.PresetView{
		admitted(1, "worklight", 2.4, "circuit A07"), admitted(4, "morning fog", 1.61, "circuit A07"), warned,
		admitted(12, "dusk over the flats", 1.29, "circuit A07"), admitted(13, "dusk, wing lower", 1.34, "circuit A07"), admitted(20, "harbour at night", 2.1, "circuit B02"),
		Refused(), admitted(41, "noon glare, held down", 1, "circuit A07"), admitted(60, "green for keying", 1.12, "leg B L1"),
	}
}

// Refused gives the preset that the demo stage cannot carry.
func Refused() engine.PresetView {
	level := units.Level(0.86)
	over := finding.New(finding.CircuitOver, finding.Place{Kind: "circuit", Name: "A07"}, "would carry more than its breaker may carry for hours")
	over.Computed, over.Limit = units.InAmps(18.4), units.InAmps(16)
	over.Remedies = []finding.Remedy{
		{When: finding.Now, Words: "recall noon glare at 86 %", Do: &finding.Do{Verb: "recall", Target: "noon glare", Level: &level}},
		{When: finding.Later, Words: "hang panels C13R9 and C14R9 on another circuit"},
	}
	leg := finding.New(finding.LegOver, finding.Place{Kind: "leg", Name: "A L2"}, "would carry more than the main may carry for hours")
	leg.Computed, leg.Limit = units.InAmps(183.2), units.InAmps(180)
	return engine.PresetView{Number: 40, Name: "noon glare", Findings: []finding.Finding{over, leg}, Cap: 0.86, Binding: "circuit A07"}
}
