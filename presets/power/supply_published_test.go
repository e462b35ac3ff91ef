package power_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// excluded holds a row's answer against the mistake that the row is there to tell apart.
func excluded(t *testing.T, row map[string]string, mistakes map[string]float64, want, tol float64) {
	t.Helper()
	wrong, known := mistakes[row["excludes"]]
	require.True(t, known, "%s excludes %q, which no mistake of the test commits", row["id"], row["excludes"])
	require.Greater(t, math.Abs(wrong-want), tol, "%s does not tell apart: %s", row["id"], row["excludes"])
}

func TestPublishedVoltAmperes(t *testing.T) {
	for _, row := range table(t, "power-kva.csv") {
		p := puzzle{row: row, supply: rig.Supply{
			Name: "S", System: rig.Wye, Main: 1000, Neutral: 1000, Factor: 1,
			LineNeutral: units.Volts(number(t, row["line_neutral_v"])), LineLine: units.Volts(number(t, row["line_line_v"])),
		}}
		require.Equal(t, "wye", row["system"])
		added := 0.0
		for _, s := range strings.Split(row["loads"], ";") {
			e := parseEntry(t, s)
			p.loads = append(p.loads, e)
			added += e.amps * float64(len(e.legs))
		}
		d := power.New(p.rig()).Demand(power.State{Levels: []units.Level{1}})
		want, tol := number(t, row["expected_va"]), number(t, row["tolerance_va"])
		require.InDelta(t, want, float64(d.Apparent), tol, row["id"])
		require.InDelta(t, number(t, row["expected_w"]), float64(d.Real), number(t, row["tolerance_w"]), row["id"])
		excluded(t, row, map[string]float64{
			"no root of three":                 added * float64(p.supply.LineLine),
			"line-to-line volts on every load": added * float64(p.supply.LineLine),
			"line currents added up as amps":   added * float64(p.supply.LineNeutral),
		}, want, tol)
	}
}

func TestPublishedLostNeutrals(t *testing.T) {
	for _, row := range table(t, "lost-neutral.csv") {
		system := map[string]rig.System{"split-phase": rig.SplitPhase, "wye": rig.Wye}[row["system"]]
		var source []units.Volts
		var line, load []units.Ohms
		for _, v := range strings.Fields(row["source_v"]) {
			source = append(source, units.Volts(number(t, v)))
		}
		for _, r := range strings.Fields(row["line_ohm"]) {
			line = append(line, units.Ohms(number(t, r)))
		}
		for _, l := range strings.Split(row["loads"], ";") {
			load = append(load, resistance(t, l))
		}
		leg := int(number(t, row["leg"][1:])) - 1
		across := power.LostNeutral(system, source, line, load)
		want, tol := number(t, row["expected_v"]), number(t, row["tolerance_v"])
		require.InDelta(t, want, float64(across[leg]), tol, row["id"])
		other := 1 - leg
		all, watts := float64(source[0]+source[1]), []float64{1 / float64(load[0]), 1 / float64(load[1])}
		excluded(t, row, map[string]float64{
			"shared by watts":         lineToLine(system, source) * watts[leg] / (watts[0] + watts[1]),
			"the neutral still there": float64(source[leg]),
			"the lines left out":      all * float64(load[leg]) / float64(load[leg]+load[other]),
			"legs half a turn apart":  all * float64(load[leg]) / float64(load[leg]+load[other]),
		}, want, tol)
	}
}

func lineToLine(s rig.System, source []units.Volts) float64 {
	if s == rig.Wye {
		return float64(source[0]) * math.Sqrt(3)
	}
	return float64(source[0] + source[1])
}

// resistance reads "4" in ohms, "100W@230" and "none".
func resistance(t *testing.T, s string) units.Ohms {
	if s == "none" {
		return power.NoLoad
	}
	watts, volts, rated := strings.Cut(s, "W@")
	if !rated {
		return units.Ohms(number(t, s))
	}
	v := number(t, volts)
	return units.Ohms(v * v / number(t, watts))
}

func TestPublishedBands(t *testing.T) {
	for _, row := range table(t, "breaker-bands.csv") {
		low, high := power.Instantaneous(curves[row["curve"]], units.Amps(number(t, row["breaker_a"])))
		want := number(t, row["low_a"])
		require.InDelta(t, want, float64(low), 1e-9, row["id"])
		require.InDelta(t, number(t, row["high_a"]), float64(high), 1e-9, row["id"])
		excluded(t, row, map[string]float64{"multipliers for planning: 4, 8 and 15": planned(row["curve"]) * number(t, row["breaker_a"])}, want, 1e-9)
	}
}

var curves = map[string]rig.Curve{"B": rig.CurveB, "C": rig.CurveC, "D": rig.CurveD}

// planned gives the multipliers of elecas.com.au/calculator/led-inrush, which are no ends of a band.
func planned(curve string) float64 { return map[string]float64{"B": 4, "C": 8, "D": 15}[curve] }

