package plant_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// load is one circuit with one panel of that current on a pole or on two.
type load struct {
	poles []int
	amps  units.Amps
	third units.Share
	lag   units.Degrees
}

// stage makes a rig of one board by ways, so that pole 1 is L1, pole 2 is L2 and so on, with one circuit, panel and output a load; panels draw nothing at black and
// their amps at full white, and restart at full.
func stage(system rig.System, ln, ll units.Volts, loads ...load) *rig.Rig {
	r := &rig.Rig{
		Supply:  rig.Supply{Name: "S", System: system, LineNeutral: ln, LineLine: ll, Main: 400, Neutral: 400, Factor: 1},
		Boards:  []rig.Board{{Name: "A", Numbering: rig.ByWays, Poles: 12, Main: 400, Neutral: 400, Factor: 1}},
		Devices: []rig.Device{{Name: "p", Class: rig.Numbered, Steps: 100, Restart: 1, PacketLife: 50 * time.Millisecond, Settling: 20 * time.Millisecond}},
	}
	for i, l := range loads {
		v := ln
		if len(l.poles) == 2 {
			v = ll
		}
		r.PanelTypes = append(r.PanelTypes, rig.PanelType{
			White: units.Watts(float64(l.amps) * float64(v)), PF: 1, Third: l.third, Displacement: l.lag, DisplacementKnown: true, FeedThrough: 400,
		})
		r.Panels = append(r.Panels, rig.Panel{Type: i})
		r.Circuits = append(r.Circuits, rig.Circuit{Poles: l.poles, Breaker: 400, Factor: 1, HomeRun: 400, Jumper: 400, Panels: []int{i}})
		r.Outputs = append(r.Outputs, rig.Output{Panels: []int{i}})
	}
	return r
}

// named gives a conductor's current by kind and leg (from 0; -1 where it has none).
func named(t *testing.T, r *rig.Rig, p *plant.Plant, k rig.Kind, index int) float64 {
	t.Helper()
	now := p.True(nil)
	for i, c := range r.Conductors() {
		if c.Kind == k && (c.Leg == index || k == rig.CircuitWire && c.Circuit == index) {
			return float64(now[i])
		}
	}
	require.Fail(t, "no such conductor")
	return 0
}

func fresh(r *rig.Rig) *plant.Plant {
	return plant.New(r, plant.Habits{}, rand.New(rand.NewPCG(1, 1)))
}

// on puts an unlagging load on one pole, and across on two.
func on(pole int, amps units.Amps) load     { return load{poles: []int{pole}, amps: amps} }
func across(a, b int, amps units.Amps) load { return load{poles: []int{a, b}, amps: amps} }
func harmonic(pole int, amps units.Amps) load {
	return load{poles: []int{pole}, amps: amps, third: 0.3}
}

func TestTrueCurrentsByHand(t *testing.T) {
	root3 := math.Sqrt(3)
	rows := []struct {
		name         string
		system       rig.System
		loads        []load
		legs         []float64
		neutral      float64
		wrongFormula string
	}{
		{"three equal legs with 30 % third harmonic", rig.Wye, []load{harmonic(1, 10), harmonic(2, 10), harmonic(3, 10)}, []float64{10, 10, 10}, 9,
			"the fundamental alone: 0"},
		{"two of those legs: dimming one raised the neutral", rig.Wye, []load{harmonic(1, 10), harmonic(2, 10)}, []float64{10, 10, 0}, math.Sqrt(136),
			"the third alone: 6; the fundamental alone: 10"},
		{"unequal legs 10, 6, 0", rig.Wye, []load{on(1, 10), on(2, 6)}, []float64{10, 6, 0}, math.Sqrt(100 + 36 - 60), "the difference: 4"},
		{"three 14 A loads between lines", rig.Wye, []load{across(1, 2, 14), across(2, 3, 14), across(3, 1, 14)},
			[]float64{14 * root3, 14 * root3, 14 * root3}, 0, "the sum of both: 28"},
		{"the same with the poles the other way round", rig.Wye, []load{across(2, 1, 14), across(3, 2, 14), across(1, 3, 14)},
			[]float64{14 * root3, 14 * root3, 14 * root3}, 0, "a sign by order of poles"},
		{"one load between lines", rig.Wye, []load{across(1, 2, 14)}, []float64{14, 14, 0}, 0, "a load between lines that returns through the neutral"},
		{"L1 to neutral and L1 to L2", rig.Wye, []load{on(1, 10), across(1, 2, 10)}, []float64{10 * math.Sqrt(2+root3), 10, 0}, 10,
			"the sum: 20"},
		{"split phase, one side", rig.SplitPhase, []load{on(1, 200)}, []float64{200, 0}, 200, "half of it: 100"},
		{"split phase, both sides", rig.SplitPhase, []load{on(1, 200), on(2, 150)}, []float64{200, 150}, 50, "the sum: 350"},
		{"split phase, third harmonics of both sides cancel", rig.SplitPhase, []load{harmonic(1, 10), harmonic(2, 10)}, []float64{10, 10}, 0,
			"thirds of a wye: 6"},
		{"split phase, across both and one side", rig.SplitPhase, []load{across(1, 2, 20), on(2, 5)}, []float64{20, 25}, 5, "opposed on leg 2: 15"},
		{"single phase", rig.SinglePhase, []load{harmonic(1, 10), harmonic(2, 4)}, []float64{14}, 14, "a neutral with thirds twice"},
		{"leading and lagging on one leg", rig.Wye, []load{{[]int{1}, 10, 0, 60}, {[]int{1}, 10, 0, -60}}, []float64{10, 0, 0}, 10, "the sum: 20"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			r := stage(row.system, 120, 208, row.loads...)
			p := fresh(r)
			for leg, want := range row.legs {
				require.InDelta(t, want, named(t, r, p, rig.BoardLeg, leg), 1e-9, "leg %d, not %s", leg+1, row.wrongFormula)
				require.InDelta(t, want, named(t, r, p, rig.SupplyLeg, leg), 1e-9, "supply leg %d", leg+1)
			}
			require.InDelta(t, row.neutral, named(t, r, p, rig.BoardNeutral, -1), 1e-9, "neutral, not %s", row.wrongFormula)
			require.InDelta(t, row.neutral, named(t, r, p, rig.SupplyNeutral, -1), 1e-9, "supply neutral")
			for i, l := range row.loads {
				require.InDelta(t, float64(l.amps), named(t, r, p, rig.CircuitWire, i), 1e-9, "circuit %d", i)
			}
		})
	}
}

