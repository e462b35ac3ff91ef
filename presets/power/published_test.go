package power_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// table reads a table of published checks, each row by its column names.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/published/" + name)
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	seen := map[string]bool{}
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, column := range lines[0] {
			row[column] = line[i]
		}
		require.NotEmpty(t, row["source"], row["id"])
		require.False(t, seen[row["id"]], "%s stands there twice", row["id"])
		seen[row["id"]] = true
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// puzzle is one row of the tables of legs, neutrals and third harmonics.
type puzzle struct {
	row       map[string]string
	supply    rig.Supply
	loads     []entry
	conductor string // "L1", "N"
	want, tol float64
}

// entry is one load of a row: "L1L2 33A lag 30 pf 0.866 third 0.3". Amps stand for another load, watts for a circuit with one panel.
type entry struct {
	legs             []int
	amps, watts      float64
	lag, pf, thirdIs float64
}

func puzzles(t *testing.T, name string) []puzzle {
	systems := map[string]rig.System{"single-phase": rig.SinglePhase, "split-phase": rig.SplitPhase, "wye": rig.Wye}
	var ps []puzzle
	for _, row := range table(t, name) {
		p := puzzle{row: row, conductor: row["conductor"], want: number(t, row["expected_a"]), tol: number(t, row["tolerance_a"])}
		p.supply = rig.Supply{
			Name: "S", System: systems[row["system"]], Main: 1000, Neutral: 1000, Factor: 1,
			LineNeutral: units.Volts(number(t, row["line_neutral_v"])), LineLine: units.Volts(number(t, row["line_line_v"])),
		}
		require.NotZero(t, p.supply.System, row["id"])
		for _, s := range strings.Split(row["loads"], ";") {
			p.loads = append(p.loads, parseEntry(t, s))
		}
		ps = append(ps, p)
	}
	return ps
}

func parseEntry(t *testing.T, s string) entry {
	words := strings.Fields(s)
	e := entry{pf: 1}
	for _, leg := range strings.Split(words[0], "L")[1:] {
		e.legs = append(e.legs, int(number(t, leg))-1)
	}
	if a, ok := strings.CutSuffix(words[1], "A"); ok {
		e.amps = number(t, a)
	} else {
		e.watts = number(t, strings.TrimSuffix(words[1], "W"))
	}
	into := map[string]*float64{"lag": &e.lag, "pf": &e.pf, "third": &e.thirdIs}
	for i := 2; i < len(words); i += 2 {
		*into[words[i]] = number(t, words[i+1])
	}
	return e
}

// rig builds the plant of a row.
func (p puzzle) rig() *rig.Rig {
	r := &rig.Rig{Supply: p.supply, Boards: []rig.Board{{Name: "A", Poles: 42, Main: 1000, Neutral: 1000, Factor: 1}}, Devices: []rig.Device{{Steps: 100}}}
	out := rig.Output{}
	for _, e := range p.loads {
		if e.amps > 0 {
			r.Loads = append(r.Loads, rig.OtherLoad{
				Legs: e.legs, Current: units.Amps(e.amps), PF: units.Share(e.pf), Displacement: units.Degrees(e.lag), DisplacementKnown: true, Third: units.Share(e.thirdIs),
			})
			continue
		}
		panel := len(r.Panels)
		r.PanelTypes = append(r.PanelTypes, rig.PanelType{
			White: units.Watts(e.watts), PF: units.Share(e.pf), Displacement: units.Degrees(e.lag), DisplacementKnown: true, Third: units.Share(e.thirdIs), FeedThrough: 1000,
		})
		r.Panels = append(r.Panels, rig.Panel{Type: panel})
		out.Panels = append(out.Panels, panel)
		rigtest.AddCircuit(r, 0, e.legs, 1000, []int{panel})
	}
	r.Outputs = []rig.Output{out}
	return r
}

// computed gives what the model says of the row's conductor, which the board and the supply must agree on.
func (p puzzle) computed(t *testing.T) float64 {
	m := power.New(p.rig())
	amps := m.At(power.State{Levels: []units.Level{1}}, nil)
	if p.row["state"] == "worst" {
		amps = m.Worst(power.State{Levels: []units.Level{1}}, nil)
	}
	var found []units.Amps
	for i, c := range m.Conductors() {
		if c.Circuit < 0 && strings.HasSuffix(c.Name, " "+p.conductor) {
			found = append(found, amps[i])
		}
	}
	require.Len(t, found, 2)
	require.InDelta(t, float64(found[0]), float64(found[1]), 1e-9)
	return float64(found[0])
}

