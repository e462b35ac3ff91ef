package site_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/picture"
	"lookgate/presets/rig"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

// edited reads a good site with one thing in its files changed, which must be there once.
func edited(t testing.TB, name, file, from, to string) (*site.Site, []site.Problem) {
	t.Helper()
	fs := files(t, testdata+"/sites/"+name)
	require.Equal(t, 1, strings.Count(string(fs[file]), from), "%q in %s", from, file)
	fs[file] = []byte(strings.Replace(string(fs[file]), from, to, 1))
	return site.Read(fs)
}

// must gives the site, and fails with what is wrong with it.
func must(t testing.TB, s *site.Site, problems []site.Problem) *site.Site {
	t.Helper()
	require.NotNil(t, s, "%v", problems)
	return s
}

// TestRead_TradeFacts holds the counts of the wall that the trade reckons with, and how they follow from one figure each. common practice, no source: a
// half-metre panel of 180 W; one 20 A circuit feeds 20 at 240 V, two columns of ten, and one column at 120 V; a data run a column; twelve columns a
// processor.
func TestRead_TradeFacts(t *testing.T) {
	for _, c := range []struct {
		name, file, from, to             string
		circuits, each, runs, processors int
	}{
		{"as it is: 20 x 0.8 x 240 x 0.95 / 180 = 20.3 panels", site.RigFile, "columns: 48,", "columns: 48,", 24, 20, 48, 4},
		{"one column more needs one more circuit, half full, and a processor", site.RigFile, "columns: 48,", "columns: 49,", 25, 20, 49, 5},
		{"half the voltage feeds half the panels: line to neutral", site.RigFile, "poles_each: 2", "poles_each: 1", 48, 10, 48, 4},
		{"half the voltage of the whole supply", site.RigFile, "line_neutral_v: 120, line_line_v: 240", "line_neutral_v: 60, line_line_v: 120", 48, 10, 48, 4},
		{"thirteen columns a processor: 48 / 13 rounds up to four", site.RigFile, "columns_each: 12", "columns_each: 13", 24, 20, 48, 4},
		{"sixteen columns a processor", site.RigFile, "columns_each: 12", "columns_each: 16", 24, 20, 48, 3},
		{"two columns a data run", site.RigFile, "- {wall: wall, columns_each: 1}", "- {wall: wall, columns_each: 2}", 24, 20, 24, 4},
		{"panels of half the watts", site.RigFile, "white_w: 180", "white_w: 90", 12, 40, 48, 4},
		{"a breaker of 30 A: 30.4 panels, three columns", site.RigFile, "breaker_a: 20, home_run_a: 20", "breaker_a: 30, home_run_a: 30", 16, 30, 48, 4},
		{"panels of 190 W: 19.2 a circuit, so one whole column", site.RigFile, "white_w: 180", "white_w: 190", 48, 10, 48, 4},
		{"the same counted by panels", site.RigFile, "columns_each: most", "panels_each: most", 24, 20, 48, 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			fs := files(t, testdata+"/sites/trade")
			// Where a column is fed alone, two poles each would need a board of 96: the counts are what is tested, so the board is large.
			rigText := strings.Replace(string(fs[site.RigFile]), "poles: 84", "poles: 120", 1)
			require.Equal(t, 1, strings.Count(rigText, c.from))
			fs[site.RigFile] = []byte(strings.Replace(rigText, c.from, c.to, 1))
			s, problems := site.Read(fs)
			s = must(t, s, problems)
			require.Len(t, s.Rig.Circuits, c.circuits)
			require.Len(t, s.Rig.Circuits[0].Panels, c.each)
			require.Len(t, s.Rig.DataRuns, c.runs)
			require.Len(t, s.Rig.Processors, c.processors)
			require.Len(t, s.Rig.Devices, c.processors)
		})
	}
}

