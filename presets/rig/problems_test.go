package rig_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// two is a rig of two panels with nothing wrong.
func two() *rig.Rig {
	return &rig.Rig{
		Name:   "two",
		Supply: rig.Supply{Name: "s", System: rig.SplitPhase, LineNeutral: 120, LineLine: 240, Main: 100, Neutral: 100, Factor: 0.8},
		Boards: []rig.Board{{Name: "B", Poles: 8, Main: 60, Neutral: 60, Factor: 0.8}},
		PanelTypes: []rig.PanelType{{Name: "t", Width: 500, Height: 500, PixelsX: 100, PixelsY: 100, Peak: 1000, Black: 10, White: 100,
			PF: 0.9, Displacement: -25, DisplacementKnown: true, Third: 0.1, FeedThrough: 16}},
		Walls:  []rig.Wall{{Name: "w", Columns: 2, Rows: 1, PixelsX: 200, PixelsY: 100}},
		Panels: []rig.Panel{{Column: 1, Row: 1}, {Column: 2, Row: 1}},
		Circuits: []rig.Circuit{
			{Name: "c1", Poles: []int{1, 3}, Breaker: 20, Factor: 0.8, HomeRun: 20, Jumper: 20, Panels: []int{0}},
			{Name: "c2", Poles: []int{2}, Breaker: 20, Factor: 0.8, HomeRun: 20, Jumper: 20, Panels: []int{1}},
		},
		Loads: []rig.OtherLoad{{Name: "l", Legs: []int{1}, Current: 2, PF: 1}},
		Devices: []rig.Device{{Name: "d", Class: rig.Reporting, Steps: 255, Restart: 0.5, PacketLife: time.Second, Settling: time.Second,
			Retry: time.Second}},
		Outputs:    []rig.Output{{Name: "o", Address: "1", Panels: []int{0, 1}}},
		Zones:      []rig.Zone{{Name: "z", Outputs: []int{0}}},
		Sources:    []rig.Source{{Name: "v", Width: 200, Height: 100, Rate: units.Rate{Num: 25, Den: 1}}},
		Processors: []rig.Processor{{Name: "d", Inputs: []int{0}, Port: 1e9, Usable: 0.9}},
		DataRuns:   []rig.DataRun{{Name: "r", Port: 1, Panels: []int{0, 1}}},
		Modes:      []rig.Mode{{Name: "m", WallRate: units.Rate{Num: 50, Den: 1}, BitDepth: 10}},
		Hold:       time.Second,
	}
}

func codes(ps []rig.Problem) []string {
	var out []string
	for _, p := range ps {
		out = append(out, p.Code)
	}
	return out
}

func TestProblems_None(t *testing.T) { require.Empty(t, two().Problems()) }

// TestProblems_FiguresThatNoFileCanHold holds the checks against what only a program can put into a rig: files are refused such figures while they are read.
func TestProblems_FiguresThatNoFileCanHold(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name, part, key, code string
		change                func(*rig.Rig)
	}{
		{"breaker NaN", "circuits", "breaker_a", "figure-not-positive", func(r *rig.Rig) { r.Circuits[0].Breaker = units.Amps(nan) }},
		{"breaker infinite", "circuits", "breaker_a", "figure-not-positive", func(r *rig.Rig) { r.Circuits[0].Breaker = units.Amps(math.Inf(1)) }},
		{"voltage NaN", "supply", "line_neutral_v", "figure-not-positive", func(r *rig.Rig) { r.Supply.LineNeutral = units.Volts(nan) }},
		{"main NaN", "boards", "main_a", "figure-not-positive", func(r *rig.Rig) { r.Boards[0].Main = units.Amps(nan) }},
		{"neutral missing", "supply", "neutral_a", "figure-not-positive", func(r *rig.Rig) { r.Supply.Neutral = 0 }},
		{"factor NaN", "circuits", "factor", "factor-range", func(r *rig.Rig) { r.Circuits[1].Factor = units.Share(nan) }},
		{"power factor NaN", "panel_types", "pf", "pf-range", func(r *rig.Rig) { r.PanelTypes[0].PF = units.Share(nan) }},
		{"displacement NaN", "panel_types", "displacement_deg", "displacement-beyond-pf", func(r *rig.Rig) { r.PanelTypes[0].Displacement = units.Degrees(nan) }},
		{"third harmonic NaN", "loads", "third_harmonic", "third-range", func(r *rig.Rig) { r.Loads[0].Third = units.Share(nan) }},
		{"black NaN", "panel_types", "black_w", "figure-negative", func(r *rig.Rig) { r.PanelTypes[0].Black = units.Watts(nan) }},
		{"restart NaN", "devices", "restart", "restart-range", func(r *rig.Rig) { r.Devices[0].Restart = units.Level(nan) }},
		{"usable NaN", "processors", "usable", "usable-range", func(r *rig.Rig) { r.Processors[0].Usable = units.Share(nan) }},
		{"rate missing at a source", "sources", "rate", "rate-missing", func(r *rig.Rig) { r.Sources[0].Rate = units.Rate{} }},
		{"rate missing in a mode", "modes", "wall_rate", "rate-missing", func(r *rig.Rig) { r.Modes[0].WallRate = units.Rate{} }},
		{"panel off its wall", "walls", "", "panel-misplaced", func(r *rig.Rig) { r.Panels[1].Column = 3 }},
		{"two panels in one place", "walls", "", "panel-misplaced", func(r *rig.Rig) { r.Panels[1].Column = 1 }},
		{"no system", "supply", "system", "no-system", func(r *rig.Rig) { r.Supply.System = rig.NoSystem }},
		{"leg that the supply does not have", "loads", "legs", "load-legs", func(r *rig.Rig) { r.Loads[0].Legs = []int{2} }},
		{"pole below the first", "circuits", "poles", "pole-beyond", func(r *rig.Rig) { r.Circuits[1].Poles = []int{0} }},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := two()
			c.change(r)
			found := r.Problems()
			require.Equal(t, []string{c.code}, codes(found), "%v", found)
			require.Equal(t, c.part, found[0].Part)
			require.Equal(t, c.key, found[0].Key)
		})
	}
}