func TestPanelDrawsByItsStateAndPowerFactor(t *testing.T) {
	r := stage(rig.Wye, 120, 208, across(1, 2, 1))
	r.PanelTypes[0].Black, r.PanelTypes[0].White, r.PanelTypes[0].PF = 24, 158, 0.95
	p := fresh(r)
	require.InDelta(t, 158/(208*0.95), named(t, r, p, rig.CircuitWire, 0), 1e-12, "full white")
	p.Hand(0, 0, 0.5, false)
	require.InDelta(t, 91/(208*0.95), named(t, r, p, rig.CircuitWire, 0), 1e-12, "half")
	p.Hand(0, 0, 0.5, true)
	require.InDelta(t, 24/(208*0.95), named(t, r, p, rig.CircuitWire, 0), 1e-12, "black still draws")
	p.SetBreaker(0, 0, plant.Out)
	require.Zero(t, named(t, r, p, rig.CircuitWire, 0), "breaker open")
	require.Zero(t, p.State(0))
	p.Hand(0, 0, 0.5, false)
	require.Equal(t, units.Level(0.5), p.State(0), "what it holds does not hang on its feed")
	p.SetBreaker(0, 0, plant.In)
	require.InDelta(t, 91/(208*0.95), named(t, r, p, rig.CircuitWire, 0), 1e-12, "closed again")
}

func TestOtherLoads(t *testing.T) {
	rows := []struct {
		name    string
		legs    []int
		want    [3]float64
		neutral float64
	}{
		{"one leg", []int{1}, [3]float64{0, 10, 0}, math.Hypot(10, 3)},
		{"two legs", []int{0, 2}, [3]float64{10, 0, 10}, 0},
		{"three legs", []int{0, 1, 2}, [3]float64{10, 10, 10}, 9},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			r := stage(rig.Wye, 120, 208)
			r.Loads = []rig.OtherLoad{{Legs: row.legs, Current: 10, DisplacementKnown: true, PF: 1, Third: 0.3}}
			p := fresh(r)
			p.SetLoad(0, 0, 10)
			for leg, want := range row.want {
				require.InDelta(t, want, named(t, r, p, rig.BoardLeg, leg), 1e-9)
			}
			require.InDelta(t, row.neutral, named(t, r, p, rig.BoardNeutral, -1), 1e-9)
		})
	}
}

func TestBoardsAddUpAtTheSupply(t *testing.T) {
	r := stage(rig.Wye, 120, 208, on(1, 10), on(2, 10))
	r.Boards = append(r.Boards, r.Boards[0])
	r.Circuits[1].Board = 1
	p := fresh(r)
	require.InDelta(t, 10, named(t, r, p, rig.SupplyLeg, 0), 1e-9)
	require.InDelta(t, 10, named(t, r, p, rig.SupplyLeg, 1), 1e-9)
	require.InDelta(t, 10, named(t, r, p, rig.SupplyNeutral, -1), 1e-9, "two neutrals of 10 A at 120 degrees make 10 A")
}

func TestUnknownDisplacementStaysWithinThePowerFactor(t *testing.T) {
	atEnd, between := 0, 0
	for seed := range uint64(200) {
		r := stage(rig.Wye, 120, 208, on(1, 10), on(1, 10))
		r.PanelTypes[1].PF, r.PanelTypes[1].DisplacementKnown, r.PanelTypes[1].White = 0.5, false, 600
		p := plant.New(r, plant.Habits{}, rand.New(rand.NewPCG(seed, 1)))
		got := named(t, r, p, rig.BoardLeg, 0)
		require.GreaterOrEqual(t, got, 10*math.Sqrt(3)-1e-9, "at most arccos 0.5 = 60 degrees apart")
		require.LessOrEqual(t, got, 20+1e-9)
		if got < 10*math.Sqrt(3)+1e-9 {
			atEnd++
		} else {
			between++
		}
	}
	require.Greater(t, atEnd, 50, "the ends are drawn often")
	require.Greater(t, between, 50)
}

func TestWouldLooksAtAnotherStateAndChangesNothing(t *testing.T) {
	r := stage(rig.Wye, 120, 208, on(1, 10), on(1, 20))
	r.Loads = []rig.OtherLoad{{Legs: []int{0}, Current: 5, DisplacementKnown: true, PF: 1}}
	p := fresh(r)
	p.SetLoad(0, 0, 1)
	p.SetBreaker(0, 1, plant.Out)
	before := p.True(nil)
	would := p.Would(nil, []units.Level{0.5, 0.25})
	require.InDelta(t, 5, float64(would[0]), 1e-9)
	require.InDelta(t, 5, float64(would[1]), 1e-9, "its breaker closed")
	require.InDelta(t, 15, float64(would[2]), 1e-9, "the leg, with the other load at its maximum")
	require.Equal(t, before, p.True(nil))
}
