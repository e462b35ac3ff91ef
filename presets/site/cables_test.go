package site_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/cable"
	"lookgate/presets/rig"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

// altered reads a good site with texts of its files changed, by file, old and new; each must be there.
func altered(t *testing.T, name string, texts ...string) (*site.Site, []site.Problem) {
	t.Helper()
	fs := files(t, testdata+"/sites/"+name)
	for i := 0; i < len(texts); i += 3 {
		require.Contains(t, string(fs[texts[i]]), texts[i+1])
		fs[texts[i]] = []byte(strings.ReplaceAll(string(fs[texts[i]]), texts[i+1], texts[i+2]))
	}
	return site.Read(fs)
}

// TestRead_Cables holds what a cable carries as it is laid: by the tables' factors (NEC 310.15(B)(1) for 40 °C around 75 °C insulation, 310.15(C)(1) for four
// conductors together), or by those that stand in the file.
func TestRead_Cables(t *testing.T) {
	s, problems := altered(t, "small", site.RigFile, "rating_a: 25, ambient_c: 30, insulation_c: 75, together: 3}",
		"rating_a: 30, ambient_c: 40, insulation_c: 75, together: 4}", site.RigFile, "home_run_a: 20, ", "")
	r := must(t, s, problems).Rig
	k := r.Cables[0]
	require.Equal(t, "12 AWG", k.Size.String())
	require.Equal(t, cable.Stranded, k.Stranding)
	require.Equal(t, units.Celsius(60), k.At)
	require.InDelta(t, 30*0.88*0.80, float64(k.Carries()), 1e-9)
	require.Equal(t, k.Carries(), r.Circuits[0].HomeRun, "left out, so it is what the cable carries")
	require.Equal(t, units.Amps(20), r.Circuits[0].Jumper, "given: a connector may be less than the cable")
	require.Equal(t, &rig.Run{Cable: 0, Length: 14}, r.Circuits[0].Home)
	require.Equal(t, &rig.Run{Cable: 0, Length: 1}, r.Circuits[0].Link)
	require.Equal(t, units.Amps(0.03), r.Circuits[0].Residual)
	require.Equal(t, &rig.Run{Cable: 1, Length: 12, Sets: 1}, r.Boards[0].Feeder)
	require.Equal(t, units.Amps(65), r.Boards[0].Carries)

	s, problems = altered(t, "small", site.RigFile, "ambient_c: 30, insulation_c: 75, together: 3}", "ambient_factor: 110%, grouping_factor: 0.9}",
		site.RigFile, "{cable: se6, length_m: 12}", "{cable: se6, length_m: 12, sets: 2}, residual_ma: 300")
	r = must(t, s, problems).Rig
	require.InDelta(t, 25*1.1*0.9, float64(r.Cables[0].Carries()), 1e-9)
	require.InDelta(t, 2*65*1.1*0.9, float64(r.Boards[0].Carries), 1e-9, "two sets carry twice as much")
	require.Equal(t, units.Amps(0.3), r.Boards[0].Residual)
}

// TestRead_RatingsOfRulesAndExceptions holds that a rule's rating may be left out, and that an exception's cable brings its own, but never more than a rating that
// the rule gives by itself.
func TestRead_RatingsOfRulesAndExceptions(t *testing.T) {
	const old, thin = "- {circuit: S4, breaker_a: 10, home_run_a: 10}", "- {circuit: S2, home_run: {cable: h4, length_m: 33}}\n      - {circuit: S3, home_run: {cable: n10, length_m: 9}}\n" +
		"      - {circuit: S1, home_run_a: 16.5, curve: B, residual_ma: 100, above_continuous: {for: 1 h, rest: 90 min, reason: short takes, by: B. Weir}}"
	circuit := func(r *rig.Rig, name string) rig.Circuit {
		for _, c := range r.Circuits {
			if c.Name == name {
				return c
			}
		}
		t.Fatal(name)
		return rig.Circuit{}
	}
	s, problems := altered(t, "iec", site.RigFile, old, thin)
	r := must(t, s, problems).Rig
	require.Equal(t, units.Amps(16), circuit(r, "S2").HomeRun)
	require.Equal(t, units.Metres(33), circuit(r, "S2").Home.Length)
	require.Equal(t, units.Amps(16), circuit(r, "S3").HomeRun, "the rule's 16 A stay, though the cable carries more")
	require.Equal(t, 1, circuit(r, "S3").Home.Cable)
	require.Equal(t, units.Amps(16.5), circuit(r, "S1").HomeRun)
	require.Equal(t, rig.CurveB, circuit(r, "S1").Curve)
	require.Equal(t, rig.CurveC, circuit(r, "S2").Curve)
	require.Equal(t, units.Amps(0.1), circuit(r, "S1").Residual)
	require.Equal(t, &rig.AboveContinuous{For: time.Hour, Rest: 90 * time.Minute, Decision: rig.Decision{Reason: "short takes", By: "B. Weir"}}, circuit(r, "S1").Above)

	s, problems = altered(t, "iec", site.RigFile, old, thin, site.RigFile, "    home_run_a: 16\n", "")
	r = must(t, s, problems).Rig
	require.InDelta(t, 32*0.8, float64(circuit(r, "S4").HomeRun), 1e-9)
	require.InDelta(t, 57*0.8, float64(circuit(r, "S3").HomeRun), 1e-9)
	require.Equal(t, units.Metres(9), circuit(r, "S3").Home.Length)
	require.Equal(t, units.Metres(15), circuit(r, "S4").Home.Length)
}