// TestRead_UpOneColumnAndDownTheNext holds the feeding order of the trade's circuit.
func TestRead_UpOneColumnAndDownTheNext(t *testing.T) {
	s, problems := read(t, "trade")
	r := must(t, s, problems).Rig
	var places []string
	for _, p := range r.Circuits[1].Panels {
		places = append(places, r.PanelName(p))
	}
	require.Equal(t, "R2", r.Circuits[1].Name)
	require.Equal(t, "wall C3R1", places[0])
	require.Equal(t, "wall C3R10", places[9])
	require.Equal(t, "wall C4R10", places[10])
	require.Equal(t, "wall C4R1", places[19])
}

// TestRead_PolesGoByRow holds where generated breakers stand. Legs go by row of a North American board, so a two-pole breaker takes two rows of one column.
func TestRead_PolesGoByRow(t *testing.T) {
	s, problems := read(t, "demo")
	r := must(t, s, problems).Rig
	var poles [][]int
	var legs [][]int
	for _, c := range r.Circuits[:6] {
		poles, legs = append(poles, c.Poles), append(legs, r.Legs(c))
	}
	require.Equal(t, [][]int{{1, 3}, {2, 4}, {5, 7}, {6, 8}, {9, 11}, {10, 12}}, poles)
	require.Equal(t, [][]int{{0, 1}, {0, 1}, {2, 0}, {2, 0}, {1, 2}, {1, 2}}, legs)
	for _, c := range []struct {
		name, from, to, file string
		want                 [][]int
	}{
		{"from the right column", "board: DC, panels_each: 18, start: bottom-left, path: up-down,\n     first_pole: 1", "board: DC, panels_each: 18,\n     first_pole: 2", site.RigFile, [][]int{{2, 4}, {5, 7}, {6, 8}, {9, 11}, {10, 12}, {13, 15}}},
		{"further down", "board: DC, panels_each: 18, start: bottom-left, path: up-down,\n     first_pole: 1", "board: DC, panels_each: 18,\n     first_pole: 7", site.RigFile, [][]int{{7, 9}, {8, 10}, {11, 13}, {12, 14}, {15, 17}, {16, 18}}},
		{"one pole each", "board: DC, panels_each: 18, start: bottom-left, path: up-down,\n     first_pole: 1, poles_each: 2", "board: DC, panels_each: 18,\n     first_pole: 1", site.RigFile, [][]int{{1}, {2}, {3}, {4}, {5}, {6}}},
		{"by ways", "{name: DC, numbering: odd-even", "{name: DC, numbering: ways", site.RigFile, [][]int{{1, 2}, {3, 4}, {5, 6}, {7, 8}, {9, 10}, {11, 12}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, problems := edited(t, "demo", c.file, c.from, c.to)
			r := must(t, s, problems).Rig
			for i, want := range c.want {
				require.Equal(t, want, r.Circuits[25+i].Poles)
			}
		})
	}
}

// TestRead_Paths holds every way to walk a small block from every corner.
func TestRead_Paths(t *testing.T) {
	for _, c := range []struct{ rule, want string }{
		{"start: bottom-left, path: up-down", "C1R1 C1R2 C1R3 C2R3 C2R2 C2R1"},
		{"start: top-left, path: up-down", "C1R3 C1R2 C1R1 C2R1 C2R2 C2R3"},
		{"start: bottom-right, path: up-down", "C2R1 C2R2 C2R3 C1R3 C1R2 C1R1"},
		{"start: top-right, path: up-down", "C2R3 C2R2 C2R1 C1R1 C1R2 C1R3"},
		{"start: bottom-left, path: left-right", "C1R1 C2R1 C2R2 C1R2 C1R3 C2R3"},
		{"start: top-right, path: left-right", "C2R3 C1R3 C1R2 C2R2 C2R1 C1R1"},
		{"start: top-left, path: columns", "C1R3 C1R2 C1R1 C2R3 C2R2 C2R1"},
		{"start: bottom-right, path: rows", "C2R1 C1R1 C2R2 C1R2 C2R3 C1R3"},
	} {
		t.Run(c.rule, func(t *testing.T) {
			fs := files(t, testdata+"/sites/small")
			text := string(fs[site.RigFile])
			k1 := text[strings.Index(text, "  - {name: K1"):strings.Index(text, "  - {name: K2")]
			rule := fmt.Sprintf("  - {prefix: K, wall: back, columns: 1-2, panels_each: 6, %s, board: P, first_pole: 1, poles_each: 2,\n     breaker_a: 20, home_run_a: 20, jumper_a: 20}\n", c.rule)
			fs[site.RigFile] = []byte(strings.Replace(text, k1, rule, 1))
			s, problems := site.Read(fs)
			s = must(t, s, problems)
			var got []string
			for _, p := range s.Rig.Circuits[0].Panels {
				got = append(got, strings.TrimPrefix(s.Rig.PanelName(p), "back "))
			}
			require.Equal(t, c.want, strings.Join(got, " "))
		})
	}
}

