package rig_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/cable"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// two is a rig of two panels with nothing wrong.
func two() *rig.Rig {
	return &rig.Rig{
		Name:   "two",
		Supply: rig.Supply{Name: "s", System: rig.SplitPhase, LineNeutral: 120, LineLine: 240, Main: 100, Neutral: 100, Factor: 0.8},
		Cables: []rig.Cable{{Name: "k", Size: size("12 AWG"), Stranding: cable.Stranded, At: 60, Rating: 25, Ambient: 1, Grouping: 0.8}},
		Boards: []rig.Board{{Name: "B", Poles: 8, Main: 60, Neutral: 60, Factor: 0.8, Feeder: &rig.Run{Length: 10, Sets: 3}, Carries: 60, Residual: 0.3}},
		PanelTypes: []rig.PanelType{{Name: "t", Width: 500, Height: 500, PixelsX: 100, PixelsY: 100, Peak: 1000, Black: 10, White: 100,
			PF: 0.9, Displacement: -25, DisplacementKnown: true, Third: 0.1, FeedThrough: 16,
			Red: 30, Green: 35, Blue: 25, Inrush: rig.Inrush{Peak: 40, Width: 200 * time.Microsecond}, Leakage: 0.0005}},
		Walls:  []rig.Wall{{Name: "w", Columns: 2, Rows: 1, PixelsX: 200, PixelsY: 100}},
		Panels: []rig.Panel{{Column: 1, Row: 1}, {Column: 2, Row: 1}},
		Circuits: []rig.Circuit{
			{Name: "c1", Poles: []int{1, 3}, Breaker: 20, Factor: 0.8, HomeRun: 20, Jumper: 20, Panels: []int{0}, Home: &rig.Run{Length: 10}, Link: &rig.Run{Length: 1},
				Residual: 0.03, Above: &rig.AboveContinuous{For: time.Hour, Rest: time.Hour}},
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

// size gives a conductor's size by its words.
func size(words string) cable.Size {
	s, _ := cable.ParseSize(words)
	return s
}

// onDelta makes the rig a delta, with nothing wrong.
func onDelta(r *rig.Rig) {
	r.Supply = rig.Supply{Name: "s", System: rig.Delta, LineLine: 208, Main: 100, Factor: 0.8}
	r.Boards[0].Neutral = 0
	r.Circuits[1].Poles, r.Loads[0].Legs = []int{2, 4}, []int{1, 2}
}

// second adds a board, which feeds the first.
func second(r *rig.Rig, from int) {
	b := r.Boards[0]
	b.Name = "C"
	r.Boards = append(r.Boards, b)
	r.Boards[0].From = from
}

func codes(ps []rig.Problem) []string {
	var out []string
	for _, p := range ps {
		out = append(out, p.Code)
	}
	return out
}

func TestProblems_None(t *testing.T) {
	r := two()
	require.Empty(t, r.Problems())
	onDelta(r)
	require.Empty(t, r.Problems(), "as a delta")
}

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
		{"a delta with a line-to-neutral voltage", "supply", "line_neutral_v", "delta-neutral", func(r *rig.Rig) { onDelta(r); r.Supply.LineNeutral = 120 }},
		{"a delta with a board's neutral", "boards", "neutral_a", "delta-neutral", func(r *rig.Rig) { onDelta(r); r.Boards[0].Neutral = 60 }},
		{"a delta of no volts", "supply", "line_line_v", "figure-not-positive", func(r *rig.Rig) { onDelta(r); r.Supply.LineLine = 0 }},
		{"a delta with a one-pole circuit", "circuits", "poles", "needs-neutral", func(r *rig.Rig) { onDelta(r); r.Circuits[1].Poles = []int{2} }},
		{"capacity NaN", "supply", "kva", "figure-not-positive", func(r *rig.Rig) {
			r.Supply.Origin, r.Supply.Capacity = rig.Transformer, rig.Capacity{Power: units.VoltAmps(nan), Factor: 0.8}
		}},
		{"capacity without its factor", "supply", "capacity_factor", "factor-range", func(r *rig.Rig) {
			r.Supply.Origin, r.Supply.Capacity = rig.Transformer, rig.Capacity{Power: 15000}
		}},
		{"settling time below nothing", "supply", "settle", "figure-not-positive", func(r *rig.Rig) {
			r.Supply.Origin, r.Supply.Capacity = rig.Generator, rig.Capacity{Step: 5000, Settle: -time.Second}
		}},
		{"limit of drop NaN", "drop", "circuit", "drop-range", func(r *rig.Rig) { r.Drop.Circuit = units.Share(nan) }},
		{"cable without a size", "cables", "size", "cable-no-size", func(r *rig.Rig) { r.Cables[0].Size = 0 }},
		{"cable's rating NaN", "cables", "rating_a", "figure-not-positive", func(r *rig.Rig) { r.Cables[0].Rating = units.Amps(nan) }},
		{"cable's ambient factor NaN", "cables", "ambient_factor", "cable-factor", func(r *rig.Rig) { r.Cables[0].Ambient = units.Share(nan) }},
		{"cable's grouping factor missing", "cables", "grouping_factor", "cable-factor", func(r *rig.Rig) { r.Cables[0].Grouping = 0 }},
		{"conductor's temperature NaN", "cables", "conductor_c", "conductor-temperature", func(r *rig.Rig) { r.Cables[0].At = units.Celsius(nan) }},
		{"stranding that no table has", "cables", "stranding", "resistance-unknown", func(r *rig.Rig) { r.Cables[0].Stranding = 77 }},
		{"home run's length NaN", "circuits", "home_run.length_m", "figure-not-positive", func(r *rig.Rig) { r.Circuits[0].Home.Length = units.Metres(nan) }},
		{"jumpers' length below nothing", "circuits", "jumper.length_m", "figure-not-positive", func(r *rig.Rig) { r.Circuits[0].Link.Length = -1 }},
		{"feeder's length missing", "boards", "feeder.length_m", "figure-not-positive", func(r *rig.Rig) { r.Boards[0].Feeder.Length = 0 }},
		{"fewer than no cables in parallel", "boards", "feeder.sets", "figure-not-positive", func(r *rig.Rig) {
			r.Boards[0].Feeder.Sets, r.Boards[0].Main, r.Boards[0].Neutral, r.Boards[0].Carries = -1, 20, 20, 20
		}},
		{"feeder's rating NaN", "boards", "feeder_a", "figure-not-positive", func(r *rig.Rig) { r.Boards[0].Carries = units.Amps(nan) }},
		{"residual current below nothing", "circuits", "residual_ma", "figure-not-positive", func(r *rig.Rig) { r.Circuits[0].Residual = -0.03 }},
		{"residual current NaN", "boards", "residual_ma", "figure-not-positive", func(r *rig.Rig) { r.Boards[0].Residual = units.Amps(nan) }},
		{"board fed by itself", "boards", "fed_by", "board-ring", func(r *rig.Rig) { r.Boards[0].From = 1 }},
		{"two boards that feed each other", "boards", "fed_by", "board-ring", func(r *rig.Rig) { second(r, 2); r.Boards[1].From = 1 }},
		{"board before the one that feeds it", "boards", "fed_by", "board-order", func(r *rig.Rig) { second(r, 2) }},
		{"time above the limit as long as a continuous load's", "circuits", "above_continuous.for", "above-for", func(r *rig.Rig) { r.Circuits[0].Above.For = 3 * time.Hour }},
		{"no time above the limit", "circuits", "above_continuous.for", "above-for", func(r *rig.Rig) { r.Circuits[0].Above.For = 0 }},
		{"no rest", "circuits", "above_continuous.rest", "above-rest", func(r *rig.Rig) { r.Circuits[0].Above.Rest = 0 }},
		{"primary NaN", "panel_types", "red_w", "figure-not-positive", func(r *rig.Rig) { r.PanelTypes[0].Red = units.Watts(nan) }},
		{"two of three primaries", "panel_types", "", "primaries-part", func(r *rig.Rig) { r.PanelTypes[0].Green = 0 }},
		{"inrush NaN", "panel_types", "inrush_peak_a", "figure-not-positive", func(r *rig.Rig) { r.PanelTypes[0].Inrush.Peak = units.Amps(nan) }},
		{"inrush without its width", "panel_types", "inrush_peak_a", "figure-alone", func(r *rig.Rig) { r.PanelTypes[0].Inrush.Width = 0 }},
		{"inrush without its peak", "panel_types", "inrush_us", "figure-alone", func(r *rig.Rig) { r.PanelTypes[0].Inrush.Peak = 0 }},
		{"inrush that ends before it begins", "panel_types", "inrush_us", "figure-not-positive", func(r *rig.Rig) { r.PanelTypes[0].Inrush.Width = -1 }},
		{"leakage NaN", "panel_types", "leakage_ma", "figure-negative", func(r *rig.Rig) { r.PanelTypes[0].Leakage = units.Amps(nan) }},
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
		{"board's feeding board", func(r *rig.Rig) { r.Boards[0].From = 4 }},
		{"feeder's cable", func(r *rig.Rig) { r.Boards[0].Feeder.Cable = 1 }},
		{"home run's cable", func(r *rig.Rig) { r.Circuits[0].Home.Cable = -1 }},
		{"jumpers' cable", func(r *rig.Rig) { r.Circuits[0].Link.Cable = 2 }},
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
	require.Equal(t, []string{"reference-broken", "panel-misplaced", "cable-no-size", "board-order", "rate-missing"}, only)
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