// TestRead_BoardsInAnyOrder holds that boards stand behind those that feed them in the rig, whatever the file's order, and that problems keep their places.
func TestRead_BoardsInAnyOrder(t *testing.T) {
	const board = "- {name: P, numbering: odd-even, poles: 12, main_a: 60, neutral_a: 60, feeder: {cable: se6, length_m: 12}}"
	boards := func(middle string) string {
		return "- {name: X, numbering: odd-even, poles: 12, main_a: 60, neutral_a: 60}\n  - {name: P, numbering: odd-even, poles: 12, main_a: 60, neutral_a: 60, fed_by: M}\n" +
			"  - {name: Y, numbering: odd-even, poles: 12, main_a: 60, neutral_a: 60}\n  - {name: M, numbering: odd-even, poles: 12, main_a: " + middle +
			", neutral_a: 90, fed_by: T, feeder: {cable: se6, length_m: 12, sets: 2}}\n  - {name: T, numbering: odd-even, poles: 12, main_a: 100, neutral_a: 100}"
	}
	s, problems := altered(t, "small", site.RigFile, board, boards("90"))
	r := must(t, s, problems).Rig
	var order []string
	for _, b := range r.Boards {
		order = append(order, b.Name)
	}
	require.Equal(t, []string{"X", "T", "M", "P", "Y"}, order)
	from, fed := r.Fed(3)
	require.True(t, fed)
	require.Equal(t, "M", r.Boards[from].Name)
	from, _ = r.Fed(from)
	require.Equal(t, "T", r.Boards[from].Name)
	_, fed = r.Fed(1)
	require.False(t, fed)
	require.Equal(t, "P", r.Boards[r.Circuits[0].Board].Name)

	_, problems = altered(t, "small", site.RigFile, board, boards("0"))
	require.Len(t, problems, 1)
	require.Equal(t, "boards[3].main_a", problems[0].Path, "counted as in the file")
	require.Equal(t, 12, problems[0].Line)
}

// TestRead_Delta holds that a delta needs neither line_neutral_v nor neutral_a.
func TestRead_Delta(t *testing.T) {
	s, problems := altered(t, "small", site.RigFile, "system: split-phase, line_neutral_v: 118, line_line_v: 236, main_a: 60, neutral_a: 60}",
		"system: delta, line_line_v: 236, main_a: 60, from: generator, kva: 30, capacity_factor: 90%, kw: 24, step_kw: 10, settle: 10 s}",
		site.RigFile, "main_a: 60, neutral_a: 60, feeder", "main_a: 60, feeder", site.RigFile, "legs: L2", "legs: [L2, L3]")
	r := must(t, s, problems).Rig
	require.Equal(t, rig.Supply{Name: "service", System: rig.Delta, LineLine: 236, Main: 60, Factor: 0.8, Origin: rig.Generator,
		Capacity: rig.Capacity{Power: 30000, Factor: 0.9, Real: 24000, Step: 10000, Settle: 10 * time.Second}}, r.Supply)
	require.Zero(t, r.Boards[0].Neutral)
	require.Equal(t, []int{0, 1}, r.Legs(r.Circuits[0]))
	plan := presets.NewPlan(r, s.Book)
	for i := range s.Book.Presets {
		require.True(t, presets.Check(plan, &s.Book.Presets[i], presets.Conditions{}).Admitted)
	}
}

// TestRead_PanelFigures holds what may be left out of a panel type.
func TestRead_PanelFigures(t *testing.T) {
	s, problems := read(t, "demo")
	p := must(t, s, problems).Rig.PanelTypes[0]
	require.Equal(t, [3]units.Watts{42, 50, 44}, [3]units.Watts{p.Red, p.Green, p.Blue})
	require.Equal(t, rig.Inrush{Peak: 6, Width: 300 * time.Microsecond}, p.Inrush)
	require.Equal(t, []rig.PerBreaker{{Breaker: 20, Panels: 20}}, p.PerBreaker)
	require.InDelta(t, 0.0009, float64(p.Leakage), 1e-12)
	s, problems = read(t, "iec")
	require.Equal(t, rig.PerBreaker{Curve: rig.CurveC, Breaker: 10, Panels: 15}, must(t, s, problems).Rig.PanelTypes[0].PerBreaker[1])
}

// TestRead_Content holds how a picture's mean is read, where the rig lets it count.
func TestRead_Content(t *testing.T) {
	s, problems := altered(t, "small", site.RigFile, "hold: 5 s\n", "hold: 5 s\ndrop: {total: 4%}\ncontent_credit: {reason: measured on the wall, by: B. Weir}\n",
		site.PresetsFile, "{left: 25%, right: 25%}", "{left: {level: 25%, content: 40%}, right: {auto: up to 80%, content: {red: 30%, green: 0.2, blue: 60%}}}")
	s = must(t, s, problems)
	require.Equal(t, &rig.Decision{Reason: "measured on the wall", By: "B. Weir"}, s.Rig.Credit)
	require.Equal(t, rig.DropLimits{Total: 0.04}, s.Rig.Drop)
	zones := s.Book.ByNumber(9).Zones
	require.Equal(t, &presets.Content{Red: 0.4, Green: 0.4, Blue: 0.4}, zones[0].Content)
	require.Equal(t, &presets.Content{Red: 0.3, Green: 0.2, Blue: 0.6}, zones[1].Content)
	require.True(t, zones[1].Auto)
	require.Nil(t, s.Book.ByNumber(1).Zones[0].Content)
}