// TestRead_Exceptions holds what an exception changes, and that it changes nothing else.
func TestRead_Exceptions(t *testing.T) {
	s, problems := edited(t, "iec", site.RigFile, "- {circuit: S4, breaker_a: 10, home_run_a: 10}",
		"- {circuit: S2, breaker_a: 20, poles: [12], larger_breaker: {reason: rated cable on order, by: A. Reader}}\n      - {circuit: S3, factor: 90%, jumper_a: 13}")
	r := must(t, s, problems).Rig
	circuit := func(name string) rig.Circuit {
		for _, c := range r.Circuits {
			if c.Name == name {
				return c
			}
		}
		t.Fatal(name)
		return rig.Circuit{}
	}
	require.Equal(t, units.Amps(20), circuit("S2").Breaker)
	require.Equal(t, []int{12}, circuit("S2").Poles)
	require.Equal(t, &rig.Decision{Reason: "rated cable on order", By: "A. Reader"}, circuit("S2").Exception)
	require.Equal(t, []int{3}, circuit("S3").Poles, "the circuits after an exception keep their poles")
	require.Equal(t, units.Share(0.9), circuit("S3").Factor)
	require.Equal(t, units.Amps(13), circuit("S3").Jumper)
	require.Equal(t, units.Amps(16), circuit("S1").Jumper)
	require.Len(t, circuit("S4").Panels, 14, "sixteen places less two gaps")
}

// TestRead_RigIsShort holds that a regular plant of several hundred panels needs few lines.
func TestRead_RigIsShort(t *testing.T) {
	for _, name := range []string{"demo", "iec", "trade"} {
		lines := strings.Count(string(files(t, testdata+"/sites/"+name)[site.RigFile]), "\n")
		s, problems := read(t, name)
		require.Greater(t, len(must(t, s, problems).Rig.Panels), 250)
		require.Less(t, lines, 80, name)
	}
}

// TestRead_Book holds how levels, windows and times of the demo's presets are read.
func TestRead_Book(t *testing.T) {
	s, problems := read(t, "demo")
	b := must(t, s, problems).Book
	require.Equal(t, 90, b.Worklight)
	dawn := b.ByNumber(1)
	require.Equal(t, []presets.ZoneLevel{{Zone: 0, Level: 0.45, Cap: 0.45}, {Zone: 1, Level: 0.3, Cap: 0.3}, {Zone: 2, Level: 0.25, Cap: 0.4}}, dawn.Zones)
	require.Equal(t, 4*time.Second, dawn.FadeUp)
	require.Equal(t, picture.Window{Source: 0, Wall: 0, Width: 6720, Height: 1512}, dawn.Windows[0])
	require.Equal(t, presets.ZoneLevel{Zone: 2, Level: 1, Auto: true, Cap: 1}, b.ByNumber(2).Zones[2])
	require.Equal(t, presets.ZoneLevel{Zone: 1, Level: 0.8, Auto: true, Cap: 0.8}, b.ByNumber(7).Zones[1])
	card := b.ByName("Title card")
	require.True(t, card.NoDip)
	require.Equal(t, picture.Window{Source: 3, Wall: 0, X: 2016, Width: 2688, Height: 1512}, card.Windows[0])
}

