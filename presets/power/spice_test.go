package power_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/power/netlist"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// simulate runs ngspice and reads what it prints.
func simulate(t *testing.T, text string) map[string]float64 {
	file := t.TempDir() + "/plant.cir"
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	out, err := exec.Command("ngspice", "-b", file).CombinedOutput()
	require.NoError(t, err, string(out))
	got := map[string]float64{}
	for _, m := range regexp.MustCompile(`(?m)^([iv]\([a-z0-9,]+\)) = (\S+)`).FindAllStringSubmatch(string(out), -1) {
		v, err := strconv.ParseFloat(m[2], 64)
		require.NoError(t, err)
		got[m[1]] = v
	}
	require.NotEmpty(t, got, string(out))
	return got
}

// magnitude gives the absolute value of a phasor that was asked for by its real part's name.
func magnitude(t *testing.T, got map[string]float64, p netlist.Phasor) float64 {
	a, ok1 := got[p.Re]
	b, ok2 := got[p.Im]
	require.True(t, ok1 && ok2, "%s %s", p.Re, p.Im)
	return math.Hypot(a, b)
}

// longChains gives a random plant with chains of 1 to 40 panels that its supply can bear, all its cables laid.
func longChains(rng *rand.Rand) *rig.Rig {
	r := rigtest.RandomWired(rng, 2+rng.IntN(5))
	for i := range r.PanelTypes {
		t := &r.PanelTypes[i]
		t.Black, t.White, t.Third = units.Watts(rng.IntN(25)), units.Watts(50+rng.IntN(60)), 0
	}
	for i := range r.Loads {
		r.Loads[i].Third = 0
	}
	r.Panels = nil
	for i := range r.Circuits {
		c := &r.Circuits[i]
		most := int(18 * float64(r.Supply.Volts(len(c.Poles))) / 110)
		c.Panels = nil
		for range 1 + rng.IntN(min(40, most)) {
			c.Panels = append(c.Panels, len(r.Panels))
			r.Panels = append(r.Panels, rig.Panel{Column: i + 1, Row: len(c.Panels), Type: rng.IntN(len(r.PanelTypes))})
		}
		c.Home = &rig.Run{Cable: rng.IntN(2), Length: units.Metres(1 + 25*rng.Float64())}
		c.Link = &rig.Run{Cable: rng.IntN(2), Length: units.Metres(0.2 + 1.5*rng.Float64())}
	}
	for b := range r.Boards {
		if rng.IntN(4) > 0 {
			r.Boards[b].Feeder = &rig.Run{Cable: 4, Length: units.Metres(40 * rng.Float64()), Sets: 1 + rng.IntN(2)}
		}
	}
	r.Outputs = []rig.Output{{Name: "all", Panels: span(0, len(r.Panels))}}
	return r
}

// TestNgspiceAgrees holds currents and voltages of whole plants, constant power and all, to ngspice's: within 0.1 %, as was asked, and in fact far closer.
func TestNgspiceAgrees(t *testing.T) {
	if _, err := exec.LookPath("ngspice"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("ngspice is missing, and CI is set")
		}
		t.Skip("ngspice is missing: the second opinion is not asked for")
	}
	seen := map[rig.System]int{}
	longest, off := 0, 0.0
	for seed := range uint64(32) {
		rng := rand.New(rand.NewPCG(seed, 99))
		r := longChains(rng)
		seen[r.Supply.System]++
		s := power.State{Levels: []units.Level{units.Level(rng.Float64())}, LockedOff: make([]bool, len(r.Circuits))}
		s.LockedOff[rng.IntN(len(r.Circuits))] = rng.IntN(3) == 0
		got := simulate(t, netlist.Write(r, s))
		var f power.Flow
		m := power.New(r)
		m.Flow(s, &f)
		require.Empty(t, f.Collapsed, "seed %d", seed)
		same := func(want float64, is float64, what string) {
			off = max(off, math.Abs(is-want)/max(math.Abs(want), 0.1))
			require.InDelta(t, want, is, max(0.001*math.Abs(want), 1e-4), "seed %d, %s", seed, what)
		}
		for i, c := range r.Circuits {
			if s.LockedOff[i] {
				continue
			}
			longest = max(longest, len(c.Panels))
			for k, p := range c.Panels {
				at := fmt.Sprintf("%s panel %d", c.Name, k+1)
				same(magnitude(t, got, netlist.Circuit(i, k)), float64(f.Panel[p].In), at+" in")
				same(magnitude(t, got, netlist.Across(r, i, k)), float64(f.Panel[p].Volts), at+" volts")
			}
		}
		for i, c := range m.Conductors() {
			var at netlist.Phasor
			switch c.Kind {
			case rig.CircuitWire, rig.CableWire:
				if s.LockedOff[c.Circuit] {
					continue
				}
				at = netlist.Circuit(c.Circuit, 0)
			case rig.BoardLeg, rig.FeederWire:
				at = netlist.Leg(c.Board, c.Leg)
			case rig.BoardNeutral:
				at = netlist.Neutral(c.Board)
			default:
				continue // the supply's are the sums of what its boards' feeders carry
			}
			same(magnitude(t, got, at), float64(f.Amps[i]), c.Kind.String()+" "+c.Name)
		}
	}
	t.Logf("systems %v, longest chain %d panels, furthest apart %.2g %%", seen, longest, 100*off)
	for _, system := range []rig.System{rig.SinglePhase, rig.SplitPhase, rig.Wye, rig.Delta} {
		require.Greater(t, seen[system], 2, "%v", system)
	}
	require.Greater(t, longest, 35)
}