func TestPublishedInrush(t *testing.T) {
	rows := table(t, "inrush.csv")
	for _, row := range rows {
		want, tol, breaker := number(t, row["expected"]), number(t, row["tolerance"]), number(t, row["breaker_a"])
		switch row["kind"] {
		case "current":
			watts := number(t, row["panel_w"])
			require.Equal(t, want, mostByCurrent(breaker, watts), row["id"])
			excluded(t, row, map[string]float64{"the efficiency left out": mostByCurrent(breaker, watts*0.87)}, want, tol)
		case "relative":
			got := 100 * mostByPeak(breaker, curves[row["curve"]]) / mostByPeak(16, rig.CurveC)
			require.InDelta(t, want, got, tol, row["id"])
			excluded(t, row, map[string]float64{
				"multipliers for planning: 4, 8 and 15": 100 * planned(row["curve"]) * breaker / (8 * 16),
				"the rating left out":                   100,
			}, want, tol)
		case "row":
			require.Equal(t, want, mostByRow(t, rows, row), row["id"])
			excluded(t, row, map[string]float64{
				"the curve left out":          map[string]float64{"B": 30, "C": 15}[row["curve"]],
				"in proportion to the rating": math.Floor(map[string]float64{"10": 15, "16": 15 * 1.6}[row["breaker_a"]] * 10 / number(t, row["panel_w"])),
			}, want, tol)
		default:
			require.Fail(t, "no such kind", row["kind"])
		}
	}
}

// mostByCurrent gives how many panels a breaker carries at full white.
func mostByCurrent(breaker, watts float64) float64 {
	for n := 1; ; n++ {
		m := power.New(chained(n, rig.PanelType{White: units.Watts(watts), PF: 1, DisplacementKnown: true, FeedThrough: 100}, units.Amps(breaker), rig.CurveC))
		if len(m.Over(power.State{Levels: []units.Level{1}})) > 0 {
			return float64(n - 1)
		}
	}
}

// mostByPeak gives how many panels of 100 mA peak a breaker holds when it is closed on them.
func mostByPeak(breaker float64, c rig.Curve) float64 {
	m := power.New(chained(1200, rig.PanelType{PF: 1, Inrush: rig.Inrush{Peak: 0.1}}, units.Amps(breaker), c))
	return float64(m.SwitchOns()[0].Most)
}

// mostByRow gives how many panels a breaker holds by the maker's figures, which are all rows of the table for such a panel.
func mostByRow(t *testing.T, rows []map[string]string, row map[string]string) float64 {
	kind := rig.PanelType{PF: 1}
	for _, r := range rows {
		if r["kind"] == "row" && r["panel_w"] == row["panel_w"] {
			kind.PerBreaker = append(kind.PerBreaker, rig.PerBreaker{
				Curve: curves[r["curve"]], Breaker: units.Amps(number(t, r["breaker_a"])), Panels: int(number(t, r["expected"])),
			})
		}
	}
	slices.Reverse(kind.PerBreaker)
	s := power.New(chained(60, kind, units.Amps(number(t, row["breaker_a"])), curves[row["curve"]])).SwitchOns()[0]
	require.Equal(t, power.MakersRow, s.Basis)
	require.InDelta(t, 60/number(t, row["expected"]), float64(s.Used), 1e-9)
	return float64(s.Most)
}

// chained gives a rig with one circuit of n panels at 230 V.
func chained(n int, kind rig.PanelType, breaker units.Amps, c rig.Curve) *rig.Rig {
	r := &rig.Rig{
		Supply:     rig.Supply{Name: "S", System: rig.SinglePhase, LineNeutral: 230, Main: 1e6, Neutral: 1e6, Factor: 1},
		Boards:     []rig.Board{{Name: "A", Poles: 12, Main: 1e6, Neutral: 1e6, Factor: 1}},
		PanelTypes: []rig.PanelType{kind}, Devices: []rig.Device{{Steps: 100}}, Outputs: []rig.Output{{}},
	}
	for i := range n {
		r.Panels = append(r.Panels, rig.Panel{Column: i + 1, Row: 1})
		r.Outputs[0].Panels = append(r.Outputs[0].Panels, i)
	}
	rigtest.AddCircuit(r, 0, []int{0}, breaker, r.Outputs[0].Panels)
	r.Circuits[0].Factor, r.Circuits[0].Curve, r.Circuits[0].HomeRun, r.Circuits[0].Jumper = 1, c, 1e6, 1e6
	return r
}

func TestPublishedUnevenness(t *testing.T) {
	for _, row := range table(t, "balance.csv") {
		var legs []units.Amps
		for _, a := range strings.Fields(row["legs"]) {
			legs = append(legs, units.Amps(number(t, a)))
		}
		want, tol := number(t, row["expected_percent"]), number(t, row["tolerance_percent"])
		require.InDelta(t, want, 100*float64(power.Unevenness(legs)), tol, row["id"])
		mean := float64(legs[0]+legs[1]+legs[2]) / 3
		excluded(t, row, map[string]float64{
			"the spread over the mean": 100 * float64(slices.Max(legs)-slices.Min(legs)) / mean,
			"the highest alone":        100 * (float64(slices.Max(legs)) - mean) / mean,
		}, want, tol)
	}
}

func TestPublishedLeakage(t *testing.T) {
	for _, row := range table(t, "leakage.csv") {
		r := chained(4, rig.PanelType{PF: 1, Leakage: 0.001}, 16, rig.CurveC)
		r.Circuits[0].Residual = units.Amps(number(t, row["residual_ma"]) / 1000)
		l := power.New(r).Leakage()
		require.Len(t, l, 1)
		want, tol := number(t, row["expected_ma"]), number(t, row["tolerance_ma"])
		require.InDelta(t, want, 1000*float64(l[0].Limit), tol, row["id"])
		require.InDelta(t, 4, 1000*float64(l[0].Sum), 1e-9)
		excluded(t, row, map[string]float64{"half of the rating": number(t, row["residual_ma"]) / 2}, want, tol)
	}
}
