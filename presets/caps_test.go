package presets_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// TestCapsOfTheBench works the chain of limits out by hand: 16 panels of 1.2 A on 16 A pass up to 83.3 %; with these breakers away, 38.4 A pass the main's 36 A up to
// 93.7 %; with that away nothing stops them.
func TestCapsOfTheBench(t *testing.T) {
	r := bench()
	r.PanelTypes[0].White = 120
	r.Boards[0].Main = 36
	p := presets.NewPlan(r, nil)
	c := presets.CapsOf(p, full(), presets.Conditions{})
	named := func(is []int) []string {
		var names []string
		for _, i := range is {
			names = append(names, p.Power.Conductors()[i].Kind.String()+" "+p.Power.Conductors()[i].Name)
		}
		return names
	}
	require.Equal(t, units.Share(0.833), c.Scale)
	require.Equal(t, []string{"circuit A1", "circuit A2"}, named(c.Binding))
	require.Len(t, c.Relief, 2)
	require.Equal(t, units.Share(0.937), c.Relief[0].Scale)
	require.Equal(t, []string{"leg A L1"}, named(c.Relief[0].Then))
	require.Equal(t, units.Share(1), c.Relief[1].Scale)
	require.Empty(t, c.Relief[1].Then)
	require.Len(t, c.Zones, 2)
	require.True(t, c.Zones[0].None, "whatever the first does, the second is over")

	preset := full()
	preset.Zones[0].Level, preset.Zones[1].Level = 0.5, 0.5
	c = presets.CapsOf(p, preset, presets.Conditions{})
	require.InDelta(t, 0.833, float64(c.Zones[0].Cap), 1e-9)
	require.InDelta(t, 833, float64(c.Zones[0].Nits), 1e-6)
	require.InDelta(t, 0.736, float64(c.Zones[0].Stops), 0.001)
	require.Equal(t, "A1", p.Power.Conductors()[c.Zones[0].Binding].Name)
}

// TestCapsAgreeWithASlowSearch scans every step from the top down, for each zone and for the whole, on plants with cables and without.
func TestCapsAgreeWithASlowSearch(t *testing.T) {
	bound, free := 0, 0
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 31))
		r := rigtest.Random(rng, 1+rng.IntN(8))
		for i := range r.Devices {
			r.Devices[i].Steps, r.Devices[i].Restart = 40, 0
		}
		preset := &presets.Preset{Number: 1, Name: "look"}
		for z := range r.Zones {
			l := units.Level(1+rng.IntN(20)) / 20
			preset.Zones = append(preset.Zones, presets.ZoneLevel{Zone: z, Level: l, Cap: l})
		}
		p := presets.NewPlan(r, nil)
		got := presets.CapsOf(p, preset, presets.Conditions{})
		for k, z := range preset.Zones {
			want, ok := scanZone(p, r, preset, z.Zone)
			require.Equal(t, !ok, got.Zones[k].None, "seed %d", seed)
			require.InDelta(t, float64(want), float64(got.Zones[k].Cap), 1e-9, "seed %d zone %d", seed, z.Zone)
		}
		verdict := presets.Check(p, preset, presets.Conditions{})
		require.Equal(t, verdict.Cap, got.Scale, "seed %d", seed)
		if len(got.Binding) > 0 {
			bound++
			require.Contains(t, got.Binding, verdict.Binding)
		} else {
			free++
		}
		for i, relief := range got.Relief {
			lifted := lift(r, p, got.Relief[:i+1])
			require.GreaterOrEqual(t, relief.Scale, got.Scale)
			if lifted != nil {
				require.Equal(t, presets.CapsOf(presets.NewPlan(lifted, nil), preset, presets.Conditions{}).Scale, relief.Scale, "seed %d", seed)
			}
		}
	}
	t.Logf("bound %d, free %d", bound, free)
	require.Greater(t, bound, 50)
	require.Greater(t, free, 20)
}

// scanZone is the slow way to a zone's cap.
func scanZone(p *presets.Plan, r *rig.Rig, preset *presets.Preset, zone int) (units.Level, bool) {
	for k := 40; k >= 0; k-- {
		levels := make([]units.Level, len(r.Outputs))
		for _, z := range preset.Zones {
			for _, o := range r.Zones[z.Zone].Outputs {
				levels[o] = z.Level.Down(40)
			}
		}
		for _, o := range r.Zones[zone].Outputs {
			levels[o] = units.Level(k) / 40
		}
		if len(p.Power.Over(power.State{Levels: levels})) == 0 {
			return units.Level(k) / 40, true
		}
	}
	return 0, false
}

// lift gives the rig with the breakers away that a chain of reliefs names; nil where it names anything but breakers, which share their figures with others.
func lift(r *rig.Rig, p *presets.Plan, reliefs []presets.Relief) *rig.Rig {
	c := *r
	c.Circuits = append([]rig.Circuit(nil), r.Circuits...)
	for _, relief := range reliefs {
		for _, i := range relief.Without {
			cond := p.Power.Conductors()[i]
			if cond.Kind != rig.CircuitWire {
				return nil
			}
			c.Circuits[cond.Circuit].Breaker, c.Circuits[cond.Circuit].HomeRun, c.Circuits[cond.Circuit].Jumper = 1e6, 1e6, 1e6
		}
	}
	for i := range c.PanelTypes {
		if c.PanelTypes[i].FeedThrough < 1e6 {
			types := append([]rig.PanelType(nil), c.PanelTypes...)
			types[i].FeedThrough = 1e6
			c.PanelTypes = types
		}
	}
	return &c
}