func TestPublishedLegsAndNeutrals(t *testing.T) {
	used := map[string]bool{}
	count := 0
	for _, name := range []string{"power-legs.csv", "power-neutral.csv", "power-third.csv"} {
		for _, p := range puzzles(t, name) {
			id := p.row["id"] + ", " + p.row["name"]
			require.InDelta(t, p.want, p.computed(t), p.tol, id)
			fault, known := faults[p.row["excludes"]]
			require.True(t, known, "%s excludes %q, which no fault of the test commits", id, p.row["excludes"])
			require.Greater(t, math.Abs(fault(p)-p.want), p.tol, "%s does not tell the fault %q apart", id, p.row["excludes"])
			require.InDelta(t, p.want, p.plain(), p.tol, "%s: the formula that the faults are made from", id)
			used[p.row["excludes"]] = true
			count++
		}
	}
	require.Len(t, used, len(faults), "a fault is excluded by no row")
	require.GreaterOrEqual(t, count, 60)
}

func TestPublishedContinuousLoads(t *testing.T) {
	faults := map[string]func(breaker, factor float64) float64{
		"the breaker's whole rating": func(b, _ float64) float64 { return b },
		"125 % of the breaker":       func(b, _ float64) float64 { return 1.25 * b },
		"the factor taken twice":     func(b, f float64) float64 { return b * f * f },
		"80 % whatever the rig says": func(b, _ float64) float64 { return 0.8 * b },
	}
	rows := table(t, "power-continuous.csv")
	require.GreaterOrEqual(t, len(rows), 20)
	used := map[string]bool{}
	for _, row := range rows {
		breaker, factor := number(t, row["breaker_a"]), number(t, row["factor"])
		want, tol := number(t, row["expected_a"]), number(t, row["tolerance_a"])
		require.Greater(t, math.Abs(faults[row["excludes"]](breaker, factor)-want), tol, row["id"])
		used[row["excludes"]] = true
		for share, over := range map[float64]bool{1 - 1e-6: false, 1 + 1e-6: true} {
			r := one(breaker, factor, want*share*230)
			m := power.New(r)
			require.InDelta(t, want, float64(m.Conductors()[0].Limit), tol, row["id"])
			require.Equal(t, over, len(m.Over(power.State{Levels: []units.Level{1}})) > 0, "%s at %g of it", row["id"], share)
		}
	}
	require.Len(t, used, len(faults))
}

// one gives a rig with one panel on one circuit at 230 V.
func one(breaker, factor, watts float64) *rig.Rig {
	p := puzzle{supply: rig.Supply{Name: "S", System: rig.SinglePhase, LineNeutral: 230, Main: 1000, Neutral: 1000, Factor: 1}}
	p.loads = []entry{{legs: []int{0}, watts: watts, pf: 1}}
	r := p.rig()
	r.Circuits[0].Breaker, r.Circuits[0].Factor = units.Amps(breaker), units.Share(factor)
	return r
}

func TestFactsOfTheTrade(t *testing.T) {
	for _, row := range table(t, "power-trade.csv") {
		want, panels := number(t, row["expected_a"]), int(number(t, row["panels"]))
		legs := []int{0}
		p := puzzle{supply: rig.Supply{Name: "S", System: rig.SinglePhase, LineNeutral: 120, LineLine: 240, Main: 1000, Neutral: 1000, Factor: 1}}
		if row["system"] == "split-phase" {
			p.supply.System, legs = rig.SplitPhase, []int{0, 1}
		}
		p.loads = []entry{{legs: legs, watts: number(t, row["panel_w"]), pf: 1}}
		r := p.rig()
		for range panels - 1 {
			r.Outputs[0].Panels = append(r.Outputs[0].Panels, len(r.Panels))
			r.Circuits[0].Panels = append(r.Circuits[0].Panels, len(r.Panels))
			r.Panels = append(r.Panels, r.Panels[0])
		}
		r.Circuits[0].Breaker, r.Circuits[0].Factor = units.Amps(number(t, row["breaker_a"])), 0.8
		m, s := power.New(r), power.State{Levels: []units.Level{1}}
		require.InDelta(t, want, float64(m.WorstOf(0, s)), 1e-9, row["id"])
		require.Equal(t, row["passes"] == "yes", len(m.Over(s)) == 0, row["id"])
		switch row["excludes"] {
		case "the voltage ignored":
			other := number(t, row["panel_w"]) * float64(panels) / map[string]float64{"split-phase": 120, "single-phase": 240}[row["system"]]
			require.Greater(t, math.Abs(other-want), 1e-9, row["id"])
		case "100 % of the breaker":
			require.LessOrEqual(t, want, number(t, row["breaker_a"]), "%s: refused with and without the factor", row["id"])
			require.Equal(t, "no", row["passes"])
		default:
			require.Fail(t, "no such fault", row["excludes"])
		}
	}
}
