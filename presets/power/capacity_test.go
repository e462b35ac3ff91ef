package power_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/cable"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// TestDemandAgainstASumOverPanels adds up watts and volt-amperes panel by panel and load by load. Real power is their sum; apparent power is never below it,
// nor above the sum of all volt-amperes and what a line-to-line load asks of two legs.
func TestDemandAgainstASumOverPanels(t *testing.T) {
	for seed := range uint64(200) {
		r := rigtest.Random(rand.New(rand.NewPCG(seed, 21)), 1+int(seed%8))
		level := units.Level(seed%5) / 4
		s := allAt(r, level)
		s.LockedOff = make([]bool, len(r.Circuits))
		s.LockedOff[0] = seed%2 == 0
		var watts, va float64
		for i, c := range r.Circuits {
			for _, p := range c.Panels {
				k := r.PanelTypes[r.Panels[p].Type]
				if w := float64(k.Black + units.Watts(level)*(k.White-k.Black)); !s.LockedOff[i] {
					watts, va = watts+w, va+w/float64(k.PF)
				}
			}
		}
		for _, l := range r.Loads {
			middle := float64(r.Supply.LineNeutral) // of two rounded figures, 230/400, the larger reading
			if r.Supply.System == rig.Wye {
				middle = max(middle, float64(r.Supply.LineLine)/math.Sqrt(3))
			}
			v := map[int]float64{1: middle, 2: float64(r.Supply.LineLine), 3: 3 * middle}[len(l.Legs)]
			watts, va = watts+v*float64(l.Current)*float64(l.PF), va+v*float64(l.Current)
		}
		d := power.New(r).Demand(s)
		require.InDelta(t, watts, float64(d.Real), 1e-6*watts, "seed %d", seed)
		require.GreaterOrEqual(t, float64(d.Apparent), float64(d.Real)-1e-6, "seed %d", seed)
		require.LessOrEqual(t, float64(d.Apparent), va*1.16, "seed %d", seed)
	}
}

// TestDemandCountsWhatIsLost holds the real power against what Flow finds arriving: with long runs more goes in than the panels take.
func TestDemandCountsWhatIsLost(t *testing.T) {
	r := chained(10, rig.PanelType{Black: 20, White: 180, PF: 1, DisplacementKnown: true, FeedThrough: 100}, 20, rig.CurveC)
	s := allAt(r, 1)
	require.InDelta(t, 1800, float64(power.New(r).Demand(s).Real), 1e-9)
	size, _ := cable.ParseSize("12 AWG")
	r.Cables = []rig.Cable{{Name: "c", Size: size, Stranding: cable.Stranded, At: 75, Rating: 25, Ambient: 1, Grouping: 1}}
	r.Circuits[0].Home = &rig.Run{Length: 60}
	m, flow := power.New(r), new(power.Flow)
	m.Flow(s, flow)
	given := 230 * float64(flow.Amps[0]) // all of it is in step
	require.Greater(t, given, 1801.0)
	require.InDelta(t, given, float64(m.Demand(s).Real), 0.5)
}

func TestStepOfAFade(t *testing.T) {
	for _, c := range []struct {
		name         string
		fade, settle time.Duration
		want         units.Watts
	}{
		{"no fade", 0, 10 * time.Second, 60000},
		{"a fade as long as the settling", 10 * time.Second, 10 * time.Second, 60000},
		{"twice as long", 20 * time.Second, 10 * time.Second, 30000},
		{"five times", 50 * time.Second, 10 * time.Second, 12000},
		{"no settling time is known", 50 * time.Second, 0, 60000},
	} {
		require.InDelta(t, float64(c.want), float64(power.StepOf(60000, c.fade, c.settle)), 1e-6, c.name)
	}
}

// TestStepOfAFadeAgainstSlices adds up what every window of a fade brings, slice by slice.
func TestStepOfAFadeAgainstSlices(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 100 {
		fade, settle := 1+rng.IntN(60), 1+rng.IntN(60)
		most := 0.0
		for from := range fade {
			most = max(most, float64(min(settle, fade-from))*900/float64(fade))
		}
		require.InDelta(t, most, float64(power.StepOf(900, time.Duration(fade)*time.Second, time.Duration(settle)*time.Second)), 1e-9)
	}
}

func TestRiseIsFromBlack(t *testing.T) {
	r := chained(10, rig.PanelType{Black: 20, White: 180, PF: 0.9, DisplacementKnown: true, FeedThrough: 100}, 20, rig.CurveC)
	require.InDelta(t, 10*160*0.5, float64(power.New(r).Rise(allAt(r, 0.5))), 1e-9)
	require.Zero(t, power.New(r).Rise(allAt(r, 0)))
}