// TestRead_DemoIsWorthShowing holds what the demo is there for: one preset that its boards refuse, one automatic zone that a leg stops, and no conductor
// that restarting devices alone would carry over its limit.
func TestRead_DemoIsWorthShowing(t *testing.T) {
	s, problems := read(t, "demo")
	s = must(t, s, problems)
	plan := presets.NewPlan(s.Rig, s.Book)
	require.NotContains(t, plan.Void, true)
	var refused []string
	for i := range s.Book.Presets {
		p := &s.Book.Presets[i]
		v := presets.Check(plan, p, presets.Conditions{})
		if !v.Admitted {
			refused = append(refused, p.Name)
		}
		if p.Number == 2 {
			binding := plan.Power.Conductors()[v.Binding]
			require.Equal(t, rig.BoardLeg, binding.Kind)
			require.Equal(t, "DC L1", binding.Name)
			require.Less(t, v.Levels[3], units.Level(0.9), "the lid cannot have all that it wants")
			require.Greater(t, v.Levels[3], units.Level(0.3))
		}
	}
	require.Equal(t, []string{"White out"}, refused)
	classes := map[rig.Class]bool{}
	for _, d := range s.Rig.Devices {
		classes[d.Class] = true
	}
	require.Len(t, classes, 3, "one device of each class")
}

// TestRead_Wires holds what is read of devices and stations, and that a rule's addresses count up.
func TestRead_Wires(t *testing.T) {
	s, problems := read(t, "iec")
	s = must(t, s, problems)
	require.Equal(t, []site.Wire{
		{Protocol: "osc", Address: "127.0.0.1:9120", ReplyPort: 9220},
		{Protocol: "osc", Address: "127.0.0.1:9121", ReplyPort: 9221},
		{Protocol: "osc", Address: "127.0.0.1:9130", ReplyPort: 9230},
	}, s.Devices)
	require.Equal(t, "X2", s.Rig.Devices[1].Name)
	require.Equal(t, rig.Reporting, s.Rig.Devices[2].Class)
	require.Equal(t, 400*time.Millisecond, s.Rig.Devices[2].PacketLife)
	require.Equal(t, site.Listen{OSC: "127.0.0.1:9020", HTTP: "127.0.0.1:8100", Hosts: []string{"gallery.dykehouse.example"}}, s.Listen)
	require.Equal(t, []site.Station{{Name: "gallery", Engineer: true}, {Name: "floor"}}, s.Stations)
	require.Equal(t, []string{"main-X1", "main-X2", "side-Y1"}, []string{s.Rig.Outputs[0].Name, s.Rig.Outputs[1].Name, s.Rig.Outputs[2].Name})
	require.Equal(t, "X2-6", s.Rig.DataRuns[11].Name)
}

// TestProblem_String holds the form that people and editors read.
func TestProblem_String(t *testing.T) {
	_, problems := edited(t, "demo", site.RigFile, "C, wall: lid, board: DC, panels_each: 18, start: bottom-left, path: up-down,\n     first_pole: 1, poles_each: 2, breaker_a: 20",
		"C, wall: lid, board: DC, panels_each: 18, start: bottom-left, path: up-down,\n     first_pole: 1, poles_each: 2, breaker_a: 0")
	require.Equal(t, "rig.yaml:39:47: circuits[3].breaker_a: breaker_a of circuit C1 is 0.0 A, and must be above zero (and 5 more of this kind here)\n"+
		"    give the true figure; a missing limit never counts as unlimited", problems[0].String())
	require.Len(t, problems, 1)
}
