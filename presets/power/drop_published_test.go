package power_test

import (
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/cable"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// ohmic gives a cable and the length of it that has a resistance there and back, from the published tables. Its reactance, 0.4 % of that, does not show at unity power factor.
func ohmic(loop float64) (rig.Cable, units.Metres) {
	size, _ := cable.ParseSize("1 mm²")
	c := rig.Cable{Name: "c", Size: size, Stranding: cable.Class2, At: 20, Rating: 1, Ambient: 1, Grouping: 1}
	r, _ := cable.Resistance(size, cable.Class2, 20)
	return c, units.Metres(loop / 2 / float64(r))
}

// tapped gives a line with taps of constant current: each tap is a load on a board of its own, and the line is their feeders. The published examples are of constant
// currents, which panels are not.
func tapped(volts units.Volts, loops []float64, taps []float64) *rig.Rig {
	r := &rig.Rig{Supply: rig.Supply{Name: "s", System: rig.SinglePhase, LineNeutral: volts, Main: 1e9, Neutral: 1e9, Factor: 1}}
	for i := range taps {
		c, length := ohmic(loops[i])
		r.Cables = []rig.Cable{c}
		r.Boards = append(r.Boards, rig.Board{Name: strconv.Itoa(i), Poles: 2, Main: 1e9, Neutral: 1e9, Factor: 1, From: i, Feeder: &rig.Run{Length: length}})
		r.Loads = append(r.Loads, rig.OtherLoad{Board: i, Legs: []int{0}, Current: units.Amps(taps[i]), PF: 1, DisplacementKnown: true})
	}
	return r
}

func numbers(t *testing.T, words string) []float64 {
	var out []float64
	for _, w := range strings.Fields(words) {
		v, err := strconv.ParseFloat(w, 64)
		require.NoError(t, err)
		out = append(out, v)
	}
	return out
}

// TestPublishedDropsAlongALine solves the handbooks' lines with several taps. Where a row names fewer voltages than taps, they are the last ones.
func TestPublishedDropsAlongALine(t *testing.T) {
	for _, row := range table(t, "drop-chain.csv") {
		loops, taps := numbers(t, row["loop_ohms"]), numbers(t, row["taps_a"])
		expected, tolerance := numbers(t, row["expected_v"]), numbers(t, row["tolerance_v"])[0]
		var f power.Flow
		power.New(tapped(units.Volts(numbers(t, row["volts"])[0]), loops, taps)).Flow(power.State{}, &f)
		first := len(taps) - len(expected)
		for i, want := range expected {
			require.InDelta(t, want, float64(f.BoardVolts(first+i, 0)), tolerance, "%s at tap %d", row["id"], first+i+1)
		}
		_, wrong, ok := strings.Cut(row["excludes"], ": ")
		require.True(t, ok, row["id"])
		if w := numbers(t, wrong)[0]; w != expected[len(expected)-1] {
			require.Greater(t, max(w-expected[len(expected)-1], expected[len(expected)-1]-w), tolerance, "%s would pass with what it excludes", row["id"])
		}
	}
}

// TestPublishedFeederAndBranch is example 2 of figure G30 of the Electrical Installation Guide (Schneider, 2008, chapter G, p. 215; read): 150 A balanced over 50 m of a
// feeder of 0.55 V/A/km lose 4.125 V between legs, which is 2.38 V to neutral; 20 A over 20 m of 18 V/A/km lose 7.2 V; together 9.6 V of 230 V, 4.2 %. A sum that does not
// turn the one into the other first comes to 11.3 V.
func TestPublishedFeederAndBranch(t *testing.T) {
	c, feeder := ohmic(2 * 2.3816 / 150)
	_, branch := ohmic(7.2 / 20)
	r := &rig.Rig{
		Supply: rig.Supply{Name: "s", System: rig.Wye, LineNeutral: 230, LineLine: 398.37, Main: 1e9, Neutral: 1e9, Factor: 1},
		Cables: []rig.Cable{c},
		Boards: []rig.Board{
			{Name: "A", Poles: 12, Main: 1e9, Neutral: 1e9, Factor: 1, Feeder: &rig.Run{Length: feeder}},
			{Name: "B", Poles: 12, Main: 1e9, Neutral: 1e9, Factor: 1, From: 1, Feeder: &rig.Run{Length: branch}},
		},
	}
	for _, l := range []rig.OtherLoad{{Board: 1, Legs: []int{0}, Current: 20}, {Legs: []int{0}, Current: 130}, {Legs: []int{1}, Current: 150}, {Legs: []int{2}, Current: 150}} {
		l.PF, l.DisplacementKnown = 1, true
		r.Loads = append(r.Loads, l)
	}
	var f power.Flow
	power.New(r).Flow(power.State{}, &f)
	require.InDelta(t, 2.38, 230-float64(f.BoardVolts(0, 0)), 0.02)
	require.InDelta(t, 9.6, 230-float64(f.BoardVolts(1, 0)), 0.05)
}

// TestTheMostThatALineBrings holds collapse to the maximum power theorem: a source of 100 V behind 2.5 ohms brings a load of unity power factor 100²/(4 × 2.5) = 1000 W
// at half the voltage, and no more.
func TestTheMostThatALineBrings(t *testing.T) {
	for _, row := range []struct {
		watts    units.Watts
		collapse bool
		volts    float64
	}{{900, false, 65.8}, {999, false, 51.6}, {1001, true, 0}, {1500, true, 0}} {
		c, length := ohmic(2.5)
		r := tapped(100, nil, nil)
		r.Cables = []rig.Cable{c}
		r.Boards = []rig.Board{{Name: "A", Poles: 12, Main: 1e9, Neutral: 1e9, Factor: 1}}
		r.PanelTypes = []rig.PanelType{{White: row.watts, PF: 1, DisplacementKnown: true}}
		r.Panels = []rig.Panel{{}}
		r.Circuits = []rig.Circuit{{Name: "A1", Poles: []int{1}, Breaker: 100, Factor: 1, HomeRun: 100, Panels: []int{0}, Home: &rig.Run{Length: length}}}
		m := power.New(r)
		var f power.Flow
		m.Flow(power.State{}, &f)
		require.Equal(t, row.collapse, len(f.Collapsed) == 1, "%v", row.watts)
		require.Equal(t, row.collapse, m.Fragile(), "%v", row.watts)
		if !row.collapse {
			// V = (100 + √(100² − 4 × 2.5 × P)) / 2
			require.InDelta(t, row.volts, float64(f.Panel[0].Volts), 0.1, "%v", row.watts)
		}
	}
}