// TestProblems_BrokenReferences holds that an index that points nowhere is told and breaks nothing.
func TestProblems_BrokenReferences(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*rig.Rig)
	}{
		{"wall's type", func(r *rig.Rig) { r.Walls[0].Type = 7 }},
		{"panel's wall", func(r *rig.Rig) { r.Panels[0].Wall = -1 }},
		{"panel's type", func(r *rig.Rig) { r.Panels[0].Type = 1 }},
		{"circuit's board", func(r *rig.Rig) { r.Circuits[0].Board = 3 }},
		{"circuit's panel", func(r *rig.Rig) { r.Circuits[0].Panels = []int{0, 9} }},
		{"load's board", func(r *rig.Rig) { r.Loads[0].Board = -2 }},
		{"output's device", func(r *rig.Rig) { r.Outputs[0].Device = 1 }},
		{"output's panel", func(r *rig.Rig) { r.Outputs[0].Panels = []int{0, 1, -1} }},
		{"zone's output", func(r *rig.Rig) { r.Zones[0].Outputs = []int{0, 4} }},
		{"processor's device", func(r *rig.Rig) { r.Processors[0].Device = 5 }},
		{"processor's input", func(r *rig.Rig) { r.Processors[0].Inputs = []int{0, 1} }},
		{"data run's processor", func(r *rig.Rig) { r.DataRuns[0].Processor = -1 }},
		{"data run's panel", func(r *rig.Rig) { r.DataRuns[0].Panels = []int{0, 1, 2} }},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := two()
			c.change(r)
			require.Contains(t, codes(r.Problems()), "reference-broken")
		})
	}
}

// TestTemplates_CodeOnly holds that every template that no file can bring about has its row above.
func TestTemplates_CodeOnly(t *testing.T) {
	var only []string
	for _, row := range rig.Templates {
		if row.CodeOnly {
			only = append(only, row.Code)
		}
	}
	require.Equal(t, []string{"reference-broken", "panel-misplaced", "rate-missing"}, only)
}

func TestPanelNames(t *testing.T) {
	r := two()
	r.Walls[0].Columns, r.Walls[0].Rows = 30, 3
	r.Panels = nil
	for c := 1; c <= 30; c++ {
		for row := 1; row <= 3; row++ {
			r.Panels = append(r.Panels, rig.Panel{Column: c, Row: row})
		}
	}
	for _, c := range []struct {
		name   string
		panels []int
		want   string
	}{
		{"none", nil, ""},
		{"one", []int{4}, "w C2R2"},
		{"a column in any order", []int{5, 3, 4}, "w C2R1..C2R3"},
		{"two whole columns", []int{0, 1, 2, 3, 4, 5}, "w C1R1..C2R3"},
		{"columns of unlike height", []int{0, 1, 3, 4, 5}, "w C1R1..C1R2, w C2R1..C2R3"},
		{"one twice", []int{4, 4}, "w C2R2"},
		{"many", []int{0, 6, 12, 18, 24, 30, 31}, "w C1R1, w C3R1, w C5R1, w C7R1 and 3 more"},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, r.PanelNames(c.panels)) })
	}
}

func TestValidName(t *testing.T) {
	for _, good := range []string{"B7", "bay-heron", "a", "12345678901234567890123456789012", "R&D_2.1"} {
		require.True(t, rig.ValidName(good), good)
	}
	for _, bad := range []string{"", "a b", "a/b", "a#", "*", "a,b", "a?", "[a]", "{a}", "ä", "a\t", "123456789012345678901234567890123"} {
		require.False(t, rig.ValidName(bad), bad)
	}
}
